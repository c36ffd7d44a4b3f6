import type { PlannedEntry } from './instance.ts';
import type { OngoingFrame, Problem } from './slots.ts';

/** An entry inside the search: slots on the problem's grid, people and positions by number. */
export interface Entry {
  /** ongoing: only the leaving is free. kept: nothing is. */
  kind: 'new' | 'ongoing' | 'kept';
  worker: number;
  position: number;
  /** Donning; may lie before slot 0 where the donning is over or under way. */
  start: number;
  donningEnd: number;
  coverFrom: number;
  exit: number;
  doffingEnd: number;
  laneEnd: number;
  busyEnd: number;
  /** Inside + doffing. */
  wearMinutes: number;
  insideMinutes: number;
  overrunMinutes: number;
  /** Beyond even the overrun that is allowed, for want of a lane. */
  lateSlots: number;
  /** The number of the earlier plan's entry that this one repeats; -1 for none. */
  repeats: number;
  /** Lane and observers of a kept entry. */
  fixed: PlannedEntry | null;
}

/** Of somebody inside at minute 0, whether its end is free or kept. */
export function isExit(entry: Entry): boolean {
  return entry.kind === 'ongoing' || entry.fixed?.ongoing === true;
}

/** A new entry that leaves `stay` slots after it went inside. */
export function newEntry(problem: Problem, worker: number, position: number, start: number, stay: number): Entry {
  const insideFrom = start + problem.donning;
  const exit = insideFrom + stay;
  const insideMinutes = stay * problem.grid;
  return {
    kind: 'new',
    worker,
    position,
    start,
    donningEnd: insideFrom,
    coverFrom: insideFrom + problem.handover,
    ...leaving(problem, exit),
    insideMinutes,
    wearMinutes: insideMinutes + problem.doffing * problem.grid,
    overrunMinutes: 0,
    lateSlots: 0,
    repeats: -1,
    fixed: null,
  };
}

export function ongoingEntry(problem: Problem, frame: OngoingFrame, exit: number): Entry {
  const insideMinutes = exit * problem.grid - frame.sinceMinute;
  return {
    kind: 'ongoing',
    worker: frame.worker,
    position: frame.position,
    start: Math.floor(frame.sinceMinute / problem.grid) - problem.donning,
    // Their donning is over: it takes no observer any more.
    donningEnd: Number.NEGATIVE_INFINITY,
    coverFrom: frame.coverSlot,
    ...leaving(problem, exit),
    insideMinutes,
    wearMinutes: insideMinutes + problem.doffing * problem.grid,
    overrunMinutes: Math.max(0, insideMinutes - problem.stayMinutesMax),
    lateSlots: Math.max(0, exit - frame.exitSlotLast),
    repeats: -1,
    fixed: null,
  };
}

/** A kept entry may lie off the grid: what it takes is rounded outwards. */
export function keptEntry(problem: Problem, planned: PlannedEntry, worker: number, position: number): Entry {
  const { grid, instance } = problem;
  const inside = planned.donningStartMinute + instance.durations.donning;
  const exit = inside + planned.insideMinutes;
  const doffed = exit + instance.durations.doffing;
  const cleared = doffed + instance.durations.postCheck + instance.durations.rest;
  return {
    kind: 'kept',
    worker,
    position,
    start: Math.floor(planned.donningStartMinute / grid),
    donningEnd: planned.ongoing ? Number.NEGATIVE_INFINITY : Math.ceil(inside / grid),
    coverFrom: Math.max(0, Math.ceil((inside + instance.durations.handover) / grid)),
    exit: Math.floor(exit / grid),
    doffingEnd: Math.ceil(doffed / grid),
    laneEnd: Math.ceil((doffed + instance.durations.turnover) / grid),
    busyEnd: Math.ceil(cleared / grid),
    insideMinutes: planned.insideMinutes,
    wearMinutes: planned.insideMinutes + instance.durations.doffing,
    lateSlots: 0,
    overrunMinutes: planned.ongoing ? Math.max(0, planned.insideMinutes - problem.stayMinutesMax) : 0,
    repeats: -1,
    fixed: planned,
  };
}

function leaving(problem: Problem, exit: number) {
  return {
    exit,
    doffingEnd: exit + problem.doffing,
    laneEnd: exit + problem.laneHold,
    busyEnd: exit + problem.recovery,
  };
}
