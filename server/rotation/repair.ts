import { buildForward, coverEnd, positionFor, putOngoing } from './construct.ts';
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
 * First everything is kept that is still possible, those who must leave earlier coming first; what is impossible is moved a
 * little, handed to another worker or left out, which is a plan already. Then the rest of the budget is searched, from the gaps
 * outwards, and each entry changed within the next two hours costs `changeWeight`.
 */
export function repairPlan(
  instance: RotationInstance,
  previous: Plan,
  options: Omit<SearchOptions, 'previous'>,
): RepairedPlan {
  const start = options.now();
  const isStopped = () => options.shouldStop?.() === true;
  const over = (share: number) => () => options.now() >= start + share * options.budgetMs || isStopped();
  const isOver = over(1);
  let search = begun(instance, previous, options, 'moved', isOver);
  // Much had to be given up, so that another beginning may lead further: each gets a part of the time, the better one the rest.
  if (search.roster.uncoveredSlots > 0) {
    moveUntil(search, over(triedShare));
    const other = begun(instance, previous, options, 'planned-anew', isOver);
    moveUntil(other, over(2 * triedShare));
    if (other.foundScore < search.foundScore) search = other;
  }
  moveUntil(search, isOver);
  return { ...search.best, changed: changedIn(search, previous) };
}

const triedShare = 0.3;

/** What happens to entries of the next hours for which lanes or observers have no room any more. */
type Crowded = 'moved' | 'planned-anew';

function begun(
  instance: RotationInstance,
  previous: Plan,
  options: Omit<SearchOptions, 'previous'>,
  crowded: Crowded,
  isOver: () => boolean,
): PlanSearch {
  const search = startRepair(instance, previous, options, crowded);
  if (crowded === 'planned-anew') buildForward(search.workshop, isOver);
  fillGaps(search.workshop, isOver);
  search.look();
  return search;
}

function moveUntil(search: PlanSearch, isOver: () => boolean): void {
  while (!isOver()) search.move(4);
}

/** The same for a thread that drives the search itself: `best` is the plan with what could be kept, `move` mends it. */
export function startRepair(
  instance: RotationInstance,
  previous: Plan,
  options: Omit<SearchOptions, 'previous' | 'budgetMs' | 'now'>,
  crowded: Crowded = 'moved',
): PlanSearch {
  const search = new PlanSearch(instance, { ...options, previous });
  search.onImproved = options.onImproved ?? (() => {});
  const { roster } = search;
  const kept = new Set((options.keep ?? []).map(({ worker, donningStartMinute }) => `${worker} ${donningStartMinute}`));
  const entries = previous.entries.filter((entry) => !kept.has(`${entry.worker} ${entry.donningStartMinute}`));
  entries.sort((a, b) => a.donningStartMinute - b.donningStartMinute);
  putOngoing(roster, (frame) => exitBefore(roster, frame, entries));
  for (const entry of entries) if (isDonning(roster, entry)) putStarted(roster, entry);
  const from = crowded === 'planned-anew' ? anewMinutes : 0;
  for (const entry of entries) if (entry.donningStartMinute >= from) putAgain(search.workshop, entry);
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

/** The same entry again; where lanes or observers do not allow it, the nearest to it that they do; with another worker if theirs can't. */
function putAgain(workshop: Workshop, planned: PlannedEntry): void {
  const { problem } = workshop.roster;
  const stay = planned.insideMinutes / problem.grid;
  const start = planned.donningStartMinute / problem.grid;
  const position = positionFor(workshop.roster, planned.room);
  if (position < 0 || !problem.stays.includes(stay) || !Number.isInteger(start)) return;
  const worker = workerOf(workshop.roster, planned);
  const entry = newEntry(problem, Math.max(0, worker), position, start, stay);
  if (entry.coverFrom >= problem.slots || putCarried(workshop, entry, worker)) return;
  for (const other of nearTo(workshop.roster, entry)) if (putCarried(workshop, other, worker)) return;
}

function putCarried({ roster, bestWorker }: Workshop, entry: Entry, worker: number): boolean {
  if (!roster.hasPlace(entry)) return false;
  entry.worker = worker >= 0 && roster.canCarry(worker, entry) ? worker : bestWorker(entry);
  if (entry.worker < 0) return false;
  const missing = roster.breaksMissing;
  entry.repeats = roster.hopeFor(entry);
  roster.add(entry);
  if (roster.breaksMissing <= missing) return true;
  roster.remove(entry);
  return false;
}

/** With `planned-anew` everything that begins within so many minutes is planned anew, position by position. */
const anewMinutes = 240;

/** So far, in minutes, an entry may leave earlier or later than planned before it is rather left out. */
const exitShiftMinutes = 45;

/** Entries that relieve in time and leave at another time, the nearest exit first and then the nearest start. */
function nearTo({ problem, chains }: Roster, entry: Entry): Entry[] {
  const covered = Math.max(coverEnd(chains[entry.position]!), entry.coverFrom);
  const shiftMax = exitShiftMinutes / problem.grid;
  const others: Entry[] = [];
  for (const stay of problem.stays) {
    const last = Math.min(entry.start + shiftMax, covered - problem.handover - problem.donning);
    for (let start = Math.max(0, Math.ceil(entry.start - shiftMax)); start <= last; start++) {
      if (start % problem.slotSteps !== 0) continue;
      const other = newEntry(problem, entry.worker, entry.position, start, stay);
      if (Math.abs(other.exit - entry.exit) <= shiftMax && other.exit > covered) others.push(other);
    }
  }
  const distance = (other: Entry) => 100 * Math.abs(other.exit - entry.exit) + Math.abs(other.start - entry.start);
  return others.sort((a, b) => distance(a) - distance(b));
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
