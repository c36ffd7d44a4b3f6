import { packBreaks } from './breaks.ts';
import { bestChain, emptyScratch } from './chain.ts';
import type { ChainPlan, ChainScratch, ChainStep } from './chain.ts';
import { newEntry, ongoingEntry } from './entries.ts';
import type { Entry } from './entries.ts';
import { emptyPrices, impossible, priceAll, wearPrice, wearScale } from './prices.ts';
import type { Prices } from './prices.ts';
import type { Roster } from './roster.ts';
import { entryPerSlot } from './score.ts';
import type { OngoingFrame } from './slots.ts';

/** Slots by which a relief may overlap its predecessor at most, beyond the hand-over. */
const overlapMax = 6;

export interface Hole {
  position: number;
  from: number;
  head: OngoingFrame | null;
  /** The entry that follows, or null when the hole ends at the horizon. */
  next: Entry | null;
  /** Look no further than this slot, for building bit by bit. */
  horizon?: number;
}

/** Puts entries into the roster where something is missing, with the best worker for each. Holds the memory that this needs. */
export class Workshop {
  readonly roster: Roster;
  private readonly prices: Prices;
  private readonly scratch: ChainScratch;
  private readonly breaksTaken: Int16Array;

  constructor(roster: Roster) {
    this.roster = roster;
    this.prices = emptyPrices(roster.problem);
    this.scratch = emptyScratch(roster.problem);
    this.breaksTaken = new Int16Array(roster.problem.length);
  }

  /** Where breaks lie now. Only in doubt a help: without it the search may put entries over breaks, which then find other places. */
  private breaksNow(): Int16Array {
    const { problem, observersTaken } = this.roster;
    this.breaksTaken.fill(0);
    for (const period of problem.breakPeriods) {
      for (const start of packBreaks(problem, observersTaken, period)) {
        for (let slot = start; slot < start + problem.breakSlots; slot++) this.breaksTaken[slot]! += 1;
      }
    }
    return this.breaksTaken;
  }

  /**
   * Fills the hole and returns what was put in, in order. Prices do not see what the new entries do to each other, so each is asked
   * for once more; from the first that has become impossible on, the rest is planned anew with what is true by then.
   */
  fill(hole: Hole, aroundBreaks: boolean, stepsMax = Number.POSITIVE_INFINITY): Entry[] {
    const { problem } = this.roster;
    const put: Entry[] = [];
    const breaksTaken = aroundBreaks ? this.breaksNow() : null;
    let { from, head } = hole;
    const to = hole.next?.coverFrom ?? problem.slots;
    while (from < to || head) {
      const plan = this.plan({ ...hole, from, head }, breaksTaken);
      if (head) {
        const entry = this.putHead(head, plan.headExit);
        if (!entry) break;
        put.push(entry);
        from = entry.exit;
        head = null;
      }
      const done = this.putSteps(hole.position, plan.steps, put, stepsMax);
      if (done === 'all' || put.length >= stepsMax) break;
      const reached = put.at(-1)?.exit ?? from;
      from = reached > from ? reached : from + 1;
    }
    return put;
  }

  private plan(hole: Hole, breaksTaken: Int16Array | null): ChainPlan {
    const { problem } = this.roster;
    const to = hole.next?.coverFrom ?? Math.min(problem.slots, hole.horizon ?? problem.slots);
    const first = hole.head?.exitSlotFirst ?? hole.from;
    const stayLongest = problem.stays.at(-1) ?? 0;
    const last = Math.max(hole.head?.exitSlotLast ?? 0, to + Math.max(stayLongest, overlapMax)) + 1;
    priceAll(this.roster, this.prices, {
      position: hole.position,
      from: Math.max(0, first - overlapMax - problem.handover - problem.donning),
      to: Math.min(problem.length, last + problem.donning),
      breaksTaken,
    });
    return bestChain(problem, this.prices, this.scratch, {
      position: hole.position,
      from: hole.from,
      head: hole.head,
      headPrice: this.headPrice(hole.head),
      to,
      overlapMax,
      openEnd: hole.next === null,
      reachPrice: hole.horizon === undefined ? this.roster.steering.reach : 2 * entryPerSlot(problem),
      lastExit: hole.from,
    });
  }

  private headPrice(head: OngoingFrame | null): (exit: number) => number {
    if (!head) return () => 0;
    const { roster } = this;
    const { problem } = roster;
    const { weights, slotMinutes, perPerson } = problem.instance;
    const { maxMinutesInEquipment } = perPerson;
    const scale = wearScale(roster, head.exitSlotFirst, head.exitSlotLast + 1);
    const next = Math.min(...roster.byWorker[head.worker]!.map((entry) => entry.start), problem.length);
    const hoped = roster.hopes.find((hope) => hope.start < 0 && hope.worker === head.worker)?.exit;
    return (exit) => {
      if (exit + problem.recovery > next) return impossible;
      const inside = exit * problem.grid - head.sinceMinute;
      const worn = inside + problem.doffing * problem.grid;
      if (next < problem.length && roster.wear[head.worker]! + worn > maxMinutesInEquipment) return impossible;
      const overrun = Math.max(0, inside - problem.stayMinutesMax);
      const wear = wearPrice(roster, head.worker, worn, scale);
      const saved = exit === hoped ? roster.hopeWeight : 0;
      return (weights.overrunSlot * overrun) / slotMinutes + wear - saved;
    };
  }

  private putHead(head: OngoingFrame, exit: number | null): Entry | null {
    if (exit === null) return null;
    const entry = ongoingEntry(this.roster.problem, head, exit);
    if (!this.roster.hasPlace(entry) || !this.roster.canLeave(entry)) return null;
    this.put(entry);
    return entry;
  }

  private put(entry: Entry): void {
    entry.repeats = this.roster.hopeFor(entry);
    this.roster.add(entry);
  }

  private putSteps(position: number, steps: ChainStep[], put: Entry[], stepsMax: number): 'all' | 'some' {
    for (const step of steps) {
      if (put.length >= stepsMax) return 'some';
      const entry = newEntry(
        this.roster.problem,
        step.worker,
        position,
        step.start,
        this.roster.problem.stays[step.stay]!,
      );
      if (!this.roster.hasPlace(entry)) return 'some';
      const worker = this.roster.canCarry(step.worker, entry) ? step.worker : this.bestWorker(entry);
      if (worker < 0) return 'some';
      entry.worker = worker;
      this.put(entry);
      put.push(entry);
    }
    return 'all';
  }

  /** Who can carry the entry at the lowest price; -1: nobody. */
  bestWorker = (entry: Entry): number => {
    const { roster } = this;
    const scale = wearScale(roster, entry.start, entry.exit);
    let best = -1;
    let bestPrice = Number.POSITIVE_INFINITY;
    for (let worker = 0; worker < roster.problem.workers.length; worker++) {
      if (!roster.canCarry(worker, entry)) continue;
      const price = wearPrice(roster, worker, entry.wearMinutes, scale);
      if (price >= bestPrice) continue;
      best = worker;
      bestPrice = price;
    }
    return best;
  };
}
