import { wholeBelow, type Chance } from '../../server/seeded-chance.ts';
import type { Plan, PlannedEntry, RotationInstance } from '../../server/rotation/instance.ts';
import type { SearchSetting } from '../../server/rotation/search.ts';
import { checkPlan } from './plan-check.ts';
import { momentOf, type Moment } from './rotation-instance.ts';

/** Something that happens while a plan is followed, and what is true then. */
export const eventKinds = [
  'must leave now',
  'lane lost 2 h',
  '2 observers away 2 h',
  'next 2 sick',
  'doffing 20 min over',
] as const;
export type EventKind = (typeof eventKinds)[number];

export interface RepairEvent {
  kind: EventKind;
  minute: number;
  /** Lanes and observers that are away already include what happened; who is sick is no longer among the workers. */
  moment: Moment;
  mustLeave: NonNullable<SearchSetting['mustLeave']>;
  sick: string[];
}

const nearMinutes = 120;
const away = { fromMinute: 0, toMinute: nearMinutes };

/** At a random minute that leaves a few hours to plan, and at which such a thing can happen. */
export function randomEvent(kind: EventKind, instance: RotationInstance, plan: Plan, chance: Chance): RepairEvent {
  const slots = (instance.horizonMinutes - 240) / instance.slotMinutes;
  for (;;) {
    const minute = (12 + wholeBelow(chance, slots - 12)) * instance.slotMinutes;
    const event = eventAt(kind, momentOf(instance, plan, minute), minute, chance);
    if (event) return event;
  }
}

function eventAt(kind: EventKind, moment: Moment, minute: number, chance: Chance): RepairEvent | undefined {
  const { instance, previous, lanesAway, observersAway } = moment;
  const plain = { kind, minute, moment, mustLeave: [], sick: [] };
  switch (kind) {
    case 'must leave now': {
      const inside = instance.inside.filter(({ sinceMinute }) => sinceMinute < 0);
      const one = inside[wholeBelow(chance, inside.length)];
      return one && { ...plain, mustLeave: [{ worker: one.worker, byMinute: 0 }] };
    }
    case 'lane lost 2 h': {
      const lane = wholeBelow(chance, instance.lanes);
      return { ...plain, moment: { ...moment, lanesAway: [...lanesAway, { lane, ...away }] } };
    }
    case '2 observers away 2 h': {
      const first = wholeBelow(chance, instance.observers);
      const second = (first + 1 + wholeBelow(chance, instance.observers - 1)) % instance.observers;
      const both = [first, second].map((observer) => ({ observer, ...away }));
      return { ...plain, moment: { ...moment, observersAway: [...observersAway, ...both] } };
    }
    case 'next 2 sick': {
      const coming = previous.entries.filter(({ donningStartMinute }) => donningStartMinute >= 0);
      coming.sort((a, b) => a.donningStartMinute - b.donningStartMinute);
      const sick = [...new Set(coming.map(({ worker }) => worker))]
        .filter((worker) => !instance.inside.some((one) => one.worker === worker))
        .slice(0, 2);
      const workers = instance.workers.filter(({ id }) => !sick.includes(id));
      return { ...plain, sick, moment: { ...moment, instance: { ...instance, workers } } };
    }
    case 'doffing 20 min over': {
      const { turnover } = instance.durations;
      const doffing = lanesAway.filter(({ toMinute }) => toMinute > turnover);
      const slow = doffing[wholeBelow(chance, doffing.length)];
      return slow && { ...plain, moment: withLonger(moment, slow, turnover) };
    }
    default:
      return kind satisfies never;
  }
}

const overMinutes = 20;

/** The lane is free so much later, and so is an observer who is there until the doffing was to be over. */
function withLonger(moment: Moment, slow: Moment['lanesAway'][number], turnover: number): Moment {
  const watching = moment.observersAway.find(({ toMinute }) => toMinute === slow.toMinute - turnover);
  const longer = <One extends { toMinute: number }>(one: One, is: One | undefined): One =>
    one === is ? { ...one, toMinute: one.toMinute + overMinutes } : one;
  return {
    ...moment,
    lanesAway: moment.lanesAway.map((span) => longer(span, slow)),
    observersAway: moment.observersAway.map((span) => longer(span, watching)),
  };
}

