import type { Fact } from '../../machines/wire/fact.ts';
import type { ReportId, UnitId } from '../../machines/wire/ids.ts';
import { batchOf, checkRange, diverged, type Batch } from './batch.ts';
import { Followers } from './followers.ts';
import { emptyHead } from './empty-head.ts';
import { snapshotsKept } from './limits.ts';
import { closedError } from './log-error.ts';
import type { AppendOutcome, Log, LogHead, ReportTrace, Snapshot } from './log.ts';

/**
 * A log that forgets everything with its process: for tests, drills and simulations. It stores text, like the durable ones,
 * so that nobody can change a fact in the log by changing the object that was appended or read.
 */
export class MemoryLog implements Log {
  private readonly units = new Map<UnitId, UnitLog>();
  private readonly followers = new Followers();
  private closed = false;

  append(unit: UnitId, expected: number, facts: readonly Fact[]): Promise<AppendOutcome> {
    return this.answer(() => {
      const outcome = compareAndAppend(this.unit(unit), batchOf(unit, expected, facts));
      if (outcome.outcome === 'appended') this.followers.grown(unit);
      return outcome;
    });
  }

  read(unit: UnitId, after: number, limit: number): Promise<Fact[]> {
    return this.answer(() => {
      checkRange(after, limit);
      const stored = this.unit(unit).facts.slice(after, after + limit);
      return stored.map(({ text }) => JSON.parse(text) as Fact);
    });
  }

  head(unit: UnitId): Promise<LogHead> {
    return this.answer(() => headOf(this.unit(unit)));
  }

  findReport(unit: UnitId, report: ReportId): Promise<ReportTrace | undefined> {
    return this.answer(() => structuredClone(this.unit(unit).reports.get(report)));
  }

  follow(unit: UnitId, onGrown: () => void): () => void {
    if (this.closed) throw closedError();
    return this.followers.follow(unit, onGrown);
  }

  saveSnapshot(unit: UnitId, snapshot: Snapshot): Promise<void> {
    return this.answer(() => keepSnapshot(this.unit(unit), snapshot));
  }

  latestSnapshot(unit: UnitId, foldVersion: number): Promise<Snapshot | undefined> {
    return this.answer(() => structuredClone(this.unit(unit).snapshots.get(foldVersion)?.[0]));
  }

  close(): Promise<void> {
    this.closed = true;
    this.followers.clear();
    return Promise.resolve();
  }

  /** A mistake must reject the promise, as it does with the other logs, and not throw at the caller. */
  private answer<T>(work: () => T): Promise<T> {
    return new Promise((resolve) => {
      if (this.closed) throw closedError();
      resolve(work());
    });
  }

  private unit(id: UnitId): UnitLog {
    const log = this.units.get(id) ?? { facts: [], reports: new Map(), snapshots: new Map() };
    this.units.set(id, log);
    return log;
  }
}

interface UnitLog {
  facts: Batch['facts'];
  reports: Map<ReportId, ReportTrace>;
  /** By fold version, the newest first. */
  snapshots: Map<number, Snapshot[]>;
}

function compareAndAppend(log: UnitLog, batch: Batch): AppendOutcome {
  const known = batch.reports.find(({ report }) => log.reports.has(report));
  if (known) return { outcome: 'known-report', report: known.report };
  const head = headOf(log);
  if (head.number !== batch.expected) return { outcome: 'moved', head: head.number };
  if (head.hash !== batch.previousHash) throw diverged(batch);
  log.facts.push(...batch.facts);
  for (const { report, ...trace } of batch.reports) log.reports.set(report, trace);
  return { outcome: 'appended' };
}

function headOf(log: UnitLog): LogHead {
  const last = log.facts.at(-1);
  return last ? { number: last.number, hash: last.hash } : emptyHead;
}

function keepSnapshot(log: UnitLog, snapshot: Snapshot): void {
  const others = (log.snapshots.get(snapshot.foldVersion) ?? []).filter(({ number }) => number !== snapshot.number);
  const newestFirst = [...others, { ...snapshot }].sort((a, b) => b.number - a.number);
  log.snapshots.set(snapshot.foldVersion, newestFirst.slice(0, snapshotsKept));
}
