import { impossible } from './prices.ts';
import type { Prices } from './prices.ts';
import type { OngoingFrame, Problem } from './slots.ts';

/**
 * The best way to cover one position from one moment to another, as an exact dynamic program over the slot at which the cover so
 * far ends. A step is either one uncovered slot or the next entry: how long it overlaps its predecessor (so that exits can be moved
 * apart) and how long it stays. Prices look at everybody else only; what the new entries of one chain do to each other is checked
 * when they are put in.
 */
export interface ChainTask {
  position: number;
  /** The cover so far ends here; or, with `head`, who is inside leaves when it is best. */
  from: number;
  head: OngoingFrame | null;
  /** What leaving at a slot costs beside lanes and observers, for the head. */
  headPrice: (exit: number) => number;
  /** The next fixed entry's cover starts here; or the horizon. */
  to: number;
  /** Covering beyond `to` is no use when another entry follows: so many slots of overlap at most. */
  overlapMax: number;
  openEnd: boolean;
  /** What covering one slot more than `to` is worth at an open end. */
  reachPrice: number;
  /** The end of the cover of an entry before that has to be respected on the lanes, or -1. */
  lastExit: number;
}

export interface ChainStep {
  start: number;
  stay: number;
  worker: number;
}

export interface ChainPlan {
  headExit: number | null;
  steps: ChainStep[];
}

export interface ChainScratch {
  cost: Float64Array;
  before: Int32Array;
  /** Stay index; -1: an uncovered slot; -2: the beginning. */
  stay: Int16Array;
}

export function emptyScratch(problem: Problem): ChainScratch {
  const { length } = problem;
  return { cost: new Float64Array(length + 1), before: new Int32Array(length + 1), stay: new Int16Array(length + 1) };
}

const beginning = -2;
const uncovered = -1;

export function bestChain(problem: Problem, prices: Prices, scratch: ChainScratch, task: ChainTask): ChainPlan {
  const first = task.head ? task.head.exitSlotFirst : task.from;
  const last = Math.min(problem.length - 1, lastEnd(problem, task));
  scratch.cost.fill(impossible, first, last + 1);
  scratch.stay.fill(beginning, first, last + 1);
  begin(prices, scratch, task, last);
  const stepEnd = Math.min(last + 1, task.to);
  for (let end = first; end < stepEnd; end++) {
    if (scratch.cost[end]! >= impossible) continue;
    const gap = problem.instance.weights.uncoveredSlot * problem.slotShare;
    if (end < last) improve(scratch, end + 1, scratch.cost[end]! + gap, end, uncovered);
    extend(problem, prices, scratch, task, end, last);
  }
  return readBack(problem, prices, scratch, bestEnd(problem, scratch, task, first, last));
}

function lastEnd(problem: Problem, task: ChainTask): number {
  const headLast = task.head?.exitSlotLast ?? task.from;
  const open = task.to + (problem.stays.at(-1) ?? 0);
  return Math.max(headLast, task.from, task.openEnd ? open : task.to + task.overlapMax);
}

function begin(prices: Prices, scratch: ChainScratch, { head, headPrice, from }: ChainTask, last: number): void {
  if (!head) {
    scratch.cost[from] = 0;
    return;
  }
  for (let exit = head.exitSlotFirst; exit <= Math.min(head.exitSlotLast, last); exit++) {
    scratch.cost[exit] = Math.min(impossible, prices.exit[exit]! + headPrice(exit));
  }
}

function improve(scratch: ChainScratch, end: number, cost: number, before: number, stay: number): void {
  if (cost >= scratch.cost[end]!) return;
  scratch.cost[end] = cost;
  scratch.before[end] = before;
  scratch.stay[end] = stay;
}

function extend(
  problem: Problem,
  prices: Prices,
  scratch: ChainScratch,
  task: ChainTask,
  end: number,
  last: number,
): void {
  const { donning, handover, laneHold, stays, length } = problem;
  const sofar = scratch.cost[end]! + problem.instance.weights.entry;
  const freshStart = scratch.stay[end] === beginning && !task.head && task.lastExit < 0;
  for (let overlap = 0; overlap <= task.overlapMax; overlap++) {
    const start = end - overlap - handover - donning;
    if (start < 0) break;
    const started = sofar + prices.start[start]!;
    if (started >= impossible) continue;
    for (let stay = 0; stay < stays.length; stay++) {
      const exit = start + donning + stays[stay]!;
      if (exit <= end || exit > last) continue;
      const cost = started + prices.exit[exit]! + prices.work[stay * length + start]!;
      if (cost >= scratch.cost[exit]!) continue;
      // Two exits of this chain so close that both hold a lane need two lanes that others leave free.
      const both = !freshStart && exit < end + laneHold;
      if (both && prices.tightLanes[end + laneHold]! - prices.tightLanes[exit]! > 0) continue;
      improve(scratch, exit, cost, end, stay);
    }
  }
}

/** Ending before `to` leaves the rest uncovered. */
function bestEnd(problem: Problem, scratch: ChainScratch, task: ChainTask, first: number, last: number): number {
  const gap = problem.instance.weights.uncoveredSlot * problem.slotShare;
  let best = first;
  let bestCost = Number.POSITIVE_INFINITY;
  for (let end = first; end <= last; end++) {
    const reach = task.openEnd ? task.reachPrice * Math.max(0, end - task.to) : 0;
    const cost =
      scratch.cost[end]! >= impossible ? impossible : scratch.cost[end]! + gap * Math.max(0, task.to - end) - reach;
    if (cost >= bestCost) continue;
    best = end;
    bestCost = cost;
  }
  return best;
}

function readBack(problem: Problem, prices: Prices, scratch: ChainScratch, end: number): ChainPlan {
  const steps: ChainStep[] = [];
  let at = end;
  while (scratch.stay[at] !== beginning) {
    const stay = scratch.stay[at]!;
    if (stay !== uncovered) {
      const start = at - problem.stays[stay]! - problem.donning;
      steps.push({ start, stay, worker: prices.who[stay * problem.length + start]! });
    }
    at = scratch.before[at]!;
  }
  return { headExit: at, steps: steps.reverse() };
}
