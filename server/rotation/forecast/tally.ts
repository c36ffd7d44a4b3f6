import type { Floor, Play } from './floor.ts';

/**
 * What is kept of all runs: sums, and for each person the waits themselves, of which a quantile is wanted. Nothing is made
 * while runs are added.
 */
export interface Tally {
  runs: number;
  quarters: number;
  quarterMinutes: number;
  horizonMinutes: number;
  waitedForLane: Float64Array;
  waitedForObserver: Float64Array;
  waitedAtAll: Float64Array;
  waitSum: Float64Array;
  waitSquares: Float64Array;
  donningDelaySum: Float64Array;
  overLimit: Float64Array;
  out: Float64Array;
  outSum: Float64Array;
  /** People × runs, minutes. */
  waits: Float32Array;
  outs: Float32Array;
  /** Each lane × person: how often, and when from and to. */
  laneUses: Uses;
  donningUses: Uses;
  doffingUses: Uses;
  /** Each lane or observer × quarter hour: minutes in use. */
  laneBusy: Float64Array;
  observerBusy: Float64Array;
  laneClashes: Float64Array;
  observerClashes: Float64Array;
  /** Per run: minutes waited by all, and how many passed their limit. */
  runWait: Float64Array;
  runOver: Float64Array;
}

export interface Uses {
  count: Float64Array;
  start: Float64Array;
  end: Float64Array;
}

const quarterMinutes = 15;
/** Shorter waits are rounding. */
const waitLeast = 1e-6;

export function newTally({ people, lanes, observers }: Floor, runs: number, horizonMinutes: number): Tally {
  const quarters = Math.ceil(horizonMinutes / quarterMinutes);
  const sums = (size: number) => new Float64Array(size);
  const uses = (size: number): Uses => ({ count: sums(size), start: sums(size), end: sums(size) });
  return {
    runs,
    quarters,
    quarterMinutes,
    horizonMinutes,
    waitedForLane: sums(people),
    waitedForObserver: sums(people),
    waitedAtAll: sums(people),
    waitSum: sums(people),
    waitSquares: sums(people),
    donningDelaySum: sums(people),
    overLimit: sums(people),
    out: sums(people),
    outSum: sums(people),
    waits: new Float32Array(people * runs),
    outs: new Float32Array(people * runs),
    laneUses: uses(lanes * people),
    donningUses: uses(observers * people),
    doffingUses: uses(observers * people),
    laneBusy: sums(lanes * quarters),
    observerBusy: sums(observers * quarters),
    laneClashes: sums(quarters),
    observerClashes: sums(quarters),
    runWait: sums(runs),
    runOver: sums(runs),
  };
}

export function addRun(tally: Tally, play: Play, run: number): void {
  for (let person = 0; person < play.floor.people; person += 1) {
    addWait(tally, play, person, run);
    addDonning(tally, play, person);
    addDoffing(tally, play, person, run);
    addClash(tally, tally.laneClashes, play.laneClashAt[person]!);
    addClash(tally, tally.observerClashes, play.observerClashAt[person]!);
  }
}

/** From coming to the threshold, or from now, until stepping into the lane; whoever never does waits to the horizon. */
function addWait(tally: Tally, play: Play, person: number, run: number): void {
  const came = Math.max(0, play.cameAt[person]!);
  if (came === Infinity) return;
  const began = Math.min(play.beganAt[person]!, Math.max(came, tally.horizonMinutes));
  const gotLane = Math.min(began, Math.max(came, play.laneAt[person]!));
  const wait = began - came;
  if (wait <= waitLeast) return;
  if (gotLane - came > waitLeast) tally.waitedForLane[person]! += 1;
  if (began - gotLane > waitLeast) tally.waitedForObserver[person]! += 1;
  tally.waitedAtAll[person]! += 1;
  tally.waitSum[person]! += wait;
  tally.waitSquares[person]! += wait * wait;
  tally.waits[person * tally.runs + run] = wait;
  tally.runWait[run]! += wait;
}

function addDonning(tally: Tally, play: Play, person: number): void {
  const donned = play.donnedAt[person]!;
  const observer = play.donningObserver[person]!;
  if (observer < 0 || donned === Infinity) return;
  const began = play.donningAt[person]!;
  tally.donningDelaySum[person]! += Math.max(0, began - play.floor.startAt[person]!);
  addUse(tally.donningUses, observer * play.floor.people + person, began, donned);
  addBusy(tally, tally.observerBusy, observer, began, donned);
}

function addDoffing(tally: Tally, play: Play, person: number, run: number): void {
  const { floor } = play;
  const out = play.outAt[person]!;
  const limit = play.donnedAt[person]! + floor.limitAfter[person]!;
  if (out > limit && limit < tally.horizonMinutes + 1440) {
    tally.overLimit[person]! += 1;
    tally.runOver[run]! += 1;
  }
  tally.outs[person * tally.runs + run] = out;
  if (out === Infinity) return;
  tally.out[person]! += 1;
  tally.outSum[person]! += out;
  const [lane, began] = [play.laneOf[person]!, play.beganAt[person]!];
  addUse(tally.laneUses, lane * floor.people + person, began, out);
  addBusy(tally, tally.laneBusy, lane, play.laneAt[person]!, out + floor.turnover[lane]!);
  const observer = play.doffingObserver[person]!;
  if (observer < 0) return;
  addUse(tally.doffingUses, observer * floor.people + person, began, out);
  addBusy(tally, tally.observerBusy, observer, began, out + floor.postCheckMinutes);
}

function addUse(uses: Uses, at: number, start: number, end: number): void {
  uses.count[at]! += 1;
  uses.start[at]! += start;
  uses.end[at]! += end;
}

function addBusy(tally: Tally, busy: Float64Array, number: number, start: number, end: number): void {
  const { quarters } = tally;
  const last = Math.min(quarters - 1, Math.floor(end / quarterMinutes));
  for (let quarter = Math.floor(start / quarterMinutes); quarter <= last; quarter += 1) {
    const from = quarter * quarterMinutes;
    busy[number * quarters + quarter]! += Math.min(end, from + quarterMinutes) - Math.max(start, from);
  }
}

function addClash(tally: Tally, clashes: Float64Array, at: number): void {
  const quarter = Math.floor(at / quarterMinutes);
  if (quarter < tally.quarters) clashes[quarter]! += 1;
}
