import type { Plan, PlannedBreak, PlannedEntry, RotationInstance } from '../../server/rotation/instance.ts';

/**
 * Judges a plan from the rules alone. It shares no code with server/rotation but the types, counts minute by minute and person by
 * person, and is slow on purpose: whatever the search and the bounds do cleverly is compared with this.
 *
 * Read as: every rule holds at every minute, also beyond the horizon (a lane and an observer are still needed then); only covering
 * stops at the horizon. Entries of people already inside count as entries, and towards the most entries and minutes of a person.
 */
export function checkPlan(instance: RotationInstance, plan: Plan): string[] {
  return [
    ...plan.entries.flatMap((entry, index) => checkEntry(instance, entry, `entry ${index} (${entry.worker})`)),
    ...checkOngoing(instance, plan),
    ...checkPeople(instance, plan),
    ...checkLanes(instance, plan),
    ...checkObservers(instance, plan),
    ...checkBreaks(instance, plan),
  ];
}

export interface CostParts {
  uncoveredSlots: number;
  overrunSlots: number;
  entries: number;
  largestPersonSlots: number;
  allLanesBusySlots: number;
  total: number;
}

export function costOf(instance: RotationInstance, plan: Plan): CostParts {
  const { slotMinutes: slot, weights } = instance;
  const parts = {
    uncoveredSlots: uncoveredMinutesOf(instance, plan) / slot,
    overrunSlots: sum(plan.entries.map((entry) => overrunMinutes(instance, entry))) / slot,
    entries: plan.entries.length,
    largestPersonSlots: Math.max(...instance.workers.map(({ id }) => minutesOf(instance, plan, id))) / slot,
    allLanesBusySlots: allLanesBusyMinutes(instance, plan) / slot,
  };
  const total =
    weights.uncoveredSlot * parts.uncoveredSlots +
    weights.overrunSlot * parts.overrunSlots +
    weights.entry * parts.entries +
    weights.largestPersonSlots * parts.largestPersonSlots +
    weights.allLanesBusySlot * parts.allLanesBusySlots;
  return { ...parts, total };
}

/** Minutes × missing people, over all rooms, inside the horizon. */
export function uncoveredMinutesOf(instance: RotationInstance, plan: Plan): number {
  let missing = 0;
  for (const room of instance.rooms) {
    const covers = plan.entries.filter((entry) => entry.room === room.id).map((entry) => coverOf(instance, entry));
    for (let minute = 0; minute < instance.horizonMinutes; minute += 1) {
      missing += Math.max(0, room.staffInside - covers.filter((cover) => holds(cover, minute)).length);
    }
  }
  return missing;
}

interface Span {
  from: number;
  to: number;
}

const sum = (numbers: readonly number[]): number => numbers.reduce((total, one) => total + one, 0);
const holds = ({ from, to }: Span, minute: number): boolean => from <= minute && minute < to;

const insideStart = (instance: RotationInstance, entry: PlannedEntry): number =>
  entry.donningStartMinute + instance.durations.donning;
const leaving = (instance: RotationInstance, entry: PlannedEntry): number =>
  insideStart(instance, entry) + entry.insideMinutes;
const coverOf = (instance: RotationInstance, entry: PlannedEntry): Span => ({
  from: insideStart(instance, entry) + instance.durations.handover,
  to: leaving(instance, entry),
});
const doffingOf = (instance: RotationInstance, entry: PlannedEntry): Span => {
  const from = leaving(instance, entry);
  return { from, to: from + instance.durations.doffing };
};
const laneUseOf = (instance: RotationInstance, entry: PlannedEntry): Span => {
  const { from, to } = doffingOf(instance, entry);
  return { from, to: to + instance.durations.turnover };
};
const overrunMinutes = (instance: RotationInstance, entry: PlannedEntry): number =>
  Math.max(0, entry.insideMinutes - Math.max(...instance.insideMinutesAllowed));

function minutesOf(instance: RotationInstance, plan: Plan, worker: string): number {
  const earlier = instance.workers.find(({ id }) => id === worker)!.minutesInEquipmentSoFar;
  const own = plan.entries.filter((entry) => entry.worker === worker);
  return earlier + sum(own.map((entry) => entry.insideMinutes + instance.durations.doffing));
}

