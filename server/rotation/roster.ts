import { packBreaks } from './breaks.ts';
import { isExit } from './entries.ts';
import type { Entry } from './entries.ts';
import type { Steering } from './score.ts';
import type { OngoingFrame, Problem } from './slots.ts';

/** An entry of an earlier plan that had better stay as it is. */
export interface Hope {
  number: number;
  position: number;
  worker: number;
  /** -1 for somebody already inside: only the leaving counts. */
  start: number;
  exit: number;
}

/** What of an entry matters to the one who carries it. */
export type Carried = Pick<Entry, 'start' | 'exit' | 'busyEnd' | 'wearMinutes'>;

/**
 * The search's state: every entry with its worker, what lanes and observers are taken per slot, and what it all costs.
 *
 * Hard rules (lanes, observers, workers' time, limits) hold at every moment, because every way in asks first; coverage is what
 * gives way. So any state can be told as a plan, and stopping the search anywhere is safe. Lanes and observers are only counted:
 * spans that overlap at most n times can always be dealt to n lanes (interval graphs are perfect); `naming.ts` does that at the end.
 */
export class Roster {
  readonly problem: Problem;
  /** Entries per position, by the start of their cover. */
  readonly chains: Entry[][];
  /** Entries per worker, by their start. */
  readonly byWorker: Entry[][];
  readonly lanesTaken: Int16Array;
  readonly observersTaken: Int16Array;
  readonly wear: Float64Array;
  /** Entries per worker, with those before minute 0, and with the one that somebody inside is in even while it has no end. */
  readonly entriesOf: Int16Array;
  /** The least minutes that somebody inside will still have from it while their entry is out of the chain. */
  readonly owedMinutes: Float64Array;
  /** Slots with every lane taken, also beyond the horizon. */
  fullSlots = 0;
  /** Ongoing ones too: an exit is an exit. */
  entries = 0;
  overrunMinutes = 0;
  lateSlots = 0;
  repeated = 0;
  hopes: Hope[] = [];
  /** What changing one entry of the earlier plan costs. */
  hopeWeight = 0;
  steering: Steering = { spread: 0, reach: 0, ceiling: null, crumbs: 0 };
  wearSum = 0;
  wearSquares = 0;
  private readonly uncoveredOf: Float64Array;
  private readonly leastOf: Float64Array;
  private readonly breaksMissingOf: Int32Array;
  private readonly breaksStale: Uint8Array;

  constructor(problem: Problem) {
    this.problem = problem;
    this.chains = problem.positions.map(() => []);
    this.byWorker = problem.workers.map(() => []);
    this.lanesTaken = problem.lanesAway.slice();
    this.observersTaken = problem.observersAway.slice();
    this.wear = Float64Array.from(problem.workers, (worker) => worker.minutesBefore);
    this.entriesOf = Int16Array.from(problem.workers, (worker) => worker.entriesBefore);
    this.leastOf = new Float64Array(problem.workers.length);
    for (const frame of problem.ongoing) {
      this.entriesOf[frame.worker]! += 1;
      this.leastOf[frame.worker] = leastMinutes(problem, frame);
    }
    this.owedMinutes = this.leastOf.slice();
    this.uncoveredOf = new Float64Array(problem.positions.length);
    this.breaksMissingOf = new Int32Array(problem.breakPeriods.length);
    this.breaksStale = new Uint8Array(problem.breakPeriods.length).fill(1);
    for (const minutes of this.wear) {
      this.wearSum += minutes;
      this.wearSquares += minutes * minutes;
    }
    for (let slot = 0; slot < problem.length; slot++) if (this.isFull(slot)) this.fullSlots++;
    this.uncoveredOf.fill(-1);
  }

  private isFull(slot: number): boolean {
    return this.problem.lanes > 0 && this.lanesTaken[slot]! >= this.problem.lanes;
  }

