import type { Advice, RoomReading } from '../../machines/unit/advise.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import type { DeviceId, PersonId, ReportId, UnitId } from '../../machines/wire/ids.ts';
import type { Missing, ReportAnswer } from '../../machines/wire/messages.ts';
import type { Report } from '../../machines/wire/report.ts';
import type { Role } from '../../machines/wire/rights.ts';
import type { Clock } from '../clock.ts';
import type { LogHead } from '../log/log.ts';
import { BatchWriter, type BatchWriterParts } from './batch-writer.ts';
import { idUsed } from './earlier-reports.ts';
import type { Input } from './input.ts';
import { openRecord, type KeptVersion, type UnitOpening } from './open-record.ts';
import { SequenceGate } from './sequence-gate.ts';
import { turnedAwayBecause, type TurnedAway } from './turned-away.ts';
import type { UnitRecord } from './unit-record.ts';

export interface AuthorityParts extends BatchWriterParts {
  clock: Clock;
  /** Fresh randomness for the digest of confidential values. */
  salt: () => string;
  /** Facts between two snapshots. */
  snapshotEvery?: number;
}

type Answer = (answer: ReportAnswer) => void;

interface Waiting {
  input: Input;
  answers: Answer[];
}

/** More than this at once can only be a log that stands still; devices keep their reports until it moves. */
const queueMost = 5_000;
const batchMost = 500;
const followAgainMs = 1_000;

export async function openAuthority(unit: UnitOpening, parts: AuthorityParts): Promise<Authority> {
  const onKept = (kept: KeptVersion) =>
    parts.logger.warn({ unit: unit.id, ...kept }, 'the version adopted on a screen is newer than the files and counts');
  return new Authority(await openRecord(parts.log, unit, parts.clock, onKept), parts);
}

/**
 * The authority of one unit: everything that can move the unit stands in one queue here. What has gathered is one batch: each
 * input is decided on the state as the one before left it, all their facts are appended at once, and only when they are
 * durable does the state move, is anybody answered, is anything published. Meanwhile the next batch gathers.
 *
 * Answers are callbacks and not promises, so that an answer is on the wire before the facts it speaks of.
 */
export class Authority {
  private readonly record: UnitRecord;
  private readonly parts: AuthorityParts;
  private readonly writer: BatchWriter;
  private readonly gate = new SequenceGate();
  private readonly listeners = new Set<(facts: readonly Fact[], state: UnitState) => void>();
  /** Reports that are not answered yet: a duplicate waits with the first for the same commit. */
  private readonly pending = new Map<ReportId, Waiting>();
  private readonly stopFollowing: () => void;
  private queue: Waiting[] = [];
  private logHasGrown = false;
  private working: Promise<void> | undefined;
  private closing = false;

  constructor(record: UnitRecord, parts: AuthorityParts) {
    this.record = record;
    this.parts = parts;
    this.writer = new BatchWriter(record, parts, (facts) => this.publish(facts));
    this.stopFollowing = parts.log.follow(record.unit, () => this.noteGrown());
  }

  get unit(): UnitId {
    return this.record.unit;
  }

  /** The state at the head, as far as this server knows: everything in it is durable. */
  get state(): UnitState {
    return this.record.state;
  }

  get head(): LogHead {
    return this.record.head;
  }

  /** Why this server can no longer follow the log; undefined while all is well. */
  get fault(): string | undefined {
    return this.writer.fault;
  }

  missingAfter(after: number): Missing {
    return this.record.missingAfter(after);
  }

  /** Calls back with facts once they are durable, folded and answered for, in order, whoever wrote them. */
  onFacts(listener: (facts: readonly Fact[], state: UnitState) => void): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  report(report: Report, role: Role, answer: Answer): void {
    const twin = this.pending.get(report.id);
    if (twin) return isSameReport(twin, report) ? void twin.answers.push(answer) : answer(idUsed);
    if (!this.gate.admits(report)) return answer(turnedAwayBecause('an-earlier-one'));
    this.enqueue({ what: 'report', at: this.parts.clock.now(), report, role, salt: this.parts.salt() }, answer);
  }

  /** Says that a report was turned away before it came here, so that later ones of the device don't overtake it. */
  noteTurnedAway(report: Report): void {
    this.gate.turnedAway(report);
  }

  join(device: DeviceId, role: Role, person?: PersonId): Promise<ReportAnswer> {
    this.gate.forget(device);
    return this.apply({ what: 'join', at: this.parts.clock.now(), device, role, ...(person && { person }) });
  }

  heard(device: DeviceId): Promise<ReportAnswer> {
    return this.apply({ what: 'heard', at: this.parts.clock.now(), device });
  }

  silence(device: DeviceId, lastHeardAt: number): Promise<ReportAnswer> {
    return this.apply({ what: 'silence', at: this.parts.clock.now(), device, lastHeardAt });
  }

  leave(device: DeviceId): Promise<ReportAnswer> {
    return this.apply({ what: 'leave', at: this.parts.clock.now(), device });
  }

