import type { RotationInstance } from '../../server/rotation/instance.ts';
import { seededChance, type Chance } from '../../server/seeded-chance.ts';

/** Equal seeds give equal instances. Everybody already inside can leave in turn, so that at least one plan keeps every rule. */
export interface RandomInstanceOptions {
  seed: number;
  /** Tiny ones can be solved by trying everything. */
  size: 'tiny' | 'small' | 'large';
}

interface Sizes {
  horizonSlots: readonly [number, number];
  positions: readonly [number, number];
  workers: readonly [number, number];
  lanes: readonly [number, number];
  observers: readonly [number, number];
}

const sizes: Readonly<Record<RandomInstanceOptions['size'], Sizes>> = {
  tiny: { horizonSlots: [3, 7], positions: [1, 2], workers: [1, 3], lanes: [1, 2], observers: [1, 3] },
  small: { horizonSlots: [12, 60], positions: [1, 3], workers: [2, 12], lanes: [1, 3], observers: [1, 6] },
  large: { horizonSlots: [72, 180], positions: [1, 5], workers: [6, 40], lanes: [1, 4], observers: [2, 10] },
};

export function randomInstance({ seed, size }: RandomInstanceOptions): RotationInstance {
  const random = seededChance(seed);
  const between = (span: readonly [number, number]): number => integer(random, span[0], span[1]);
  const chosen = sizes[size];
  const slotMinutes = pick(random, [5, 10, 15]);
  const horizonSlots = between(chosen.horizonSlots);
  const slots = (from: number, to: number): number => integer(random, from, to) * slotMinutes;
  const isTiny = size === 'tiny';
  const instance: RotationInstance = {
    name: `random ${size} ${seed}`,
    slotMinutes,
    horizonMinutes: horizonSlots * slotMinutes,
    durations: {
      donning: slots(isTiny ? 0 : 1, isTiny ? 1 : 4),
      doffing: slots(1, isTiny ? 1 : 5),
      turnover: slots(0, isTiny ? 1 : 2),
      postCheck: slots(0, isTiny ? 1 : 2),
      rest: slots(0, isTiny ? 2 : 12),
      handover: slots(0, isTiny ? 1 : 2),
    },
    insideMinutesAllowed: stays(random, isTiny).map((stay) => stay * slotMinutes),
    maxOverrunMinutes: slots(0, isTiny ? 2 : 12),
    perPerson: { maxMinutesInEquipment: slots(isTiny ? 6 : 30, isTiny ? 12 : 90), maxEntries: integer(random, 1, 4) },
    rooms: rooms(random, between(chosen.positions)),
    workers: [],
    lanes: between(chosen.lanes),
    observers: between(chosen.observers),
    observerBreak: { minutes: slots(0, isTiny ? 1 : 6), everyMinutes: slots(isTiny ? 3 : 24, isTiny ? 6 : 48) },
    inside: [],
    weights: weights(random),
  };
  instance.workers = workers(random, instance, between(chosen.workers));
  instance.inside = inside(random, instance);
  return instance;
}

const integer = (random: Chance, from: number, to: number): number => from + Math.floor(random() * (to - from + 1));
const pick = <One>(random: Chance, ones: readonly One[]): One => ones[integer(random, 0, ones.length - 1)]!;

function stays(random: Chance, isTiny: boolean): number[] {
  const shortest = integer(random, isTiny ? 1 : 4, isTiny ? 2 : 8);
  const step = integer(random, 1, 2);
  const classes = integer(random, 1, isTiny ? 2 : 5);
  return Array.from({ length: classes }, (_, index) => shortest + index * step);
}

function rooms(random: Chance, positions: number): RotationInstance['rooms'] {
  const made: RotationInstance['rooms'] = [];
  for (let left = positions; left > 0;) {
    const staffInside = integer(random, 1, left);
    made.push({ id: `R${made.length + 1}`, staffInside });
    left -= staffInside;
  }
  return made;
}

/** One, two or three duties after each other, most of the time with an overlap; some people come late or have worked before. */
function workers(random: Chance, instance: RotationInstance, count: number): RotationInstance['workers'] {
  const { slotMinutes: slot, horizonMinutes, durations } = instance;
  const duties = pick(random, [1, 1, 2, 3]);
  const length = Math.ceil(horizonMinutes / duties / slot) * slot;
  const overlap = integer(random, 0, 3) * (durations.donning + durations.doffing + durations.handover);
  return Array.from({ length: count }, (_, index) => {
    const duty = index % duties;
    return {
      id: `W${String(index + 1).padStart(2, '0')}`,
      onDutyFromMinute: Math.max(0, duty * length - overlap),
      onDutyToMinute: duty === duties - 1 ? null : (duty + 1) * length + overlap,
      busyUntilMinute: random() < 0.2 ? integer(random, 0, 8) * slot : 0,
      minutesInEquipmentSoFar: random() < 0.2 ? integer(random, 0, 10) * slot : 0,
      entriesSoFar: random() < 0.2 ? 1 : 0,
    };
  });
}

function inside(random: Chance, instance: RotationInstance): RotationInstance['inside'] {
  const chosen: RotationInstance['inside'] = [];
  const positions = instance.rooms.flatMap(({ id, staffInside }) => Array.from({ length: staffInside }, () => id));
  for (const room of positions) {
    if (random() < 0.25) continue;
    const longest = Math.max(...instance.insideMinutesAllowed);
    const sinceMinute = -integer(random, 0, longest / instance.slotMinutes) * instance.slotMinutes;
    const worker = instance.workers.find((one) => canBeInside(instance, one, chosen, sinceMinute));
    if (worker) chosen.push({ worker: worker.id, room, sinceMinute });
  }
  return chosen;
}

/** Whether all may leave in turn, as many at a time as lanes and observers allow, before the observers take their breaks. */
function canBeInside(
  instance: RotationInstance,
  worker: RotationInstance['workers'][number],
  chosen: RotationInstance['inside'],
  sinceMinute: number,
): boolean {
  if (chosen.some((one) => one.worker === worker.id)) return false;
  const { durations, slotMinutes, observerBreak, perPerson } = instance;
  const turn = Math.floor(chosen.length / Math.min(instance.lanes, instance.observers));
  const leaving = slotMinutes + turn * (durations.doffing + durations.turnover);
  const out = leaving + durations.doffing;
  const stay = leaving - sinceMinute;
  return (
    worker.onDutyFromMinute === 0 &&
    (worker.onDutyToMinute === null || out + durations.postCheck <= worker.onDutyToMinute) &&
    stay <= Math.max(...instance.insideMinutesAllowed) + instance.maxOverrunMinutes &&
    out + observerBreak.minutes <= observerBreak.everyMinutes &&
    worker.minutesInEquipmentSoFar + stay + durations.doffing <= perPerson.maxMinutesInEquipment &&
    worker.entriesSoFar < perPerson.maxEntries
  );
}

function weights(random: Chance): RotationInstance['weights'] {
  if (random() < 0.7) {
    return { uncoveredSlot: 1000, overrunSlot: 300, entry: 1, largestPersonSlots: 2, allLanesBusySlot: 0.05 };
  }
  const one = (to: number): number => integer(random, 0, to);
  return {
    uncoveredSlot: one(100),
    overrunSlot: one(50),
    entry: one(10),
    largestPersonSlots: one(5),
    allLanesBusySlot: one(2) / 4,
  };
}
