import { kindsOf, mostCarried, timesMax, wearsOf } from './people-kinds.ts';
import { chainsOf, type Chains } from './chains.ts';
import type { Ongoing, Slotted } from './slotted.ts';

/** A lower bound on the cost of every plan from counting alone: the least, over the largest person's slots, of theirs and the rest. */
export function closedFormBound(slotted: Slotted): number {
  const { first, last } = largestRange(slotted);
  const costs = costsByLargest(slotted, first, last).map(
    (cost, index) => cost + slotted.weights.largestPersonSlots * (first + index),
  );
  const best = costs.reduce((least, cost) => Math.min(least, cost), Infinity);
  // Where somebody inside can't leave by any rule there is no plan, and nothing to count.
  return Number.isFinite(best) ? best - 1e-9 : 0;
}

/**
 * What a plan costs at least beside the largest person's own part, for each of their slots from `first` to `last`. It never grows with
 * them, so a stretch in which nothing can be less than the least so far gets what holds for its end.
 */
export function costsByLargest(slotted: Slotted, first: number, last: number): number[] {
  const counting = new Counting(slotted);
  const costs = new Array<number>(last - first + 1);
  const own = (largest: number): number => slotted.weights.largestPersonSlots * largest;
  let least = Infinity;
  const fill = (from: number, to: number, cost: number): void => {
    least = Math.min(least, own(to) + cost);
    if (from === to || own(from) + cost >= least) return void costs.fill(cost, from - first, to - first + 1);
    const middle = Math.floor((from + to) / 2);
    fill(from, middle, counting.costWith(middle));
    fill(middle + 1, to, cost);
  };
  fill(first, last, counting.costWith(last));
  return costs;
}

/** What the largest person may have: at least what anybody has already, at most what is allowed. */
export function largestRange({ people, minutesMax }: Slotted): { first: number; last: number } {
  const first = Math.max(0, ...people.map(({ slotsBefore }) => slotsBefore));
  return { first, last: Math.max(first, minutesMax) };
}

/** Overrun is counted slot by slot up to here; beyond it is taken as free. */
const overrunCounted = 100;

/** What counting says of an instance, with what is asked for often kept. */
class Counting {
  private readonly slotted: Slotted;
  private readonly chains: Chains;
  private readonly wears: number[];
  private readonly carriedMost = new Map<string, number>();

  constructor(slotted: Slotted) {
    this.slotted = slotted;
    this.chains = chainsOf(slotted);
    this.wears = wearsOf(slotted);
  }

  /**
   * What a plan costs at least, beside the largest person's own part, when nobody has more than `largest` slots in equipment: what
   * the chains need is set against the most that so many entries of all people together can cover. What is lacking stays uncovered.
   * With one lane, every exit takes all lanes for doffing + turnover. Infinity: somebody inside has more in any case.
   */
  costWith(largest: number): number {
    const { weights, ongoing, lanes, doffing, turnover } = this.slotted;
    const perEntry = weights.entry + (lanes === 1 ? weights.allLanesBusySlot * (doffing + turnover) : 0);
    const [gains, headed] = this.gains(Math.min(largest, this.slotted.minutesMax));
    if (headed === Number.NEGATIVE_INFINITY) return Number.POSITIVE_INFINITY;
    const overrun = overrunOf(ongoing, this.slotted.longestStay);
    let best = Infinity;
    for (let more = 0; more <= overrun.most && weights.overrunSlot * more < best; more += 1) {
      const free = more + overrun.free;
      const spared = free + (this.chains.step - 1) * Math.min(free, ongoing.length);
      const cover = leastCover(gains, this.chains.need - headed - spared, perEntry, (lacking) => this.costOf(lacking));
      best = Math.min(best, weights.overrunSlot * more + cover);
    }
    return (
      best + perEntry * ongoing.length + weights.overrunSlot * overrun.forced + weights.uncoveredSlot * this.chains.late
    );
  }

