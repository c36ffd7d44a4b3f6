import Database from 'libsql';
import type { ReportId } from '../../machines/wire/ids.ts';
import { diverged, type Batch } from './batch.ts';
import { emptyHead } from './empty-head.ts';
import { snapshotsKept } from './limits.ts';
import { LogError, messageOf } from './log-error.ts';
import type { AppendOutcome, LogHead, ReportTrace, Snapshot } from './log.ts';

/**
 * The SQL of the log, all of it synchronous: it runs in the worker thread and nowhere else.
 *
 * WAL with synchronous=FULL makes every COMMIT wait for the disk; that is the promise, so it is checked at opening and not
 * assumed. Several appends share one transaction (one wait for the disk), and each stands on its own behind a savepoint: one
 * that lost the race or hit an error leaves its neighbours alone.
 */
const schema = `
  CREATE TABLE IF NOT EXISTS facts (
    unit TEXT NOT NULL, number INTEGER NOT NULL, hash TEXT NOT NULL, fact TEXT NOT NULL,
    PRIMARY KEY (unit, number)
  ) STRICT;
  CREATE TABLE IF NOT EXISTS reports (
    unit TEXT NOT NULL, report TEXT NOT NULL, device TEXT NOT NULL, sequence INTEGER NOT NULL, numbers TEXT NOT NULL,
    PRIMARY KEY (unit, report)
  ) STRICT;
  CREATE TABLE IF NOT EXISTS snapshots (
    unit TEXT NOT NULL, foldVersion INTEGER NOT NULL, number INTEGER NOT NULL, hash TEXT NOT NULL, state TEXT NOT NULL,
    PRIMARY KEY (unit, foldVersion, number)
  ) STRICT;
`;

export type StoreFailure = { code: LogError['code']; sentence: string };
export type GroupAnswer = { outcome: AppendOutcome } | { failure: StoreFailure };

export class SqliteStore {
  private readonly database: Database.Database;
  private readonly statements: ReturnType<typeof prepareAll>;

  constructor(file: string, busyTimeoutMs: number) {
    this.database = new Database(file, { timeout: busyTimeoutMs });
    makeDurable(this.database);
    this.database.exec(schema);
    this.statements = prepareAll(this.database);
  }

  /** Appends all of them in one transaction. When even the transaction fails, the outcome of each is unknown. */
  appendGroup(batches: readonly Batch[]): GroupAnswer[] {
    try {
      return this.inTransaction(() => batches.map((batch) => this.appendOne(batch)));
    } catch (error) {
      return batches.map(() => ({ failure: failureOf(error) }));
    }
  }

  read(unit: string, after: number, limit: number): string[] {
    return this.statements.read.all(unit, after, limit).map((row) => (row as { fact: string }).fact);
  }

  head(unit: string): LogHead {
    const row = this.statements.head.get(unit) as LogHead | undefined;
    return row ? { number: row.number, hash: row.hash } : emptyHead;
  }

  findReport(unit: string, report: string): ReportTrace | undefined {
    const row = this.statements.findReport.get(unit, report) as
      { device: string; sequence: number; numbers: string } | undefined;
    return row && { device: row.device, sequence: row.sequence, numbers: JSON.parse(row.numbers) as number[] };
  }

  saveSnapshot(unit: string, { foldVersion, number, hash, state }: Snapshot): void {
    this.inTransaction(() => {
      this.statements.addSnapshot.run(unit, foldVersion, number, hash, state);
      this.statements.dropSnapshots.run(unit, foldVersion, unit, foldVersion, snapshotsKept);
    });
  }

  latestSnapshot(unit: string, foldVersion: number): Snapshot | undefined {
    const row = this.statements.latestSnapshot.get(unit, foldVersion) as Omit<Snapshot, 'foldVersion'> | undefined;
    return row && { number: row.number, hash: row.hash, foldVersion, state: row.state };
  }

  /** Folds the WAL back into the database file, so that a stopped server leaves one file to copy. */
  close(): void {
    this.database.exec('PRAGMA wal_checkpoint(TRUNCATE)');
    this.database.close();
  }

