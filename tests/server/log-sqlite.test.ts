import { spawn, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { statSync } from 'node:fs';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import Database from 'libsql';
import { afterEach, describe, expect, it } from 'vitest';
import type { Fact } from '../../machines/wire/fact.ts';
import { emptyHead } from '../../server/log/empty-head.ts';
import { verifyPath } from '../../server/log/verify-log.ts';
import { openSqliteLog, SqliteLog, type SqliteLogOptions } from '../../server/log/sqlite-log.ts';
import { SqliteThread } from '../../server/log/sqlite-thread.ts';
import { logContract } from '../contracts/log-contract.ts';
import { temporaryDirectories } from '../contracts/temporary-directory.ts';
import { until } from '../contracts/until.ts';
import { headOf, logOf, restEnded, sealAfter, stoodDown, unitNamed } from '../support/facts.ts';

const newDirectory = temporaryDirectories();

logContract('SQLite', { durable: true, shared: false }, () => {
  const directory = newDirectory();
  return Promise.resolve({ open: () => openSqliteLog(directory), dispose: () => Promise.resolve() });
});

const unit = unitNamed('cedar');
/** Starting other programs takes its time on a busy machine. */
const slowly = { timeout: 60_000 };
const logs: SqliteLog[] = [];
const children: ChildProcess[] = [];
afterEach(async () => {
  for (const child of children.splice(0)) child.kill('SIGKILL');
  for (const log of logs.splice(0)) await log.close();
});

async function openLog(directory = newDirectory(), options: SqliteLogOptions = {}): Promise<SqliteLog> {
  const log = await openSqliteLog(directory, options);
  logs.push(log);
  return log;
}

describe('group commit', () => {
  it('puts what gathers during one transaction into the next, across units', async () => {
    const commits: { appends: number; facts: number }[] = [];
    const log = await openLog(newDirectory(), { onCommit: (commit) => commits.push(commit) });
    const units = Array.from({ length: 100 }, (_one, index) => unitNamed(`unit-${index}`));
    await Promise.all(units.map((id) => log.append(id, 0, logOf(id, 3))));
    expect(commits).toEqual([
      { appends: 1, facts: 3 },
      { appends: 99, facts: 297 },
    ]);
  });

  it('takes only so many at once', async () => {
    const appends: number[] = [];
    const log = await openLog(newDirectory(), { onCommit: (commit) => appends.push(commit.appends) });
    const units = Array.from({ length: 600 }, (_one, index) => unitNamed(`unit-${index}`));
    await Promise.all(units.map((id) => log.append(id, 0, logOf(id, 1))));
    expect(appends).toEqual([1, 256, 256, 87]);
  });

  it('commits at once what comes alone', async () => {
    const appends: number[] = [];
    const log = await openLog(newDirectory(), { onCommit: (commit) => appends.push(commit.appends) });
    const facts = logOf(unit, 4);
    for (const [index, fact] of facts.entries()) await log.append(unit, index, [fact]);
    expect(appends).toEqual([1, 1, 1, 1]);
  });

  it('leaves the event loop free while a transaction waits', async () => {
    const directory = newDirectory();
    const log = await openLog(directory, { busyTimeoutMs: 10_000 });
    const release = holdDatabase(directory);
    let settled = false;
    const append = log.append(unit, 0, logOf(unit, 1)).finally(() => (settled = true));
    for (let turn = 0; turn < 1000; turn++) await new Promise((resolve) => setImmediate(resolve));
    expect(settled).toBe(false);
    release();
    expect(await append).toEqual({ outcome: 'appended' });
  });
});

describe('an append among others in one transaction', () => {
  it('loses its race or meets its known report without harm to its neighbours', async () => {
    const log = await openLog();
    const [cedar, birch, alder, maple] = ['cedar', 'birch', 'alder', 'maple'].map(unitNamed) as [
      typeof unit,
      ...(typeof unit)[],
    ];
    await log.append(birch!, 0, sealAfter(emptyHead, birch!, [stoodDown('r1')]));
    const outcomes = await Promise.all([
      log.append(cedar, 0, logOf(cedar, 1)),
      log.append(alder!, 0, logOf(alder!, 2)),
      log.append(alder!, 0, sealAfter(emptyHead, alder!, [restEnded()])),
      log.append(birch!, 1, sealAfter(headOf(await log.read(birch!, 0, 1)), birch!, [stoodDown('r1')])),
      log.append(maple!, 0, logOf(maple!, 2)),
    ]);
    expect(outcomes).toEqual([
      { outcome: 'appended' },
      { outcome: 'appended' },
      { outcome: 'moved', head: 2 },
      { outcome: 'known-report', report: 'r1' },
      { outcome: 'appended' },
    ]);
  });

  it('fails alone when the database refuses one of its facts', async () => {
    const directory = newDirectory();
    const log = await openLog(directory);
    refuseFactsThatSay(directory, 'POISON', 'ABORT');
    const [first, ...group] = await Promise.allSettled(appendsAround(log, 'POISON'));
    expect(first).toMatchObject({ status: 'fulfilled' });
    expect(group.map(({ status }) => status)).toEqual(['fulfilled', 'rejected', 'fulfilled']);
    expect(group[1]).toMatchObject({ reason: { code: 'store-failed' } });
    expect(await log.head(unitNamed('between'))).toEqual(emptyHead);
    expect((await log.head(unitNamed('after'))).number).toBe(2);
  });

  it('is refused with all of them when the whole transaction is rolled back, and the log lives on', async () => {
    const directory = newDirectory();
    const log = await openLog(directory);
    refuseFactsThatSay(directory, 'POISON', 'ROLLBACK');
    const [first, ...group] = await Promise.allSettled(appendsAround(log, 'POISON'));
    expect(first).toMatchObject({ status: 'fulfilled' });
    expect(group.map(({ status }) => status)).toEqual(['rejected', 'rejected', 'rejected']);
    for (const id of ['before', 'between', 'after']) expect(await log.head(unitNamed(id))).toEqual(emptyHead);
    expect(await Promise.all(appendsAround(log, 'harmless', 1))).toHaveLength(4);
  });
});

describe('trouble', () => {
  it('rejects while another program holds the database, and goes on afterwards', async () => {
    const directory = newDirectory();
    const log = await openLog(directory, { busyTimeoutMs: 20 });
    const release = holdDatabase(directory);
    await expect(log.append(unit, 0, logOf(unit, 2))).rejects.toMatchObject({
      code: 'store-failed',
      message: expect.stringContaining('SQLITE_BUSY') as string,
    });
    expect(await log.head(unit)).toEqual(emptyHead);
    release();
    expect(await log.append(unit, 0, logOf(unit, 2))).toEqual({ outcome: 'appended' });
  });

  it('rejects a snapshot that the database refuses, and appends go on', async () => {
    const directory = newDirectory();
    const log = await openLog(directory);
    const database = new Database(join(directory, 'anteroom.db'));
    database.exec(
      `CREATE TRIGGER refuse BEFORE INSERT ON snapshots BEGIN SELECT RAISE(ABORT, 'refused by the test'); END`,
    );
    database.close();
    const snapshot = { number: 1, hash: 'h', foldVersion: 1, state: '{}' };
    await expect(log.saveSnapshot(unit, snapshot)).rejects.toMatchObject({ code: 'store-failed' });
    expect(await log.append(unit, 0, logOf(unit, 1))).toEqual({ outcome: 'appended' });
  });

  it('refuses everything, pending and later, when the thread dies', async () => {
    const thread = await SqliteThread.start({ directory: newDirectory(), busyTimeoutMs: 1000 });
    const log = new SqliteLog(thread);
    const facts = logOf(unit, 3);
    await log.append(unit, 0, facts.slice(0, 1));
    const pending = [log.append(unit, 1, facts.slice(1, 2)), log.append(unit, 2, facts.slice(2)), log.head(unit)];
    const refused = Promise.allSettled(pending);
    await thread.kill();
    for (const one of await refused) expect(one).toMatchObject({ status: 'rejected', reason: { code: 'thread-died' } });
    await expect(log.append(unit, 3, sealAfter(headOf(facts), unit, [restEnded()]))).rejects.toThrow(
      /Restart the server/,
    );
    await expect(log.read(unit, 0, 1)).rejects.toMatchObject({ code: 'thread-died' });
    await log.close();
  });

  it('says in one line that the directory is no place for a log', async () => {
    await expect(openSqliteLog(fileURLToPath(import.meta.url))).rejects.toMatchObject({ code: 'cannot-open' });
  });

  it('rejects on a full disk what does not fit, and keeps what was acknowledged', slowly, async () => {
    const directory = newDirectory();
    // A limit on the size of any file it writes stands in for the full disk.
    const child = run(directory, ['cedar'], ['bash', '-c', 'ulimit -f 256; exec "$@"', 'limited']);
    await once(child.process, 'exit');
    const refused = child.lines.find((line) => line.startsWith('refused'));
    expect(refused).toMatch(/^refused store-failed .*The database refused/);
    const last = lastAcknowledged(child.lines).get('cedar') ?? 0;
    expect(last).toBeGreaterThan(10);
    expect(child.lines.at(-1)).toBe(`head cedar ${last}`);
    const log = await openLog(directory);
    expect((await log.head(unit)).number).toBeGreaterThanOrEqual(last);
    await expectSound(directory);
  });
});

describe('the data directory', () => {
  it('is for the eyes of its owner only', async () => {
    const directory = join(newDirectory(), 'made', 'by', 'the-log');
    await openLog(directory);
    expect(statSync(directory).mode & 0o077).toBe(0);
  });

  it('takes one server at a time, in this process too', async () => {
    const directory = newDirectory();
    const first = await openLog(directory);
    const second = openSqliteLog(directory);
    await expect(second).rejects.toMatchObject({ code: 'directory-in-use' });
    await expect(second).rejects.toThrow(`Another Anteroom server is running on the data directory ${directory}.`);
    expect(await first.append(unit, 0, logOf(unit, 1))).toEqual({ outcome: 'appended' });
    await first.close();
    expect((await (await openLog(directory)).head(unit)).number).toBe(1);
  });

  it('is held by another process, and free as soon as that is killed', slowly, async () => {
    const directory = newDirectory();
    const child = run(directory, ['cedar']);
    await until('the other process has written', () => lastAcknowledged(child.lines).size > 0);
    await expect(openSqliteLog(directory)).rejects.toMatchObject({ code: 'directory-in-use' });
    child.process.kill('SIGKILL');
    await once(child.process, 'exit');
    expect((await (await openLog(directory)).head(unit)).number).toBeGreaterThan(0);
  });

  it('holds no more than two snapshots per unit and fold version', async () => {
    const directory = newDirectory();
    const log = await openLog(directory);
    for (const foldVersion of [1, 2])
      for (const number of [10, 30, 20, 5, 40])
        await log.saveSnapshot(unit, { number, foldVersion, hash: 'h', state: '{}' });
    const rows = query(directory, 'SELECT foldVersion, number FROM snapshots ORDER BY foldVersion, number');
    expect(rows).toEqual([
      { foldVersion: 1, number: 30 },
      { foldVersion: 1, number: 40 },
      { foldVersion: 2, number: 30 },
      { foldVersion: 2, number: 40 },
    ]);
  });
});

describe('killed in the middle of everything', () => {
  it('has lost nothing that was acknowledged, and continues', slowly, async () => {
    const directory = newDirectory();
    const units = ['cedar', 'birch', 'alder'];
    const acknowledged = new Map<string, number>();
    for (const round of [1, 2, 3]) {
      const child = run(directory, units);
      await until(`round ${round} has written`, () => child.lines.length > 100 + 37 * round);
      child.process.kill('SIGKILL');
      await once(child.process, 'close');
      expect(child.lines.filter((line) => line.startsWith('refused'))).toEqual([]);
      for (const [id, number] of lastAcknowledged(child.lines)) acknowledged.set(id, number);
      await expectSound(directory);
      const log = await openSqliteLog(directory);
      for (const id of units) {
        expect(acknowledged.get(id)).toBeGreaterThan(0);
        expect((await log.head(unitNamed(id))).number).toBeGreaterThanOrEqual(acknowledged.get(id) ?? Infinity);
      }
      await log.close();
    }
  });
});

/** Appends of four units; the first goes alone, the other three share the next transaction. */
function appendsAround(log: SqliteLog, reason: string, expectedOfFirst = 0) {
  const append = (name: string, expected: number, facts: readonly Fact[]) =>
    log.append(unitNamed(name), expected, facts);
  const alone = logOf('alone', 2).slice(expectedOfFirst);
  return [
    append('alone', expectedOfFirst, expectedOfFirst === 0 ? alone.slice(0, 1) : alone),
    append('before', 0, logOf('before', 2)),
    append('between', 0, sealAfter(emptyHead, 'between', [stoodDown('r1'), stoodDown('r2', reason)])),
    append('after', 0, logOf('after', 2)),
  ];
}

/** A trigger is a real error from inside SQLite: ABORT fails the statement, ROLLBACK the whole transaction, as a full disk may. */
function refuseFactsThatSay(directory: string, word: string, action: 'ABORT' | 'ROLLBACK'): void {
  const database = new Database(join(directory, 'anteroom.db'));
  database.exec(`CREATE TRIGGER refuse BEFORE INSERT ON facts WHEN new.fact LIKE '%${word}%'
    BEGIN SELECT RAISE(${action}, 'refused by the test'); END`);
  database.close();
}

function holdDatabase(directory: string): () => void {
  const database = new Database(join(directory, 'anteroom.db'), { timeout: 5000 });
  database.exec('BEGIN IMMEDIATE');
  return () => {
    database.exec('ROLLBACK');
    database.close();
  };
}

function query(directory: string, sql: string): unknown[] {
  const database = new Database(join(directory, 'anteroom.db'));
  const rows = database.prepare(sql).all();
  database.close();
  return rows;
}

const program = fileURLToPath(new URL('../contracts/append-until-killed.ts', import.meta.url));

function run(directory: string, units: string[], before: string[] = []) {
  const [command = '', ...rest] = [
    ...before,
    process.execPath,
    '--import',
    import.meta.resolve('tsx'),
    program,
    directory,
    ...units,
  ];
  const child = spawn(command, rest, { stdio: ['ignore', 'pipe', 'inherit'] });
  children.push(child);
  const lines: string[] = [];
  createInterface({ input: child.stdout }).on('line', (line) => lines.push(line));
  return { process: child, lines };
}

function lastAcknowledged(lines: readonly string[]): Map<string, number> {
  const last = new Map<string, number>();
  for (const line of lines) {
    const [word, id, number] = line.split(' ');
    // A line that was cut by the kill is no acknowledgement anybody could have read.
    if (word === 'acknowledged' && id && number) last.set(id, Number(number));
  }
  return last;
}

async function expectSound(directory: string): Promise<void> {
  expect(await verifyPath(directory)).toMatchObject({ outcome: 'holds' });
}
