import type { Fact } from '../../machines/wire/fact.ts';
import type { ReportId, UnitId } from '../../machines/wire/ids.ts';
import { batchOf, checkRange, diverged, type Batch } from './batch.ts';
import { emptyHead } from './empty-head.ts';
import { snapshotsKept } from './limits.ts';
import { closedError } from './log-error.ts';
import type { AppendOutcome, Log, LogHead, ReportTrace, Snapshot } from './log.ts';
import { RedisConnection, type RedisSettings } from './redis-connection.ts';
import { redisDurabilityWarning } from './redis-durability.ts';
import { followStream, type Follower } from './redis-follower.ts';
import { appendScript, latestSnapshotScript, saveSnapshotScript } from './redis-scripts.ts';

/**
 * The log that several servers share: one Redis stream per unit, where entry `7-0` is fact 7. A script compares and appends
 * in one step, so any server may accept for any unit and there is no leader to lose.
 *
 * As durable as Redis is set up to be: it must run with `appendonly yes` and `appendfsync always` (the answer to an append is
 * then sent after the sync); `durabilityWarning` says when it does not.
 */
export async function openRedisLog(settings: RedisSettings): Promise<RedisLog> {
  return new RedisLog(await RedisConnection.open(settings));
}

export class RedisLog implements Log {
  private readonly connection: RedisConnection;
  private readonly followers = new Set<Follower>();
  private closed = false;

  constructor(connection: RedisConnection) {
    this.connection = connection;
  }

  async append(unit: UnitId, expected: number, facts: readonly Fact[]): Promise<AppendOutcome> {
    const batch = batchOf(unit, expected, facts);
    const keys = [this.connection.key(unit, 'facts'), this.connection.key(unit, 'reports')];
    const reply = await this.script(appendScript, keys, appendArguments(batch));
    return outcomeOf(batch, reply as [string, (string | number)?]);
  }

  async read(unit: UnitId, after: number, limit: number): Promise<Fact[]> {
    checkRange(after, limit);
    if (limit === 0) return [];
    const from = `(${after}-0`;
    const entries = await this.connection.ask((client) =>
      client.xRange(this.connection.key(unit, 'facts'), from, '+', { COUNT: limit }),
    );
    return (entries ?? []).map(({ message }) => JSON.parse(message.fact ?? '') as Fact);
  }

  async head(unit: UnitId): Promise<LogHead> {
    const key = this.connection.key(unit, 'facts');
    const entries = await this.connection.ask((client) => client.xRevRange(key, '+', '-', { COUNT: 1 }));
    const last = entries?.[0];
    return last ? { number: parseInt(last.id, 10), hash: last.message.hash ?? '' } : emptyHead;
  }

  async findReport(unit: UnitId, report: ReportId): Promise<ReportTrace | undefined> {
    const trace = await this.connection.ask((client) => client.hGet(this.connection.key(unit, 'reports'), report));
    return trace ? (JSON.parse(trace) as ReportTrace) : undefined;
  }

  follow(unit: UnitId, onGrown: () => void): () => void {
    if (this.closed) throw closedError();
    const follower = followStream(this.connection.fork(), this.connection.key(unit, 'facts'), onGrown);
    this.followers.add(follower);
    return () => {
      follower.stop();
      this.followers.delete(follower);
    };
  }

  async saveSnapshot(unit: UnitId, snapshot: Snapshot): Promise<void> {
    const { foldVersion, number } = snapshot;
    const given = [String(foldVersion), String(number), JSON.stringify(snapshot), String(snapshotsKept)];
    await this.script(saveSnapshotScript, [this.connection.key(unit, 'snapshots')], given);
  }

  async latestSnapshot(unit: UnitId, foldVersion: number): Promise<Snapshot | undefined> {
    const text = await this.script(
      latestSnapshotScript,
      [this.connection.key(unit, 'snapshots')],
      [String(foldVersion)],
    );
    return typeof text === 'string' ? (JSON.parse(text) as Snapshot) : undefined;
  }

  /** A sentence for whoever runs the server when Redis may lose acknowledged facts; undefined when it keeps them. */
  durabilityWarning(): Promise<string | undefined> {
    return this.connection.ask((client) => redisDurabilityWarning(client));
  }

  /** What was appended before is answered first. */
  async close(): Promise<void> {
    this.closed = true;
    for (const { stop } of this.followers) stop();
    await this.connection.close();
    await Promise.all([...this.followers].map(({ ended }) => ended));
    this.followers.clear();
  }

  private script(text: string, keys: string[], given: string[]): Promise<unknown> {
    return this.connection.ask<unknown>((client) => client.eval(text, { keys, arguments: given }));
  }
}

function appendArguments({ expected, previousHash, facts, reports }: Batch): string[] {
  return [
    String(expected),
    previousHash,
    emptyHead.hash,
    String(facts.length),
    ...facts.flatMap(({ hash, text }) => [hash, text]),
    ...reports.flatMap(({ report, ...trace }) => [report, JSON.stringify(trace)]),
  ];
}

function outcomeOf(batch: Batch, [outcome, detail]: [string, (string | number)?]): AppendOutcome {
  switch (outcome) {
    case 'appended':
      return { outcome };
    case 'moved':
      return { outcome, head: Number(detail) };
    case 'known-report':
      return { outcome, report: String(detail) as ReportId };
    default:
      throw diverged(batch);
  }
}
