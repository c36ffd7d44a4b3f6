import type { Fact } from '../../machines/wire/fact.ts';
import type { ReportId, UnitId } from '../../machines/wire/ids.ts';

/**
 * The log of a unit: numbered, hash-chained facts, durable before anybody is told about them.
 *
 * Appending is compare-and-append. The facts of a batch were decided on the state at `expected`; if the log has moved since
 * (another server wrote), nothing is written and the caller decides again. So any server may accept for any unit, and no
 * fact is ever written twice or out of order. A promise that rejects means that the outcome is unknown: read the head
 * again before deciding anything.
 */
export interface Log {
  /** Durable when it resolves. All facts of the batch are written, or none. */
  append(unit: UnitId, expected: number, facts: readonly Fact[]): Promise<AppendOutcome>;
  /** Facts with number > `after`, in order, at most `limit`. */
  read(unit: UnitId, after: number, limit: number): Promise<Fact[]>;
  head(unit: UnitId): Promise<LogHead>;
  /** The facts an earlier report led to; undefined when this report id is not in the log. */
  findReport(unit: UnitId, report: ReportId): Promise<ReportTrace | undefined>;
  /** Calls back, at least once per change, when the log of the unit may have grown, also by another server. Returns a stop function. */
  follow(unit: UnitId, onGrown: () => void): () => void;
  saveSnapshot(unit: UnitId, snapshot: Snapshot): Promise<void>;
  /** The newest snapshot made by this `foldVersion`; an older fold's snapshot is never offered. */
  latestSnapshot(unit: UnitId, foldVersion: number): Promise<Snapshot | undefined>;
  close(): Promise<void>;
}

export type AppendOutcome =
  | { outcome: 'appended' }
  /** The head is not at `expected`. */
  | { outcome: 'moved'; head: number }
  /** A report of this batch is in the log already. Said before `moved`: it is the final answer, and a retry often meets both. */
  | { outcome: 'known-report'; report: ReportId };

export interface LogHead {
  number: number;
  hash: string;
}

export interface ReportTrace {
  device: string;
  sequence: number;
  numbers: number[];
}

export interface Snapshot {
  number: number;
  hash: string;
  foldVersion: number;
  /** The folded state as JSON. */
  state: string;
}
