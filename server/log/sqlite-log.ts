import { resolve as resolvePath } from 'node:path';
import type { Fact } from '../../machines/wire/fact.ts';
import type { ReportId, UnitId } from '../../machines/wire/ids.ts';
import { batchOf, checkRange, type Batch } from './batch.ts';
import { Followers } from './followers.ts';
import { groupMost } from './limits.ts';
import { closedError, LogError } from './log-error.ts';
import type { AppendOutcome, Log, LogHead, ReportTrace, Snapshot } from './log.ts';
import type { GroupAnswer } from './sqlite-store.ts';
import { SqliteThread } from './sqlite-thread.ts';

/**
 * The log of a single server: one SQLite file in a data directory, no other service.
 *
 * Group commit: while one transaction waits for the disk, further appends gather and go into the next one together, across
 * units. Nothing waits for a timer: an append that comes alone is committed alone, at once.
 */
export interface SqliteLogOptions {
  /** After each transaction that wrote something: how many appends, and how many facts, shared the one wait for the disk. */
  onCommit?: (commit: { appends: number; facts: number }) => void;
  /** How long a transaction waits for another program that holds the database, a backup for instance. */
  busyTimeoutMs?: number;
}

export async function openSqliteLog(directory: string, options: SqliteLogOptions = {}): Promise<SqliteLog> {
  const { busyTimeoutMs = 2000, onCommit } = options;
  const thread = await SqliteThread.start({ directory: resolvePath(directory), busyTimeoutMs });
  return new SqliteLog(thread, onCommit);
}

export class SqliteLog implements Log {
  private readonly thread: SqliteThread;
  private readonly onCommit: SqliteLogOptions['onCommit'];
  private readonly followers = new Followers();
  private waiting: WaitingAppend[] = [];
  private committing: Promise<void> | undefined;
  private closing: Promise<void> | undefined;

  constructor(thread: SqliteThread, onCommit?: SqliteLogOptions['onCommit']) {
    this.thread = thread;
    this.onCommit = onCommit;
  }

  async append(unit: UnitId, expected: number, facts: readonly Fact[]): Promise<AppendOutcome> {
    this.refuseWhenClosed();
    const batch = batchOf(unit, expected, facts);
    return new Promise((resolve, reject) => {
      this.waiting.push({ batch, resolve, reject });
      this.committing ??= this.commitAll();
    });
  }

  async read(unit: UnitId, after: number, limit: number): Promise<Fact[]> {
    this.refuseWhenClosed();
    checkRange(after, limit);
    const texts = (await this.thread.ask({ kind: 'read', unit, after, limit })) as string[];
    return texts.map((text) => JSON.parse(text) as Fact);
  }

  async head(unit: UnitId): Promise<LogHead> {
    this.refuseWhenClosed();
    return (await this.thread.ask({ kind: 'head', unit })) as LogHead;
  }

  async findReport(unit: UnitId, report: ReportId): Promise<ReportTrace | undefined> {
    this.refuseWhenClosed();
    return (await this.thread.ask({ kind: 'find-report', unit, report })) as ReportTrace | undefined;
  }

  follow(unit: UnitId, onGrown: () => void): () => void {
    this.refuseWhenClosed();
    return this.followers.follow(unit, onGrown);
  }

  async saveSnapshot(unit: UnitId, snapshot: Snapshot): Promise<void> {
    this.refuseWhenClosed();
    await this.thread.ask({ kind: 'save-snapshot', unit, snapshot });
  }

  async latestSnapshot(unit: UnitId, foldVersion: number): Promise<Snapshot | undefined> {
    this.refuseWhenClosed();
    return (await this.thread.ask({ kind: 'latest-snapshot', unit, foldVersion })) as Snapshot | undefined;
  }

  /** What was appended before is written first. */
  close(): Promise<void> {
    this.closing ??= this.closeOnce();
    return this.closing;
  }

  private async closeOnce(): Promise<void> {
    this.followers.clear();
    await this.committing;
    try {
      await this.thread.ask({ kind: 'close' });
    } catch (error) {
      if (!(error instanceof LogError && error.code === 'thread-died')) throw error;
    } finally {
      await this.thread.exited;
    }
  }

  /** One transaction after the other, each with everything that gathered during the one before. */
  private async commitAll(): Promise<void> {
    while (this.waiting.length > 0) await this.commit(this.waiting.splice(0, groupMost));
    this.committing = undefined;
  }

  private async commit(group: readonly WaitingAppend[]): Promise<void> {
    try {
      const batches = group.map(({ batch }) => batch);
      const answers = (await this.thread.ask({ kind: 'append-group', batches })) as GroupAnswer[];
      group.forEach((append, index) => settle(append, answers[index]));
      this.announce(group.map(({ batch }) => batch).filter((_batch, index) => isAppended(answers[index])));
    } catch (error) {
      for (const { reject } of group) reject(error as Error);
    }
  }

  private announce(written: readonly Batch[]): void {
    if (written.length === 0) return;
    for (const unit of new Set(written.map((batch) => batch.unit))) this.followers.grown(unit);
    const facts = written.reduce((sum, batch) => sum + batch.facts.length, 0);
    // By itself, as with the followers: a hook that throws must not turn a durable append into a failed one.
    queueMicrotask(() => this.onCommit?.({ appends: written.length, facts }));
  }

  private refuseWhenClosed(): void {
    if (this.closing) throw closedError();
  }
}

interface WaitingAppend {
  batch: Batch;
  resolve: (outcome: AppendOutcome) => void;
  reject: (error: Error) => void;
}

function settle({ resolve, reject }: WaitingAppend, answer: GroupAnswer | undefined): void {
  if (!answer) reject(new LogError('store-failed', 'The database thread gave no answer for this append.'));
  else if ('failure' in answer) reject(new LogError(answer.failure.code, answer.failure.sentence));
  else resolve(answer.outcome);
}

const isAppended = (answer: GroupAnswer | undefined) =>
  answer !== undefined && 'outcome' in answer && answer.outcome.outcome === 'appended';
