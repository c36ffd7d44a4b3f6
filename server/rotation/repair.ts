import { positionFor, putOngoing } from './construct.ts';
import { newEntry } from './entries.ts';
import type { Entry } from './entries.ts';
import type { Plan, PlannedEntry, RotationInstance } from './instance.ts';
import type { Roster } from './roster.ts';
import { PlanSearch } from './search.ts';
import type { FoundPlan, SearchOptions } from './search.ts';
import type { OngoingFrame } from './slots.ts';
import type { Workshop } from './workshop.ts';

export interface RepairedPlan extends FoundPlan {
  /** Entries of the earlier plan that begin or end within two hours and are not in this one. */
  changed: number;
}

/**
 * The plan of a moment ago, made to fit what has happened since: people inside are `instance.inside`, whoever is sick is no longer
 * among its workers, lanes and observers that are away are in the options. `previous` is told in minutes from now (`shiftPlan`).
 *
 * First everything is kept that is still possible, those who must leave earlier coming first; what is impossible is
 * handed to another worker or left out, which is a plan already. Then the rest of the budget is searched, from the gaps outwards, and each entry
 * changed within the next two hours costs `changeWeight`.
 */
export function repairPlan(
  instance: RotationInstance,
  previous: Plan,
  options: Omit<SearchOptions, 'previous'>,
): RepairedPlan {
  const end = options.now() + options.budgetMs;
  const isOver = () => options.now() >= end || options.shouldStop?.() === true;
  const search = startRepair(instance, previous, options);
  fillGaps(search.workshop, isOver);
  search.look();
  while (!isOver()) search.move(4);
  return { ...search.best, changed: changedIn(search, previous) };
}

/** The same for a thread that drives the search itself: `best` is the plan with what could be kept, `move` mends it. */
export function startRepair(
  instance: RotationInstance,
  previous: Plan,
  options: Omit<SearchOptions, 'previous' | 'budgetMs' | 'now'>,
): PlanSearch {
  const search = new PlanSearch(instance, { ...options, previous });
  search.onImproved = options.onImproved ?? (() => {});
  const { roster } = search;
  const kept = new Set((options.keep ?? []).map(({ worker, donningStartMinute }) => `${worker} ${donningStartMinute}`));
  const entries = previous.entries.filter((entry) => !kept.has(`${entry.worker} ${entry.donningStartMinute}`));
  entries.sort((a, b) => a.donningStartMinute - b.donningStartMinute);
  putOngoing(roster, (frame) => exitBefore(roster, frame, entries));
  for (const entry of entries) if (isDonning(roster, entry)) putStarted(roster, entry);
  for (const entry of entries) if (entry.donningStartMinute >= 0) putAgain(search.workshop, entry);
  search.adopt();
  return search;
}

/** The plan as it reads `minutes` later: what was over by then is left out; who is inside then, is ongoing. */
export function shiftPlan(instance: RotationInstance, plan: Plan, minutes: number): Plan {
  const { donning } = instance.durations;
  const entries = plan.entries.map((entry): PlannedEntry => {
    const donningStartMinute = entry.donningStartMinute - minutes;
    if (donningStartMinute + donning > 0) return { ...entry, donningStartMinute };
    return { ...entry, donningStartMinute, observerDonning: null, ongoing: true };
  });
  return {
    entries: entries.filter((entry) => entry.donningStartMinute + donning + entry.insideMinutes > 0),
    breaks: plan.breaks
      .map((one) => ({ ...one, startMinute: one.startMinute - minutes }))
      .filter((one) => one.startMinute + instance.observerBreak.minutes > 0),
  };
}

function workerOf(roster: Roster, entry: PlannedEntry): number {
  return roster.problem.workers.findIndex(({ id }) => id === entry.worker);
}

/** Donning has begun and is not over. */
function isDonning(roster: Roster, entry: PlannedEntry): boolean {
  const isInside = roster.problem.instance.inside.some(({ worker }) => worker === entry.worker);
  const inside = entry.donningStartMinute + roster.problem.instance.durations.donning;
  return entry.donningStartMinute < 0 && inside > 0 && !isInside && workerOf(roster, entry) >= 0;
}