/** With no lane at all there is none to be busy. */
function allLanesBusyMinutes(instance: RotationInstance, plan: Plan): number {
  if (instance.lanes === 0) return 0;
  const uses = plan.entries.map((entry) => laneUseOf(instance, entry));
  const last = Math.max(0, ...uses.map(({ to }) => to));
  let minutes = 0;
  for (let minute = 0; minute < last; minute += 1) {
    if (uses.filter((use) => holds(use, minute)).length >= instance.lanes) minutes += 1;
  }
  return minutes;
}

function checkEntry(instance: RotationInstance, entry: PlannedEntry, label: string): string[] {
  const wrong: string[] = [];
  const worker = instance.workers.find(({ id }) => id === entry.worker);
  if (!worker) return [`${label}: there is no such worker`];
  if (!instance.rooms.some(({ id }) => id === entry.room)) wrong.push(`${label}: there is no room ${entry.room}`);
  for (const field of ['donningStartMinute', 'insideMinutes'] as const) {
    if (!Number.isInteger(entry[field] / instance.slotMinutes)) wrong.push(`${label}: ${field} is not on a slot`);
  }
  const end = doffingOf(instance, entry).to + instance.durations.postCheck;
  if (worker.onDutyToMinute !== null && end > worker.onDutyToMinute) {
    wrong.push(`${label}: doffing and post-check end at ${end}, after the duty`);
  }
  if (!isNumberedBelow(instance.lanes, entry.lane)) wrong.push(`${label}: there is no lane ${entry.lane}`);
  if (!isNumberedBelow(instance.observers, entry.observerDoffing)) {
    wrong.push(`${label}: there is no observer ${entry.observerDoffing} for doffing`);
  }
  return [...wrong, ...(entry.ongoing ? [] : checkNewEntry(instance, entry, label))];
}

function checkNewEntry(instance: RotationInstance, entry: PlannedEntry, label: string): string[] {
  const wrong: string[] = [];
  const worker = instance.workers.find(({ id }) => id === entry.worker)!;
  const start = entry.donningStartMinute;
  if (start < 0) wrong.push(`${label}: donning starts before minute 0`);
  if (start < worker.onDutyFromMinute) wrong.push(`${label}: donning starts before the duty`);
  if (start < worker.busyUntilMinute) wrong.push(`${label}: donning starts while busy with something earlier`);
  if (!instance.insideMinutesAllowed.includes(entry.insideMinutes)) {
    wrong.push(`${label}: ${entry.insideMinutes} minutes inside is not one of those allowed`);
  }
  if (entry.observerDonning === null || !isNumberedBelow(instance.observers, entry.observerDonning)) {
    wrong.push(`${label}: there is no observer ${entry.observerDonning} for donning`);
  }
  return wrong;
}

const isNumberedBelow = (count: number, number: number): boolean =>
  Number.isInteger(number) && number >= 0 && number < count;

/** Everybody inside at minute 0 has exactly one ongoing entry, which tells what has happened already. */
function checkOngoing(instance: RotationInstance, plan: Plan): string[] {
  const wrong: string[] = [];
  const ongoing = plan.entries.filter((entry) => entry.ongoing);
  for (const entry of ongoing) {
    if (!instance.inside.some(({ worker }) => worker === entry.worker)) wrong.push(`${entry.worker} is not inside`);
  }
  for (const { worker, room, sinceMinute } of instance.inside) {
    const own = ongoing.filter((entry) => entry.worker === worker);
    if (own.length !== 1) wrong.push(`${worker} is inside and has ${own.length} ongoing entries`);
    for (const entry of own) {
      const label = `ongoing entry of ${worker}`;
      if (entry.room !== room) wrong.push(`${label}: the room is ${room}, not ${entry.room}`);
      if (insideStart(instance, entry) !== sinceMinute) wrong.push(`${label}: inside since ${sinceMinute}`);
      if (entry.observerDonning !== null) wrong.push(`${label}: its donning is over`);
      if (leaving(instance, entry) < instance.slotMinutes) wrong.push(`${label}: leaves before one slot has passed`);
      if (overrunMinutes(instance, entry) > instance.maxOverrunMinutes) wrong.push(`${label}: overruns too long`);
    }
  }
  return wrong;
}

