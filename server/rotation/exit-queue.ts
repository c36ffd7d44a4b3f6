import { wholeBelow } from '../seeded-chance.ts';
import type { Chance } from '../seeded-chance.ts';
import { buildForward } from './construct.ts';
import { ongoingEntry } from './entries.ts';
import type { Entry } from './entries.ts';
import { toldScoreOf } from './score.ts';
import type { PlanSearch } from './search.ts';
import type { OngoingFrame } from './slots.ts';

/** Somebody inside: whose turn it is at the lanes, and from which slot on they would leave. */
interface Queued {
  frame: OngoingFrame;
  turn: number;
  from: number;
}

/** What begins later than this stays as it was, in most tries: building less anew is quicker, and often enough. */
const anewMinutes = [360, 480, 240];

/** A worse order is gone on from while it is so much worse at most, in overrun slots; that falls to nothing and starts again. */
const toleranceSlots = 2;
const triesPerRound = 40;

/**
 * When lanes are short, most follows from who leaves in which order: whoever waits for a lane overruns, and whoever leaves early is to
 * be relieved early. So this searches over orders alone, the earliest planned exit first to begin with, then the earliest that must be:
 * people leave in turn, each as soon after their time as a lane is there, and the next hours are built anew behind them from left to
 * right. One try takes a millisecond or two for forty people and a day.
 */
export class ExitQueue {
  private readonly search: PlanSearch;
  private readonly chance: Chance;
  /** Slots from which on the roster stays as it was at the beginning. */
  private readonly untils: number[];
  private readonly atFirst: Entry[];
  private best: Entry[];
  private bestScore: number;
  private current: Queued[];
  private score = Number.POSITIVE_INFINITY;
  private tries = 0;

  constructor(search: PlanSearch, chance: Chance, wishOf: (frame: OngoingFrame) => number | undefined) {
    this.search = search;
    this.chance = chance;
    const { roster, problem } = search;
    this.untils = [problem.length, ...anewMinutes.map((minutes) => minutes / problem.grid)];
    this.atFirst = roster.chains.flat().map((entry) => ({ ...entry }));
    this.best = this.atFirst;
    this.bestScore = toldScoreOf(roster);
    const free = problem.ongoing.filter(({ worker }) => roster.byWorker[worker]!.every((one) => one.kind !== 'kept'));
    this.current = free.map((frame) => {
      const from = within(frame, wishOf(frame) ?? frame.exitSlotDue);
      return { frame, from, turn: from };
    });
  }

  /** One more order. */
  try(isOver: () => boolean): void {
    const { roster, workshop } = this.search;
    const { queue, until } = this.next();
    this.tries++;
    this.clear();
    for (const one of [...queue].sort((a, b) => a.turn - b.turn)) this.leave(one);
    for (const entry of this.atFirst) if (entry.kind === 'new' && entry.start >= until) this.putAgain(entry);
    buildForward(workshop, isOver);
    const score = toldScoreOf(roster);
    if (score <= this.score + this.tolerance) {
      this.current = queue;
      this.score = score;
    }
    if (score >= this.bestScore - 1e-9) return;
    this.bestScore = score;
    this.best = roster.chains.flat().map((entry) => ({ ...entry }));
    this.search.look();
  }

  /** Puts the best into the roster for good: an order's, or what was there at the beginning. */
  settle(): void {
    this.clear();
    for (const entry of this.best) if (entry.kind !== 'kept') this.search.roster.add({ ...entry });
    this.search.look();
  }

  private next(): { queue: Queued[]; until: number } {
    const { untils, tries, current } = this;
    if (tries < untils.length) return { queue: current, until: untils[tries]! };
    const until = untils[wholeBelow(this.chance, untils.length)]!;
    if (tries === untils.length)
      return { queue: current.map((one) => ({ ...one, turn: one.frame.exitSlotLast })), until: untils[0]! };
    return { queue: this.varied(), until };
  }

  private varied(): Queued[] {
    const { chance } = this;
    const queue = this.current.map((one) => ({ ...one }));
    if (queue.length === 0) return queue;
    for (let changes = 1 + wholeBelow(chance, 2); changes > 0; changes--) {
      const one = queue[wholeBelow(chance, queue.length)]!;
      const other = queue[wholeBelow(chance, queue.length)]!;
      const kind = chance();
      if (kind < 0.5) [one.turn, other.turn] = [other.turn, one.turn];
      if (kind < 0.25) [one.from, other.from] = [other.from, one.from];
      const { exitSlotFirst, exitSlotLast } = one.frame;
      if (kind >= 0.5) one.from = exitSlotFirst + wholeBelow(chance, exitSlotLast - exitSlotFirst + 1);
      if (kind >= 0.75) one.turn = one.from;
    }
    return queue;
  }

  private get tolerance(): number {
    const { problem } = this.search;
    const share = 1 - (this.tries % triesPerRound) / (triesPerRound / 2);
    return Math.max(0, share * toleranceSlots * problem.instance.weights.overrunSlot);
  }

  private clear(): void {
    const { roster } = this.search;
    for (const entry of roster.chains.flat()) if (entry.kind !== 'kept') roster.remove(entry);
  }

  private leave({ frame, from }: Queued): void {
    const { roster, problem } = this.search;
    for (let exit = within(frame, from); exit + problem.laneHold <= problem.length; exit++) {
      const entry = ongoingEntry(problem, frame, exit);
      if (!roster.hasPlace(entry) || !roster.canLeave(entry)) continue;
      entry.repeats = roster.hopeFor(entry);
      roster.add(entry);
      return;
    }
  }

  private putAgain(entry: Entry): void {
    const { roster } = this.search;
    if (roster.hasPlace(entry) && roster.canCarry(entry.worker, entry)) roster.add({ ...entry });
  }
}

const within = ({ exitSlotFirst, exitSlotLast }: OngoingFrame, slot: number): number =>
  Math.max(exitSlotFirst, Math.min(slot, exitSlotLast));
