import type { RotationInstance } from '../instance.ts';

/**
 * An instance counted in slots and without names, as the bounds need it. Every simplification here only widens what is allowed
 * (rooms become one pool of positions, people of one duty a number), so that a bound for it is a bound for the instance.
 */
export interface Slotted {
  /** Slots of the horizon. */
  horizon: number;
  donning: number;
  doffing: number;
  turnover: number;
  postCheck: number;
  rest: number;
  handover: number;
  /** Ascending, without repeats. */
  stays: number[];
  longestStay: number;
  positions: number;
  lanes: number;
  observers: number;
  breakSlots: number;
  periodSlots: number;
  periods: number;
  minutesMax: number;
  entriesMax: number;
  people: Person[];
  duties: Duty[];
  ongoing: Ongoing[];
  weights: RotationInstance['weights'];
}

export interface Person {
  /** First slot in which donning may start. */
  from: number;
  /** End of the duty; Infinity without one. */
  to: number;
  slotsBefore: number;
  entriesBefore: number;
  /** Index into `ongoing`, for somebody inside at minute 0. */
  ongoing: number | undefined;
}

/** People with equal duties. When there are too many kinds, neighbours are put together: the duty of all is then the widest. */
export interface Duty {
  from: number;
  to: number;
  people: Person[];
}

export interface Ongoing {
  room: string;
  since: number;
  duty: number;
  slotsBefore: number;
  entriesBefore: number;
  /** Leaving happens in a slot from `exitMin` to `exitMax`; after `exitDue` it is an overrun that earlier relief would have spared. */
  exitMin: number;
  exitMax: number;
  exitDue: number;
}

export const dutiesMax = 8;

export function slottedOf(instance: RotationInstance): Slotted {
  const { slotMinutes: slot, durations } = instance;
  const stays = [...new Set(instance.insideMinutesAllowed)].sort((a, b) => a - b).map((minutes) => minutes / slot);
  const longestStay = stays.at(-1)!;
  const people = instance.workers.map((worker) => personOf(instance, worker));
  const duties = dutiesOf(people);
  return {
    horizon: instance.horizonMinutes / slot,
    donning: durations.donning / slot,
    doffing: durations.doffing / slot,
    turnover: durations.turnover / slot,
    postCheck: durations.postCheck / slot,
    rest: durations.rest / slot,
    handover: durations.handover / slot,
    stays,
    longestStay,
    positions: instance.rooms.reduce((sum, room) => sum + room.staffInside, 0),
    lanes: instance.lanes,
    observers: instance.observers,
    breakSlots: instance.observerBreak.minutes / slot,
    periodSlots: instance.observerBreak.everyMinutes / slot,
    periods: Math.floor(instance.horizonMinutes / instance.observerBreak.everyMinutes),
    minutesMax: instance.perPerson.maxMinutesInEquipment / slot,
    entriesMax: instance.perPerson.maxEntries,
    people,
    duties,
    ongoing: ongoingOf(instance, people, duties, longestStay),
    weights: instance.weights,
  };
}

/** Somebody inside is busy from minute 0, whatever duty and earlier work say; that only widens what is allowed. */
function personOf(instance: RotationInstance, worker: RotationInstance['workers'][number]): Person {
  const slot = instance.slotMinutes;
  const index = instance.inside.findIndex((one) => one.worker === worker.id);
  return {
    from: index >= 0 ? 0 : Math.max(0, worker.onDutyFromMinute, worker.busyUntilMinute) / slot,
    to: worker.onDutyToMinute === null ? Infinity : worker.onDutyToMinute / slot,
    slotsBefore: worker.minutesInEquipmentSoFar / slot,
    entriesBefore: worker.entriesSoFar,
    ongoing: index >= 0 ? index : undefined,
  };
}

function ongoingOf(instance: RotationInstance, people: Person[], duties: Duty[], longestStay: number): Ongoing[] {
  const slot = instance.slotMinutes;
  const { donning, handover, doffing, postCheck, rest } = instance.durations;
  const relief = reliefSlot({
    people,
    ...{ donning: donning / slot, handover: handover / slot },
    ...{ doffing: doffing / slot, postCheck: postCheck / slot, rest: rest / slot },
  });
  return instance.inside.map(({ room, sinceMinute }, index) => {
    const person = people.find(({ ongoing }) => ongoing === index)!;
    const since = sinceMinute / slot;
    const out = person.to - (doffing + postCheck) / slot;
    const exitMax = Math.min(since + longestStay + instance.maxOverrunMinutes / slot, out);
    return {
      room,
      since,
      duty: duties.findIndex((duty) => duty.people.includes(person)),
      slotsBefore: person.slotsBefore,
      entriesBefore: person.entriesBefore,
      exitMin: 1,
      exitMax,
      exitDue: Math.min(exitMax, Math.max(1, since + longestStay, relief)),
    };
  });
}

type ReliefParts = Pick<Slotted, 'people' | 'donning' | 'handover' | 'doffing' | 'postCheck' | 'rest'>;

/** The first slot in which a new entry can be covering; whoever is inside now has to be out and rested before. */
export function reliefSlot({ people, donning, handover, doffing, postCheck, rest }: ReliefParts): number {
  const again = 1 + doffing + postCheck + rest;
  const ready = people.map(({ from, ongoing }) => (ongoing === undefined ? from : again));
  return Math.min(...ready) + donning + handover;
}

/** Overrun that no plan can spare, because somebody has been inside for so long or nobody can relieve them earlier. */
export function overrunSlotsForced({ ongoing, longestStay }: Slotted): number {
  return ongoing.reduce((sum, { since, exitDue }) => sum + Math.max(0, exitDue - since - longestStay), 0);
}

function dutiesOf(people: readonly Person[]): Duty[] {
  const byKind = new Map<string, Duty>();
  for (const person of people) {
    const kind = `${person.from}/${person.to}`;
    const duty = byKind.get(kind) ?? { from: person.from, to: person.to, people: [] };
    duty.people.push(person);
    byKind.set(kind, duty);
  }
  const duties = [...byKind.values()].sort((a, b) => a.from - b.from || a.to - b.to);
  while (duties.length > dutiesMax) mergeNearest(duties);
  return duties;
}

function mergeNearest(duties: Duty[]): void {
  const end = (duty: Duty): number => Math.min(duty.to, 10_000);
  let nearest = 0;
  let distanceMin = Infinity;
  for (let index = 0; index + 1 < duties.length; index += 1) {
    const [one, other] = [duties[index]!, duties[index + 1]!];
    const distance = other.from - one.from + Math.abs(end(other) - end(one));
    if (distance < distanceMin) [nearest, distanceMin] = [index, distance];
  }
  const [one, other] = [duties[nearest]!, duties[nearest + 1]!];
  duties.splice(nearest, 2, {
    from: one.from,
    to: Math.max(one.to, other.to),
    people: [...one.people, ...other.people],
  });
}

/** How many of a duty may be busy in a slot: those who have come, until they have rested after the end of their duty. */
export function onDutyCount(duty: Duty, slot: number, rest: number): number {
  return duty.people.filter(({ from, to }) => from <= slot && slot < to + rest).length;
}