  add(entry: Entry): void {
    insertBy(this.chains[entry.position]!, entry, (other) => other.coverFrom);
    insertBy(this.byWorker[entry.worker]!, entry, (other) => other.start);
    this.account(entry, 1);
  }

  remove(entry: Entry): void {
    takeOut(this.chains[entry.position]!, entry);
    takeOut(this.byWorker[entry.worker]!, entry);
    this.account(entry, -1);
  }

  private account(entry: Entry, sign: 1 | -1): void {
    this.takeLane(entry.exit, entry.laneEnd, sign);
    this.takeObserver(entry.start, entry.donningEnd, sign);
    this.takeObserver(entry.exit, entry.doffingEnd, sign);
    this.carry(entry, sign);
    this.overrunMinutes += sign * entry.overrunMinutes;
    this.lateSlots += sign * entry.lateSlots;
    this.entries += sign;
    if (entry.repeats >= 0) this.repeated += sign;
    this.uncoveredOf[entry.position] = -1;
  }

  /** Only who carries an entry changes: nothing on lanes or observers moves. */
  reassign(entry: Entry, worker: number): void {
    takeOut(this.byWorker[entry.worker]!, entry);
    this.carry(entry, -1);
    if (entry.repeats >= 0) this.repeated--;
    entry.worker = worker;
    entry.repeats = this.hopeFor(entry);
    if (entry.repeats >= 0) this.repeated++;
    insertBy(this.byWorker[worker]!, entry, (other) => other.start);
    this.carry(entry, 1);
  }

  private carry(entry: Entry, sign: 1 | -1): void {
    const before = this.wear[entry.worker]!;
    const after = before + sign * entry.wearMinutes;
    this.wear[entry.worker] = after;
    if (isExit(entry)) this.owedMinutes[entry.worker] = sign > 0 ? 0 : this.leastOf[entry.worker]!;
    else this.entriesOf[entry.worker]! += sign;
    this.wearSum += after - before;
    this.wearSquares += after * after - before * before;
  }

  private takeLane(from: number, to: number, sign: 1 | -1): void {
    for (let slot = Math.max(0, from); slot < Math.min(to, this.problem.length); slot++) {
      if (this.isFull(slot)) this.fullSlots--;
      this.lanesTaken[slot]! += sign;
      if (this.isFull(slot)) this.fullSlots++;
    }
  }

  private takeObserver(from: number, to: number, sign: 1 | -1): void {
    const end = Math.min(to, this.problem.length);
    for (let slot = Math.max(0, from); slot < end; slot++) this.observersTaken[slot]! += sign;
    for (const [i, period] of this.problem.breakPeriods.entries()) {
      if (from < period.toSlot && end > period.fromSlot) this.breaksStale[i] = 1;
    }
  }

  /** The entry of the earlier plan that this one is, or -1. */
  hopeFor(entry: Entry): number {
    for (const hope of this.hopes) {
      if (hope.worker !== entry.worker || hope.exit !== entry.exit) continue;
      const same = hope.start < 0 ? entry.kind === 'ongoing' : hope.start === entry.start;
      if (same && this.problem.positions[hope.position]!.room === this.problem.positions[entry.position]!.room)
        return hope.number;
    }
    return -1;
  }

  hasLane(exit: number, laneEnd: number): boolean {
    for (let slot = Math.max(0, exit); slot < laneEnd; slot++)
      if (this.lanesTaken[slot]! >= this.problem.lanes) return false;
    return true;
  }

  hasObserver(from: number, to: number): boolean {
    for (let slot = Math.max(0, from); slot < to; slot++) {
      if (this.observersTaken[slot]! >= this.problem.observers) return false;
    }
    return true;
  }

  /** Whether lanes and observers have room for it: its worker is another question. */
  hasPlace(entry: Entry): boolean {
    if (this.problem.lanes === 0 || this.problem.observers === 0) return false;
    if (!this.hasLane(entry.exit, entry.laneEnd) || !this.hasObserver(entry.exit, entry.doffingEnd)) return false;
    return this.hasObserver(entry.start, entry.donningEnd);
  }