  /** A missing slot spares a chain up to `step` slots, and all of them together no more than themselves beyond the rounding. */
  private costOf(lacking: number): number {
    const { step } = this.chains;
    const rounding = (step - 1) * this.slotted.positions;
    return this.slotted.weights.uncoveredSlot * Math.max(0, lacking / step, lacking - rounding);
  }

  /** What one more entry covers at most, the most first; and what those inside cover at most without going in again. */
  private gains(most: number): [number[], number] {
    const { people, ongoing } = this.slotted;
    const gains: number[] = [];
    let headed = 0;
    for (const { count, slotsBefore, entriesBefore } of kindsOf(people)) {
      const steps = stepsOf(this.coversByTimes(most - slotsBefore, entriesBefore));
      for (const step of steps) for (let person = 0; person < count; person += 1) gains.push(step);
    }
    for (const one of ongoing) {
      const covers = this.coversAfterExit(one, most - one.slotsBefore);
      headed += covers[0] ?? Number.NEGATIVE_INFINITY;
      gains.push(...stepsOf(covers));
    }
    return [gains.sort((one, other) => other - one), headed];
  }

  /** The most that somebody with so many slots left covers, by how often they enter. */
  private coversByTimes(left: number, entriesBefore: number): number[] {
    const { doffing, handover } = this.slotted;
    const times = left < 0 ? 0 : timesMax(this.slotted, left, entriesBefore);
    return Array.from({ length: times + 1 }, (_, of) => this.carried(of, left) - of * (doffing + handover));
  }

  /** The same with what they cover before they leave, for the best time to leave; none when every time is too late. */
  private coversAfterExit({ since, exitMin, exitMax, entriesBefore }: Ongoing, left: number): number[] {
    const { longestStay, doffing } = this.slotted;
    const covers: number[] = [];
    for (let exit = exitMin; exit <= Math.min(exitMax, dueOf(since, longestStay)); exit += 1) {
      const then = left - (exit - since + doffing);
      if (then < 0) break;
      for (const [times, cover] of this.coversByTimes(then, entriesBefore + 1).entries())
        covers[times] = Math.max(covers[times] ?? 0, this.chains.headed(since, exit) + cover);
    }
    return covers;
  }

  private carried(times: number, left: number): number {
    const key = `${times} ${left}`;
    const known = this.carriedMost.get(key) ?? mostCarried(this.wears, times, left);
    this.carriedMost.set(key, known);
    return known;
  }
}

/** The least that covering so much costs, in entries and in what is lacking. */
function leastCover(
  gains: readonly number[],
  need: number,
  perEntry: number,
  costOf: (lacking: number) => number,
): number {
  let left = need;
  let best = costOf(left);
  for (const [index, gain] of gains.entries()) {
    left -= gain;
    best = Math.min(best, perEntry * (index + 1) + costOf(left));
    if (left <= 0) break;
  }
  return best;
}

/**
 * What each further entry adds, never more than the one before: where the second adds more than the first, both count as half of what
 * they add together, which only allows more.
 */
function stepsOf(covers: readonly number[]): number[] {
  const steps: number[] = [];
  let at = 0;
  while (at + 1 < covers.length) {
    let [to, slope] = [at, Number.NEGATIVE_INFINITY];
    for (let next = at + 1; next < covers.length; next += 1) {
      const rise = (covers[next]! - covers[at]!) / (next - at);
      if (rise >= slope) [to, slope] = [next, rise];
    }
    if (slope <= 0) break;
    for (; at < to; at += 1) steps.push(slope);
  }
  return steps;
}

const dueOf = (since: number, longestStay: number): number => Math.max(1, since + longestStay);

/** Slots of overrun: what cannot be helped, what may be chosen and is counted, and what beyond that is taken as free. */
function overrunOf(ongoing: readonly Ongoing[], longestStay: number): { forced: number; most: number; free: number } {
  let [forced, most] = [0, 0];
  for (const { since, exitMax } of ongoing) {
    const due = dueOf(since, longestStay);
    forced += due - since - longestStay;
    most += Math.max(0, exitMax - due);
  }
  return { forced, most: Math.min(most, overrunCounted), free: Math.max(0, most - overrunCounted) };
}
