import type { Person, Slotted } from './slotted.ts';

/** Summed over people. */
export const total = (people: readonly Person[], of: (person: Person) => number): number =>
  people.reduce((sum, person) => sum + of(person), 0);

export interface Kind {
  count: number;
  slotsBefore: number;
  entriesBefore: number;
}

const kindsMax = 12;

/** People not inside now, by what they did before; too many kinds become one of whoever did least, which only allows more. */
export function kindsOf(people: readonly Person[]): Kind[] {
  const kinds = new Map<string, Kind>();
  for (const { ongoing, slotsBefore, entriesBefore } of people) {
    if (ongoing !== undefined) continue;
    const key = `${slotsBefore}/${entriesBefore}`;
    const kind = kinds.get(key) ?? { count: 0, slotsBefore, entriesBefore };
    kind.count += 1;
    kinds.set(key, kind);
  }
  const all = [...kinds.values()];
  if (all.length <= kindsMax) return all;
  return [
    {
      count: all.reduce((sum, { count }) => sum + count, 0),
      slotsBefore: Math.min(...all.map(({ slotsBefore }) => slotsBefore)),
      entriesBefore: Math.min(...all.map(({ entriesBefore }) => entriesBefore)),
    },
  ];
}

/** What each allowed stay that covers anything means in equipment, doffing included. */
export const wearsOf = ({ stays, handover, doffing }: Slotted): number[] =>
  stays.filter((stay) => stay > handover).map((stay) => stay + doffing);

/** The most slots in equipment that so many entries add up to without going beyond a limit. */
export function mostCarried(wears: readonly number[], times: number, limit: number): number {
  let sums = new Set([0]);
  for (let time = 0; time < times; time += 1)
    sums = new Set([...sums].flatMap((sum) => wears.map((wear) => sum + wear).filter((next) => next <= limit)));
  return Math.max(0, ...sums);
}

/** The most entries somebody can still make with so many slots left. */
export function timesMax(
  { stays, handover, doffing, entriesMax }: Slotted,
  slotsLeft: number,
  entriesBefore: number,
): number {
  const shortest = (stays.find((stay) => stay > handover) ?? stays.at(-1)!) + doffing;
  return Math.max(0, Math.min(entriesMax - entriesBefore, Math.floor(slotsLeft / shortest)));
}
