import type { Plan, PlannedBreak, PlannedEntry, RotationInstance } from '../../server/rotation/instance.ts';
import { checkPlan, costOf } from './plan-check.ts';

/**
 * Solves a tiny instance by trying every plan: every set of entries of every person, the cheapest first, until one of them gets lanes,
 * observers and breaks. Slow and simple on purpose: the bounds are compared with it.
 */
export interface Solution {
  plan: Plan;
  cost: number;
}

/** undefined: no plan keeps the rules. 'too many': more sets of entries than `setsMax`. */
export function bestOfEveryPlan(
  instance: RotationInstance,
  setsMax: number,
  costFrom: (instance: RotationInstance, plan: Plan) => number = (one, plan) => costOf(one, plan).total,
): Solution | undefined | 'too many' {
  const byWorker = instance.workers.map((worker) => daysOf(instance, worker));
  const sets = byWorker.reduce((product, days) => product * days.length, 1);
  if (sets > setsMax) return 'too many';
  const candidates = productOf(byWorker).map((entries) => {
    const plan: Plan = { entries, breaks: [] };
    return { plan, cost: costFrom(instance, plan) };
  });
  candidates.sort((a, b) => a.cost - b.cost);
  for (const { plan, cost } of candidates) {
    const whole = withNumbers(instance, plan.entries);
    if (whole) return { plan: whole, cost };
  }
  return undefined;
}

type Worker = RotationInstance['workers'][number];

/** Everything one person may do: none, one or several entries that keep all rules about people. */
function daysOf(instance: RotationInstance, worker: Worker): PlannedEntry[][] {
  const inside = instance.inside.find((one) => one.worker === worker.id);
  const first = inside ? exitsOf(instance, inside) : [[]];
  const days: PlannedEntry[][] = [];
  const open = first.filter((day) => isAllowed(instance, day));
  while (open.length > 0) {
    const day = open.pop()!;
    days.push(day);
    const from = Math.max(0, ...day.map((entry) => entry.donningStartMinute + instance.slotMinutes));
    for (const entry of newEntries(instance, worker, from)) {
      if (isAllowed(instance, [...day, entry])) open.push([...day, entry]);
    }
  }
  return days;
}

/** The checker says what is wrong with people; lanes, observers, breaks and other people are not looked at yet. */
function isAllowed(instance: RotationInstance, day: PlannedEntry[]): boolean {
  const alone = {
    ...instance,
    inside: instance.inside.filter(({ worker }) => day.some((one) => one.worker === worker)),
  };
  const spread = day.map((entry, index) => ({
    ...entry,
    lane: index,
    observerDonning: entry.ongoing ? null : 2 * index,
    observerDoffing: 2 * index + 1,
  }));
  const unlimited = {
    ...alone,
    lanes: day.length,
    observers: 2 * day.length,
    observerBreak: { minutes: 0, everyMinutes: 1 },
  };
  return checkPlan(unlimited, { entries: spread, breaks: [] }).length === 0;
}

function exitsOf(instance: RotationInstance, { worker, room, sinceMinute }: RotationInstance['inside'][number]) {
  const stayMax = Math.max(...instance.insideMinutesAllowed) + instance.maxOverrunMinutes;
  const days: PlannedEntry[][] = [];
  for (let stay = instance.slotMinutes - sinceMinute; stay <= stayMax; stay += instance.slotMinutes) {
    const donningStartMinute = sinceMinute - instance.durations.donning;
    days.push([
      {
        worker,
        room,
        donningStartMinute,
        insideMinutes: stay,
        lane: 0,
        observerDonning: null,
        observerDoffing: 0,
        ongoing: true,
      },
    ]);
  }
  return days;
}

function newEntries(instance: RotationInstance, worker: Worker, from: number): PlannedEntry[] {
  const entries: PlannedEntry[] = [];
  for (let start = from; start < instance.horizonMinutes; start += instance.slotMinutes) {
    for (const insideMinutes of instance.insideMinutesAllowed) {
      for (const { id } of instance.rooms) {
        const where = { worker: worker.id, room: id, donningStartMinute: start, insideMinutes };
        entries.push({ ...where, lane: 0, observerDonning: 0, observerDoffing: 0 });
      }
    }
  }
  return entries;
}