/** Their beginning is not to be changed any more; how long they stay still may, where the lanes want it. */
function putStarted(roster: Roster, planned: PlannedEntry): void {
  const { problem } = roster;
  const wanted = planned.insideMinutes / problem.grid;
  const stays = [...problem.stays].sort((a, b) => Math.abs(a - wanted) - Math.abs(b - wanted));
  const position = positionFor(roster, planned.room);
  const start = planned.donningStartMinute / problem.grid;
  if (position < 0 || !Number.isInteger(start)) return;
  for (const stay of stays) {
    const entry: Entry = { ...newEntry(problem, workerOf(roster, planned), position, start, stay), kind: 'kept' };
    if (!roster.hasPlace(entry)) continue;
    roster.add(entry);
    return;
  }
}

function exitBefore(roster: Roster, frame: OngoingFrame, entries: PlannedEntry[]): number | undefined {
  const { problem } = roster;
  const { id } = problem.workers[frame.worker]!;
  const entry = entries.find(({ worker, donningStartMinute }) => worker === id && donningStartMinute < 0);
  if (!entry) return undefined;
  return Math.floor(
    (entry.donningStartMinute + problem.instance.durations.donning + entry.insideMinutes) / problem.grid,
  );
}

/** The same entry again; with another worker if theirs can't; or not at all. */
function putAgain({ roster, bestWorker }: Workshop, planned: PlannedEntry): void {
  const { problem } = roster;
  const stay = planned.insideMinutes / problem.grid;
  const start = planned.donningStartMinute / problem.grid;
  const position = positionFor(roster, planned.room);
  const worker = workerOf(roster, planned);
  if (position < 0 || !problem.stays.includes(stay) || !Number.isInteger(start)) return;
  const entry = newEntry(problem, 0, position, start, stay);
  if (!roster.hasPlace(entry) || entry.coverFrom >= problem.slots) return;
  entry.worker = worker >= 0 && roster.canCarry(worker, entry) ? worker : bestWorker(entry);
  if (entry.worker < 0) return;
  const missing = roster.breaksMissing;
  entry.repeats = roster.hopeFor(entry);
  roster.add(entry);
  if (roster.breaksMissing > missing) roster.remove(entry);
}

/** Where a position is uncovered now, new entries go between those that stayed: the first gap of all first. */
function fillGaps(workshop: Workshop, isOver: () => boolean): void {
  const { roster } = workshop;
  const { problem } = roster;
  for (const [position, { demand }] of problem.positions.entries()) {
    let covered = 0;
    for (const next of demand ? [...roster.chains[position]!, null] : []) {
      const from = next?.coverFrom ?? problem.slots;
      if (from > covered) {
        if (isOver()) return;
        const missing = roster.breaksMissing;
        const put = workshop.fill({ position, from: covered, head: null, next }, false);
        if (roster.breaksMissing > missing) for (const entry of put) roster.remove(entry);
      }
      covered = Math.max(covered, next?.exit ?? 0);
    }
  }
}

function changedIn(search: PlanSearch, previous: Plan): number {
  const { hopes, problem } = search.roster;
  const told = search.best.plan.entries;
  const inside = problem.instance.durations.donning;
  const again = hopes.filter((hope) =>
    told.some((entry) => {
      const exit = (entry.donningStartMinute + inside + entry.insideMinutes) / problem.grid;
      const start = entry.donningStartMinute / problem.grid;
      const sameStart = hope.start < 0 ? entry.donningStartMinute < 0 : start === hope.start;
      return entry.worker === problem.workers[hope.worker]!.id && exit === hope.exit && sameStart;
    }),
  );
  return hopes.length - again.length + lostWorkers(search, previous);
}

/** Entries within two hours of people who are no longer there: no hope was left for those. */
function lostWorkers({ problem }: PlanSearch, previous: Plan): number {
  const known = new Set(problem.workers.map(({ id }) => id));
  return previous.entries.filter((entry) => !known.has(entry.worker) && entry.donningStartMinute < 120).length;
}