  /** Whether this worker could carry the entry now, beside what they carry already. `without` is looked through. */
  canCarry(worker: number, entry: Carried, without: Entry | null = null): boolean {
    const { problem } = this;
    const frame = problem.workers[worker]!;
    const { maxMinutesInEquipment, maxEntries } = problem.instance.perPerson;
    if (entry.start < frame.readySlot || entry.exit + problem.aftercare > frame.dutyEndSlot) return false;
    if (this.entriesOf[worker]! - (without ? 1 : 0) >= maxEntries) return false;
    if (this.minutesOf(worker) - (without?.wearMinutes ?? 0) + entry.wearMinutes > maxMinutesInEquipment) return false;
    return this.byWorker[worker]!.every(
      (other) => other === without || other === entry || other.busyEnd <= entry.start || other.start >= entry.busyEnd,
    );
  }

  /** In equipment, with what somebody inside will have at least. */
  minutesOf(worker: number): number {
    return this.wear[worker]! + this.owedMinutes[worker]!;
  }

  /** Whether somebody inside may leave as this entry says, beside what they are to do later. */
  canLeave(exit: Entry): boolean {
    const later = this.byWorker[exit.worker]!;
    if (later.length === 0) return true;
    const { maxMinutesInEquipment } = this.problem.instance.perPerson;
    if (this.wear[exit.worker]! + exit.wearMinutes > maxMinutesInEquipment) return false;
    return later.every((other) => other.start >= exit.busyEnd);
  }

  get wearMax(): number {
    let largest = 0;
    for (const minutes of this.wear) if (minutes > largest) largest = minutes;
    return largest;
  }

  get uncoveredSlots(): number {
    let sum = 0;
    for (let i = 0; i < this.chains.length; i++) {
      if (this.uncoveredOf[i]! < 0) this.uncoveredOf[i] = this.uncoveredIn(i);
      sum += this.uncoveredOf[i]!;
    }
    return sum;
  }

  /** Whether a position leaves something uncovered, or somebody there stays too long. */
  isTroubled(position: number): boolean {
    return this.uncoveredIn(position) > 0 || this.chains[position]!.some((entry) => entry.overrunMinutes > 0);
  }

  private uncoveredIn(position: number): number {
    if (!this.problem.positions[position]!.demand) return 0;
    let covered = 0;
    let uncovered = 0;
    for (const entry of this.chains[position]!) {
      if (covered >= this.problem.slots) break;
      if (entry.coverFrom > covered) uncovered += Math.min(entry.coverFrom, this.problem.slots) - covered;
      covered = Math.max(covered, entry.exit);
    }
    return uncovered + Math.max(0, this.problem.slots - covered);
  }

  /** Breaks for which the counts leave no room, over all periods. */
  get breaksMissing(): number {
    let missing = 0;
    for (const [i, period] of this.problem.breakPeriods.entries()) {
      if (this.breaksStale[i])
        this.breaksMissingOf[i] = period.wanted - packBreaks(this.problem, this.observersTaken, period).length;
      this.breaksStale[i] = 0;
      missing += this.breaksMissingOf[i]!;
    }
    return missing;
  }
}

function leastMinutes(problem: Problem, { exitSlotFirst, sinceMinute }: OngoingFrame): number {
  return (exitSlotFirst + problem.doffing) * problem.grid - sinceMinute;
}

function insertBy(list: Entry[], entry: Entry, key: (entry: Entry) => number): void {
  let at = list.length;
  while (at > 0 && key(list[at - 1]!) > key(entry)) at--;
  list.splice(at, 0, entry);
}

function takeOut(list: Entry[], entry: Entry): void {
  const at = list.indexOf(entry);
  if (at < 0) throw new Error('An entry was removed that is not in the roster.');
  list.splice(at, 1);
}