function productOf(byWorker: readonly PlannedEntry[][][]): PlannedEntry[][] {
  return byWorker.reduce<PlannedEntry[][]>(
    (sets, days) => sets.flatMap((set) => days.map((day) => [...set, ...day])),
    [[]],
  );
}

/** Gives every entry a lane and observers and every observer breaks, if that can be done: tries all, one task after the other. */
function withNumbers(instance: RotationInstance, entries: readonly PlannedEntry[]): Plan | undefined {
  const lanes = colored(
    entries.map((entry) => spanFrom(exitOf(instance, entry), instance.durations.doffing + instance.durations.turnover)),
    instance.lanes,
  );
  if (!lanes) return undefined;
  const breaks = breaksOf(instance);
  for (const placed of breaks) {
    const observers = observersFor(instance, entries, placed);
    if (!observers) continue;
    return {
      entries: entries.map((entry, index) => ({ ...entry, lane: lanes[index]!, ...observers[index]! })),
      breaks: placed,
    };
  }
  return undefined;
}

interface Span {
  from: number;
  to: number;
}
const spanFrom = (from: number, minutes: number): Span => ({ from, to: from + minutes });
const exitOf = ({ durations }: RotationInstance, entry: PlannedEntry): number =>
  entry.donningStartMinute + durations.donning + entry.insideMinutes;
const meet = (one: Span, other: Span): boolean =>
  one.from < one.to && other.from < other.to && one.from < other.to && other.from < one.to;

/** A number below `count` for each span, so that equal numbers never meet. */
function colored(spans: readonly Span[], count: number, taken: readonly (Span & { number: number })[] = []) {
  const numbers: number[] = [];
  const place = (index: number): boolean => {
    if (index === spans.length) return true;
    for (let number = 0; number < count; number += 1) {
      const isFree =
        !taken.some((one) => one.number === number && meet(one, spans[index]!)) &&
        !spans.slice(0, index).some((one, at) => numbers[at] === number && meet(one, spans[index]!));
      if (!isFree) continue;
      numbers[index] = number;
      if (place(index + 1)) return true;
    }
    return false;
  };
  return place(0) ? numbers : undefined;
}

/** All ways to place all breaks; observers are alike, so only the times in order matter, but all are kept for plainness. */
function breaksOf(instance: RotationInstance): PlannedBreak[][] {
  const { minutes, everyMinutes } = instance.observerBreak;
  let ways: PlannedBreak[][] = [[]];
  if (minutes === 0) return ways;
  for (let from = 0; from + everyMinutes <= instance.horizonMinutes; from += everyMinutes) {
    for (let observer = 0; observer < instance.observers; observer += 1) {
      const starts: number[] = [];
      for (let start = from; start + minutes <= from + everyMinutes; start += instance.slotMinutes) starts.push(start);
      ways = ways.flatMap((way) => starts.map((startMinute) => [...way, { observer, startMinute }]));
    }
  }
  return ways;
}

function observersFor(instance: RotationInstance, entries: readonly PlannedEntry[], breaks: readonly PlannedBreak[]) {
  const { donning, doffing } = instance.durations;
  const spans = entries.flatMap((entry) => [
    spanFrom(entry.donningStartMinute, entry.ongoing ? 0 : donning),
    spanFrom(exitOf(instance, entry), doffing),
  ]);
  const taken = breaks.map(({ observer, startMinute }) => ({
    ...spanFrom(startMinute, instance.observerBreak.minutes),
    number: observer,
  }));
  const numbers = colored(spans, instance.observers, taken);
  return numbers
    ? entries.map((entry, index) => ({
        observerDonning: entry.ongoing ? null : numbers[2 * index]!,
        observerDoffing: numbers[2 * index + 1]!,
      }))
    : undefined;
}