/** The rules, and that nobody uses a lane or an observer that is away. */
export function wrongIn(
  instance: RotationInstance,
  plan: Plan,
  gone: Pick<SearchSetting, 'lanesAway' | 'observersAway'>,
): string[] {
  const { donning, doffing, turnover } = instance.durations;
  const meets = (from: number, to: number, span: { fromMinute: number; toMinute: number }) =>
    from < span.toMinute && to > span.fromMinute;
  const wrong = checkPlan(instance, plan);
  for (const entry of plan.entries) {
    const exit = exitOf(instance, entry);
    for (const span of gone.lanesAway ?? []) {
      if (span.lane === entry.lane && meets(exit, exit + doffing + turnover, span))
        wrong.push(`lane ${span.lane} is away`);
    }
    for (const span of gone.observersAway ?? []) {
      const doffs = span.observer === entry.observerDoffing && meets(exit, exit + doffing, span);
      const start = entry.donningStartMinute;
      const dons = span.observer === entry.observerDonning && meets(start, start + donning, span);
      if (doffs || dons) wrong.push(`observer ${span.observer} is away`);
    }
  }
  return wrong;
}

export const exitOf = ({ durations }: RotationInstance, entry: PlannedEntry): number =>
  entry.donningStartMinute + durations.donning + entry.insideMinutes;

/** Trips of the next two hours: those that begin by then, and of people inside those that end by then. */
const nearTrips = (instance: RotationInstance, { entries }: Plan): PlannedEntry[] =>
  entries.filter((entry) =>
    entry.donningStartMinute < 0 ? exitOf(instance, entry) <= nearMinutes : entry.donningStartMinute < nearMinutes,
  );

/** How many of the near trips are not there any more as they were, or how many are new near them, whichever is more. */
export function changedTrips(instance: RotationInstance, previous: Plan, plan: Plan): number {
  const key = (entry: PlannedEntry) => `${entry.worker} ${entry.donningStartMinute} ${entry.insideMinutes}`;
  const [before, after] = [previous, plan].map((one) => new Set(one.entries.map(key)));
  const gone = nearTrips(instance, previous).filter((entry) => !after!.has(key(entry))).length;
  const added = nearTrips(instance, plan).filter((entry) => !before!.has(key(entry))).length;
  return Math.max(gone, added);
}

/**
 * So many near trips every repair has to change at least: those of the sick and of who must leave, and as many as must go for the
 * others to fit lanes and observers. What covering asks for is not counted.
 */
export function forcedChanges({ moment, mustLeave, sick }: RepairEvent): number {
  const { instance, previous, lanesAway, observersAway } = moment;
  const { donning, doffing, turnover } = instance.durations;
  const near = nearTrips(instance, previous);
  const isForced = (entry: PlannedEntry) =>
    sick.includes(entry.worker) ||
    (mustLeave.some(({ worker }) => worker === entry.worker) &&
      entry.donningStartMinute < 0 &&
      exitOf(instance, entry) > instance.slotMinutes);
  const others = near.filter((entry) => !isForced(entry));
  const exits = others.map((entry) => exitOf(instance, entry));
  const laneUses = exits.map((from) => ({ from, to: from + doffing + turnover }));
  const watched = [
    ...exits.map((from) => ({ from, to: from + doffing })),
    ...others
      .filter(({ donningStartMinute }) => donningStartMinute >= 0)
      .map(({ donningStartMinute }) => ({ from: donningStartMinute, to: donningStartMinute + donning })),
  ];
  const tooMany = Math.max(
    leastRemoved(laneUses, instance.lanes, lanesAway, ({ lane }) => lane),
    // A trip has two spans.
    Math.ceil(leastRemoved(watched, instance.observers, observersAway, ({ observer }) => observer) / 2),
  );
  return near.length - others.length + tooMany;
}