  tick(): Promise<ReportAnswer> {
    return this.apply({ what: 'tick', at: this.parts.clock.now() });
  }

  /** What calculations say about limits and checks; it becomes a fact only where it says something new. */
  advise(advice: readonly Advice[]): Promise<ReportAnswer> {
    return this.apply({ what: 'advice', at: this.parts.clock.now(), advice });
  }

  /** Readings of rooms of this unit, from a sensor. */
  readings(readings: readonly RoomReading[], sensor: string): Promise<ReportAnswer> {
    return this.apply({ what: 'readings', at: this.parts.clock.now(), readings, sensor });
  }

  /** Takes nothing more, finishes what it has, and leaves a snapshot for the next start. */
  async close(): Promise<void> {
    this.closing = true;
    this.stopFollowing();
    await this.working;
    if (this.record.factsSinceSnapshot > 0 && !this.fault) await this.saveSnapshot();
  }

  private apply(input: Input): Promise<ReportAnswer> {
    return new Promise((resolve) => this.enqueue(input, resolve));
  }

  private enqueue(input: Input, answer: Answer): void {
    const waiting: Waiting = { input, answers: [answer] };
    const reason = this.reasonToTurnAway();
    if (reason) return this.turnAway([waiting], reason);
    if (input.what === 'report') this.pending.set(input.report.id, waiting);
    this.queue.push(waiting);
    this.startWork();
  }

  private reasonToTurnAway(): TurnedAway | undefined {
    if (this.closing) return 'closing';
    if (this.fault) return 'log-unavailable';
    return this.queue.length >= queueMost ? 'busy' : undefined;
  }

  private noteGrown(): void {
    this.logHasGrown = true;
    this.startWork();
  }

  private startWork(): void {
    this.working ??= this.work();
  }

  private async work(): Promise<void> {
    // Everything that arrives in this turn of the event loop belongs to the first batch.
    await new Promise(setImmediate);
    try {
      while (this.queue.length > 0 || this.logHasGrown) {
        // An append that succeeds proves that nobody else has written, so only an idle server needs to look.
        if (this.queue.length > 0) await this.commit(this.queue.splice(0, batchMost));
        else await this.follow();
      }
    } finally {
      // In the same breath as the last look at the queue: what came a moment later would find nobody to start the work.
      this.working = undefined;
    }
  }

  private async commit(batch: readonly Waiting[]): Promise<void> {
    const outcome = await this.writer.write(batch.map(({ input }) => input));
    if ('turnedAway' in outcome) return this.turnAway(batch, outcome.turnedAway);
    for (const [index, waiting] of batch.entries()) this.answer(waiting, outcome.answers[index]);
    if (outcome.facts.length > 0) this.publish(outcome.facts);
  }

  /** Takes in what others have written. When the log is out of reach it is tried again later, by itself. */
  private async follow(): Promise<void> {
    this.logHasGrown = false;
    if ((await this.writer.canReadTail()) || this.fault || this.closing) return;
    this.parts.clock.setTimer(followAgainMs, () => this.noteGrown());
  }

  private answer(waiting: Waiting, answer: ReportAnswer | undefined): void {
    if (!answer) throw new Error('a batch was written without an answer for each of its inputs');
    if (waiting.input.what === 'report') this.pending.delete(waiting.input.report.id);
    for (const one of waiting.answers) this.shielded(() => one(answer));
  }

  /** Not taken, and not refused either: whoever sent it keeps it and sends it again. */
  private turnAway(batch: readonly Waiting[], reason: TurnedAway): void {
    for (const { input } of batch) if (input.what === 'report') this.gate.turnedAway(input.report);
    // Reports that queue behind one of these must not overtake it.
    const isBehind = ({ input }: Waiting) => input.what === 'report' && this.gate.isBehind(input.report);
    const behind = this.queue.filter(isBehind);
    this.queue = this.queue.filter((waiting) => !isBehind(waiting));
    for (const waiting of [...batch, ...behind]) this.answer(waiting, turnedAwayBecause(reason));
  }

  private publish(facts: readonly Fact[]): void {
    for (const listener of this.listeners) this.shielded(() => listener(facts, this.state));
    if (this.record.factsSinceSnapshot >= (this.parts.snapshotEvery ?? 1_000)) void this.saveSnapshot();
  }

  /** Whoever is told must not be able to undo what is durable by throwing. */
  private shielded(tell: () => void): void {
    try {
      tell();
    } catch (error) {
      this.parts.logger.error({ err: error, unit: this.unit }, 'a bug: a listener threw');
    }
  }

  private async saveSnapshot(): Promise<void> {
    try {
      await this.record.saveSnapshot();
    } catch (error) {
      // A snapshot only saves time at the next start.
      this.parts.logger.warn({ err: error, unit: this.unit }, 'the snapshot could not be saved');
    }
  }
}

function isSameReport({ input }: Waiting, report: Report): boolean {
  return input.what === 'report' && input.report.device === report.device && input.report.sequence === report.sequence;
}