  private appendOne(batch: Batch): GroupAnswer {
    this.database.exec('SAVEPOINT one');
    try {
      const outcome = this.compareAndInsert(batch);
      this.database.exec('RELEASE one');
      return { outcome };
    } catch (error) {
      // Some errors (a full disk) make SQLite roll back the whole transaction: then nobody's facts are in.
      if (!this.database.inTransaction) throw error;
      this.database.exec('ROLLBACK TO one');
      this.database.exec('RELEASE one');
      return { failure: failureOf(error) };
    }
  }

  private compareAndInsert(batch: Batch): AppendOutcome {
    const { unit, expected } = batch;
    const known = batch.reports.find(({ report }) => this.isKnown(unit, report));
    if (known) return { outcome: 'known-report', report: known.report };
    const head = this.head(unit);
    if (head.number !== expected) return { outcome: 'moved', head: head.number };
    if (head.hash !== batch.previousHash) throw diverged(batch);
    for (const { number, hash, text } of batch.facts) this.statements.addFact.run(unit, number, hash, text);
    for (const { report, device, sequence, numbers } of batch.reports)
      this.statements.addReport.run(unit, report, device, sequence, JSON.stringify(numbers));
    return { outcome: 'appended' };
  }

  private isKnown(unit: string, report: ReportId): boolean {
    return this.statements.findReport.get(unit, report) !== undefined;
  }

  private inTransaction<T>(work: () => T): T {
    this.database.exec('BEGIN IMMEDIATE');
    try {
      const result = work();
      this.database.exec('COMMIT');
      return result;
    } catch (error) {
      // After a failed COMMIT nothing is in the database, but a crash right now might still bring it back from the WAL file;
      // the next commit overwrites it there. Hence "the outcome is unknown", and never "not written".
      this.rollBack();
      throw error;
    }
  }

  private rollBack(): void {
    try {
      if (this.database.inTransaction) this.database.exec('ROLLBACK');
    } catch {
      // The transaction is gone already; what failed before is what the caller is told.
    }
  }
}

function makeDurable(database: Database.Database): void {
  const [mode] = database.pragma('journal_mode = WAL') as { journal_mode: string }[];
  database.pragma('synchronous = FULL');
  const [sync] = database.pragma('synchronous') as { synchronous: number }[];
  if (mode?.journal_mode !== 'wal' || sync?.synchronous !== 2)
    throw new LogError(
      'cannot-open',
      'SQLite does not offer WAL with synchronous=FULL here, so nothing would be durable.',
    );
}

function prepareAll(database: Database.Database) {
  return {
    addFact: database.prepare('INSERT INTO facts (unit, number, hash, fact) VALUES (?, ?, ?, ?)'),
    addReport: database.prepare('INSERT INTO reports (unit, report, device, sequence, numbers) VALUES (?, ?, ?, ?, ?)'),
    read: database.prepare('SELECT fact FROM facts WHERE unit = ? AND number > ? ORDER BY number LIMIT ?'),
    head: database.prepare('SELECT number, hash FROM facts WHERE unit = ? ORDER BY number DESC LIMIT 1'),
    findReport: database.prepare('SELECT device, sequence, numbers FROM reports WHERE unit = ? AND report = ?'),
    addSnapshot: database.prepare(
      'INSERT OR REPLACE INTO snapshots (unit, foldVersion, number, hash, state) VALUES (?, ?, ?, ?, ?)',
    ),
    dropSnapshots: database.prepare(
      `DELETE FROM snapshots WHERE unit = ? AND foldVersion = ? AND number NOT IN (
         SELECT number FROM snapshots WHERE unit = ? AND foldVersion = ? ORDER BY number DESC LIMIT ?)`,
    ),
    latestSnapshot: database.prepare(
      'SELECT number, hash, state FROM snapshots WHERE unit = ? AND foldVersion = ? ORDER BY number DESC LIMIT 1',
    ),
  };
}

/** What goes back to the other thread: an error object would lose its code on the way. */
export function failureOf(error: unknown): StoreFailure {
  if (error instanceof LogError) return { code: error.code, sentence: error.message };
  const code = (error as { code?: unknown }).code;
  const detail = typeof code === 'string' ? `${code}: ${messageOf(error)}` : messageOf(error);
  return { code: 'store-failed', sentence: `The database refused (${detail}).` };
}
