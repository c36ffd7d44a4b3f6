import { coverEnd, positionFor, putOngoing } from './construct.ts';
import { newEntry } from './entries.ts';
import type { Entry } from './entries.ts';
import { putByHandingOn } from './hand-on.ts';
import type { Plan, PlannedEntry, RotationInstance } from './instance.ts';
import type { Roster } from './roster.ts';
import { PlanSearch } from './search.ts';
import type { SearchOptions } from './search.ts';
import type { OngoingFrame } from './slots.ts';
import type { Workshop } from './workshop.ts';

type RepairSetting = Omit<SearchOptions, 'previous' | 'budgetMs' | 'now'>;

/**
 * Two slots of a person's minutes and some: nobody near the present is asked to do something else for an evener share or one entry
 * less, but they are to spare somebody a slot of overrun.
 */
export const changeWeightOfRepairs = 20;

/**
 * A search that begins with as much of the earlier plan as still holds. All entries that can stay as they are go in first; then those
 * that can't go to other people at the same time, and only where that is impossible to the nearest time that lanes and observers allow.
 */
export function startRepair(instance: RotationInstance, previous: Plan, options: RepairSetting): PlanSearch {
  const search = new PlanSearch(instance, { changeWeight: changeWeightOfRepairs, ...options, previous });
  search.onImproved = options.onImproved ?? (() => {});
  const { roster } = search;
  const entries = notKept(previous, options.keep ?? []);
  putOngoing(roster, (frame) => exitBefore(roster, frame, entries));
  for (const entry of entries) if (isDonning(roster, entry)) putStarted(roster, entry);
  const again = entriesAgain(
    roster,
    entries.filter(({ donningStartMinute }) => donningStartMinute >= 0),
  );
  const broken = again.filter((entry) => !putAsPlanned(roster, entry));
  for (const entry of broken) putChanged(search.workshop, entry);
  search.adopt();
  return search;
}

function notKept({ entries }: Plan, keep: PlannedEntry[]): PlannedEntry[] {
  const key = ({ worker, donningStartMinute }: PlannedEntry) => `${worker} ${donningStartMinute}`;
  const kept = new Set(keep.map(key));
  return entries
    .filter((entry) => !kept.has(key(entry)))
    .sort((one, other) => one.donningStartMinute - other.donningStartMinute);
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

/** The slot in which somebody inside was to leave. */
export function exitBefore(roster: Roster, frame: OngoingFrame, entries: PlannedEntry[]): number | undefined {
  const { problem } = roster;
  const { id } = problem.workers[frame.worker]!;
  const entry = entries.find(({ worker, donningStartMinute }) => worker === id && donningStartMinute < 0);
  if (!entry) return undefined;
  return Math.floor(
    (entry.donningStartMinute + problem.instance.durations.donning + entry.insideMinutes) / problem.grid,
  );
}

/**
 * Entries of the earlier plan in the search's terms, dealt to the positions as if all of them stayed: so each has the predecessor that
 * it relieves, whatever the order is in which they are put in. What does not fit the stays or slots of now is left out.
 */
function entriesAgain(roster: Roster, planned: PlannedEntry[]): Entry[] {
  const { problem } = roster;
  const ends = roster.chains.map(coverEnd);
  return planned.flatMap((one) => {
    const stay = one.insideMinutes / problem.grid;
    const start = one.donningStartMinute / problem.grid;
    if (!problem.stays.includes(stay) || !Number.isInteger(start)) return [];
    const position = firstToEnd(roster, one.room, ends);
    if (position < 0) return [];
    const entry = newEntry(problem, workerOf(roster, one), position, start, stay);
    if (entry.coverFrom >= problem.slots) return [];
    ends[position] = Math.max(ends[position]!, entry.exit);
    return [entry];
  });
}

function firstToEnd({ problem }: Roster, room: string, ends: number[]): number {
  let first = -1;
  for (const [i, position] of problem.positions.entries())
    if (position.room === room && (first < 0 || ends[i]! < ends[first]!)) first = i;
  return first;
}

function putAsPlanned(roster: Roster, entry: Entry): boolean {
  if (entry.worker < 0 || !roster.hasPlace(entry) || !roster.canCarry(entry.worker, entry)) return false;
  return keepsBreaks(roster, entry, () => {
    entry.repeats = roster.hopeFor(entry);
    roster.add(entry);
    return true;
  });
}

/** Takes the entry out again when a break finds no place any more beside it. */
function keepsBreaks(roster: Roster, entry: Entry, put: () => boolean): boolean {
  const missing = roster.breaksMissing;
  if (!put()) return false;
  if (roster.breaksMissing <= missing) return true;
  roster.remove(entry);
  return false;
}

function putChanged(workshop: Workshop, entry: Entry): void {
  const { roster } = workshop;
  const { worker } = entry;
  if (roster.hasPlace(entry) && keepsBreaks(roster, entry, () => putByHandingOn(roster, entry))) return;
  for (const other of nearTo(roster, entry)) if (putCarried(workshop, other, worker)) return;
}

function putCarried({ roster, bestWorker }: Workshop, entry: Entry, worker: number): boolean {
  if (!roster.hasPlace(entry)) return false;
  entry.worker = worker >= 0 && roster.canCarry(worker, entry) ? worker : bestWorker(entry);
  return entry.worker >= 0 && putAsPlanned(roster, entry);
}

/** So far, in minutes, an entry may leave earlier or later than planned before it is rather left out. */
const exitShiftMinutes = 45;

/** Entries that relieve in time and leave at another time, the nearest exit first and then the nearest start. */
function nearTo({ problem, chains }: Roster, entry: Entry): Entry[] {
  const before = chains[entry.position]!.filter(({ coverFrom }) => coverFrom < entry.coverFrom);
  const covered = Math.max(coverEnd(before), entry.coverFrom);
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
export function fillGaps(workshop: Workshop, isOver: () => boolean): void {
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