function checkPeople(instance: RotationInstance, plan: Plan): string[] {
  const { postCheck, rest } = instance.durations;
  return instance.workers.flatMap(({ id, entriesSoFar }) => {
    const own = plan.entries.filter((entry) => entry.worker === id);
    const busy = own.map((entry) => ({
      from: entry.donningStartMinute,
      to: doffingOf(instance, entry).to + postCheck + rest,
    }));
    const wrong = overlaps(busy).map((minute) => `${id} is in two entries at minute ${minute}`);
    if (own.length > 0 && entriesSoFar + own.length > instance.perPerson.maxEntries) {
      wrong.push(`${id} enters more than ${instance.perPerson.maxEntries} times`);
    }
    if (own.length > 0 && minutesOf(instance, plan, id) > instance.perPerson.maxMinutesInEquipment) {
      wrong.push(`${id} is in equipment longer than ${instance.perPerson.maxMinutesInEquipment} minutes`);
    }
    return wrong;
  });
}

function checkLanes(instance: RotationInstance, plan: Plan): string[] {
  return numbersBelow(instance.lanes).flatMap((lane) => {
    const uses = plan.entries.filter((entry) => entry.lane === lane).map((entry) => laneUseOf(instance, entry));
    return overlaps(uses).map((minute) => `lane ${lane} is taken twice at minute ${minute}`);
  });
}

function checkObservers(instance: RotationInstance, plan: Plan): string[] {
  return numbersBelow(instance.observers).flatMap((observer) => {
    const donnings = plan.entries
      .filter((entry) => !entry.ongoing && entry.observerDonning === observer)
      .map((entry) => ({ from: entry.donningStartMinute, to: insideStart(instance, entry) }));
    const doffings = plan.entries
      .filter((entry) => entry.observerDoffing === observer)
      .map((entry) => doffingOf(instance, entry));
    const breaks = plan.breaks.filter((one) => one.observer === observer).map((one) => breakSpan(instance, one));
    const busy = [...donnings, ...doffings, ...breaks];
    return overlaps(busy).map((minute) => `observer ${observer} has two things to do at minute ${minute}`);
  });
}

const breakSpan = (instance: RotationInstance, { startMinute }: PlannedBreak): Span => ({
  from: startMinute,
  to: startMinute + instance.observerBreak.minutes,
});

/** A period is full when it ends inside the horizon; a break belongs to the period that holds all of it. */
function checkBreaks(instance: RotationInstance, plan: Plan): string[] {
  const { minutes, everyMinutes } = instance.observerBreak;
  if (minutes === 0) return plan.breaks.length === 0 ? [] : ['there are breaks of no length'];
  const wrong: string[] = [];
  const periods = Math.floor(instance.horizonMinutes / everyMinutes);
  const counted = new Map<string, number>();
  for (const [index, one] of plan.breaks.entries()) {
    const { from, to } = breakSpan(instance, one);
    const period = Math.floor(from / everyMinutes);
    if (!isNumberedBelow(instance.observers, one.observer)) wrong.push(`break ${index}: no observer ${one.observer}`);
    if (!Number.isInteger(from / instance.slotMinutes)) wrong.push(`break ${index} does not start on a slot`);
    if (period < 0 || period >= periods || to > (period + 1) * everyMinutes) {
      wrong.push(`break ${index} is not inside a full period`);
    }
    counted.set(`${one.observer}/${period}`, (counted.get(`${one.observer}/${period}`) ?? 0) + 1);
  }
  for (const observer of numbersBelow(instance.observers)) {
    for (const period of numbersBelow(periods)) {
      const count = counted.get(`${observer}/${period}`) ?? 0;
      if (count !== 1) wrong.push(`observer ${observer} has ${count} breaks in period ${period}`);
    }
  }
  return wrong;
}

const numbersBelow = (count: number): number[] => Array.from({ length: count }, (_, index) => index);

/** The minutes at which one span starts while an earlier one still runs. */
function overlaps(spans: readonly Span[]): number[] {
  const sorted = spans.filter(({ from, to }) => from < to).sort((a, b) => a.from - b.from);
  const minutes: number[] = [];
  let end = -Infinity;
  for (const { from, to } of sorted) {
    if (from < end) minutes.push(from);
    end = Math.max(end, to);
  }
  return minutes;
}