interface Span {
  from: number;
  to: number;
}

/** From left to right: where there are more than fit, the one that ends last is removed, which is the fewest in all. */
function leastRemoved<Away extends { fromMinute: number; toMinute: number }>(
  spans: readonly Span[],
  count: number,
  gone: readonly Away[],
  numberOf: (one: Away) => number,
): number {
  let kept: Span[] = [...spans];
  let removed = 0;
  for (const minute of [...new Set(spans.map(({ from }) => from))].sort((a, b) => a - b)) {
    const there =
      count - new Set(gone.filter((one) => one.fromMinute <= minute && minute < one.toMinute).map(numberOf)).size;
    const running = kept.filter(({ from, to }) => from <= minute && minute < to).sort((a, b) => b.to - a.to);
    const tooMany = running.slice(0, Math.max(0, running.length - there));
    kept = kept.filter((span) => !tooMany.includes(span));
    removed += tooMany.length;
  }
  return removed;
}

/**
 * Whether everybody inside can be out in time at all: the rules of the overrun, the duty and the day are kept by at least one order of
 * exits, each as soon as a lane and an observer are there. Where there is none, no repair can keep every rule.
 */
export function canAllLeave({ moment }: RepairEvent): boolean {
  const { instance } = moment;
  const people = instance.inside.map((one) => ({ ...one, latest: latestExit(instance, one) }));
  return canLeaveAfter(moment, people, [], instance.slotMinutes);
}

interface Inside {
  sinceMinute: number;
  latest: number;
}

function latestExit(instance: RotationInstance, one: RotationInstance['inside'][number]): number {
  const { durations, perPerson, insideMinutesAllowed, maxOverrunMinutes } = instance;
  const worker = instance.workers.find(({ id }) => id === one.worker)!;
  const worn = perPerson.maxMinutesInEquipment - worker.minutesInEquipmentSoFar - durations.doffing;
  return Math.min(
    one.sinceMinute + Math.max(...insideMinutesAllowed) + maxOverrunMinutes,
    one.sinceMinute + worn,
    (worker.onDutyToMinute ?? Infinity) - durations.doffing - durations.postCheck,
  );
}

/** In the order of leaving: whoever is next leaves no sooner than the one before. */
function canLeaveAfter(moment: Moment, waiting: readonly Inside[], exits: readonly number[], from: number): boolean {
  const { slotMinutes } = moment.instance;
  return (
    waiting.length === 0 ||
    waiting.some((next) => {
      let exit = Math.max(from, next.sinceMinute + slotMinutes);
      while (exit <= next.latest && !isFreeAt(moment, exits, exit)) exit += slotMinutes;
      const others = waiting.filter((one) => one !== next);
      return exit <= next.latest && canLeaveAfter(moment, others, [...exits, exit], exit);
    })
  );
}

/** A lane and an observer, beside those away and whoever leaves at these minutes. */
export function isFreeAt(
  { instance, lanesAway, observersAway }: Moment,
  exits: readonly number[],
  exit: number,
): boolean {
  const { doffing, turnover } = instance.durations;
  const isFree = <Away extends { fromMinute: number; toMinute: number }>(
    count: number,
    hold: number,
    gone: readonly Away[],
    numberOf: (one: Away) => number,
  ) => {
    for (let minute = exit; minute < exit + hold; minute += instance.slotMinutes) {
      const away = new Set(gone.filter((one) => one.fromMinute <= minute && minute < one.toMinute).map(numberOf));
      const taken = exits.filter((other) => other <= minute && minute < other + hold).length;
      if (away.size + taken >= count) return false;
    }
    return true;
  };
  return (
    isFree(instance.lanes, doffing + turnover, lanesAway, ({ lane }) => lane) &&
    isFree(instance.observers, doffing, observersAway, ({ observer }) => observer)
  );
}
