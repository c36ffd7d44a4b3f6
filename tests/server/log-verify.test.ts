import { execFile } from 'node:child_process';
import { copyFileSync, existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { promisify } from 'node:util';
import Database from 'libsql';
import { beforeEach, describe, expect, it } from 'vitest';
import type { Fact } from '../../machines/wire/fact.ts';
import { factLine } from '../../server/log/read-log-file.ts';
import { openSqliteLog } from '../../server/log/sqlite-log.ts';
import { verifyPath } from '../../server/log/verify-log.ts';
import { temporaryDirectories } from '../contracts/temporary-directory.ts';
import { headOf, logOf, restEnded, sealAfter, unitNamed } from '../support/facts.ts';

const newDirectory = temporaryDirectories();
const facts = logOf('cedar', 30);

describe('verifying a file', () => {
  let path: string;
  beforeEach(() => {
    path = join(newDirectory(), 'log.jsonl');
    writeFileSync(path, facts.map(factLine).join(''));
  });

  const lines = () => readFileSync(path, 'utf8').trimEnd().split('\n');
  const rewrite = (changed: string[]) => writeFileSync(path, changed.map((line) => `${line}\n`).join(''));
  const broken = (number: number, reason: unknown) => ({
    outcome: 'broken',
    logs: [{ name: path, chain: { ok: false, number, reason } }],
  });

  it('holds when nobody touched it', async () => {
    const chain = { ok: true, count: 30, head: headOf(facts) };
    expect(await verifyPath(path)).toEqual({ outcome: 'holds', logs: [{ name: path, chain }] });
  });

  it('finds every flipped bit', async () => {
    const original = readFileSync(path);
    const lineOf = (offset: number) => original.subarray(0, offset).filter((byte) => byte === 10).length + 1;
    let tried = 0;
    // A step that shares no factor with 8 meets every bit position, all over the file.
    for (let bit = 3; bit < original.length * 8; bit += 509) {
      const changed = Buffer.from(original);
      const offset = bit >> 3;
      changed[offset]! ^= 1 << (bit & 7);
      // A line end that became another character joins two lines; the other way round it cuts one in two. Both break that line.
      writeFileSync(path, changed);
      expect(await verifyPath(path), `bit ${bit}`).toMatchObject(broken(lineOf(offset), expect.any(String)));
      tried += 1;
    }
    expect(tried).toBeGreaterThan(150);
  });

  it('finds a fact that was taken out', async () => {
    rewrite(lines().filter((_line, index) => index !== 11));
    expect(await verifyPath(path)).toEqual(broken(12, 'number 13 follows number 11'));
  });

  it('finds two facts that were swapped', async () => {
    const all = lines();
    rewrite([...all.slice(0, 4), all[5]!, all[4]!, ...all.slice(6)]);
    expect(await verifyPath(path)).toEqual(broken(5, 'number 6 follows number 4'));
  });

  it('finds a confidential value that was changed', async () => {
    const at = facts.findIndex((fact) => fact.confidential);
    rewrite(
      lines().map((line, index) => (index === at ? line.replace(/"pulsePerMin":\d+/, '"pulsePerMin":99') : line)),
    );
    expect(await verifyPath(path)).toEqual(broken(at + 1, 'its confidential part does not match its digest'));
  });

  it('can not find a tail that was cut off: only the head shows it', async () => {
    rewrite(lines().slice(0, 20));
    const verified = await verifyPath(path);
    expect(verified).toMatchObject({ outcome: 'holds', logs: [{ chain: { ok: true, head: { number: 20 } } }] });
  });

  it('finds a last line that was cut in the middle', async () => {
    writeFileSync(path, readFileSync(path, 'utf8').slice(0, -40));
    expect(await verifyPath(path)).toEqual(broken(30, 'it is not a JSON object'));
  });

  it('names a line that can not even be read', async () => {
    writeFileSync(path, facts.slice(0, 2).map(factLine).join('') + 'x'.repeat(2 * 1024 * 1024));
    expect(await verifyPath(path)).toEqual(broken(3, 'line 3: it is longer than 1048576 bytes'));
  });
});

describe('verifying a data directory', () => {
  let directory: string;
  beforeEach(async () => {
    directory = newDirectory();
    const log = await openSqliteLog(directory);
    await log.append(unitNamed('birch'), 0, logOf('birch', 4));
    await log.append(unitNamed('cedar'), 0, facts);
    await log.close();
  });

  const sound = (name: string, some: readonly Fact[]) => ({
    name,
    chain: { ok: true, count: some.length, head: headOf(some) },
  });
  const change = (sql: string) => {
    const database = new Database(join(directory, 'anteroom.db'));
    database.exec(sql);
    database.close();
  };
  const brokenAt = (number: number, reason: unknown) => ({
    outcome: 'broken',
    logs: [sound('birch', logOf('birch', 4)), { name: 'cedar', chain: { ok: false, number, reason } }],
  });

  it('holds, unit by unit, and changes nothing', async () => {
    const before = readFileSync(join(directory, 'anteroom.db'));
    const logs = [sound('birch', logOf('birch', 4)), sound('cedar', facts)];
    expect(await verifyPath(directory)).toEqual({ outcome: 'holds', logs });
    expect(readFileSync(join(directory, 'anteroom.db')).equals(before)).toBe(true);
  });

  it('reads what a crash left in the WAL file, and leaves it there as evidence', async () => {
    const log = await openSqliteLog(directory);
    const more = sealAfter(headOf(facts), 'cedar', [restEnded()]);
    await log.append(unitNamed('cedar'), 30, more);
    // The files as they are in this instant are what a power cut would leave.
    const left = newDirectory();
    for (const name of ['anteroom.db', 'anteroom.db-wal']) copyFileSync(join(directory, name), join(left, name));
    await log.close();
    const before = ['anteroom.db', 'anteroom.db-wal'].map((name) => readFileSync(join(left, name)));
    expect(before[1]!.length).toBeGreaterThan(0);
    expect(await verifyInOtherProcess(left)).toMatchObject({
      outcome: 'holds',
      logs: [{}, sound('cedar', [...facts, ...more])],
    });
    const after = ['anteroom.db', 'anteroom.db-wal'].map((name) => readFileSync(join(left, name)));
    expect(after.map((content, index) => content.equals(before[index]!))).toEqual([true, true]);
  });

  it('works beside a running server, and sees what it has just written', async () => {
    const log = await openSqliteLog(directory);
    const more = sealAfter(headOf(facts), 'cedar', [restEnded()]);
    await log.append(unitNamed('cedar'), 30, more);
    expect(await verifyPath(directory)).toMatchObject({
      outcome: 'holds',
      logs: [{}, sound('cedar', [...facts, ...more])],
    });
    const further = sealAfter(headOf(more), 'cedar', [restEnded()]);
    expect(await log.append(unitNamed('cedar'), 31, further)).toEqual({ outcome: 'appended' });
    await log.close();
  });

  it.each([
    [
      'a fact that was changed',
      `UPDATE facts SET fact = replace(fact, 'Felt unwell.', 'Felt fine.') WHERE unit = 'cedar' AND number = 5`,
      5,
      'its hash does not match what it says',
    ],
    [
      'a fact that was taken out',
      `DELETE FROM facts WHERE unit = 'cedar' AND number = 9`,
      9,
      'number 10 follows number 8',
    ],
    [
      'a confidential value that was changed',
      `UPDATE facts SET fact = replace(fact, '"pulsePerMin":62', '"pulsePerMin":99') WHERE unit = 'cedar' AND number = 3`,
      3,
      'its confidential part does not match its digest',
    ],
    [
      'two facts that were swapped',
      `UPDATE facts SET number = CASE number WHEN 7 THEN -7 ELSE 7 END WHERE unit = 'cedar' AND number IN (7, 8); UPDATE facts SET number = 8 WHERE number = -7`,
      7,
      'it is filed under number 7, which is not what it says',
    ],
    [
      'another hash beside the fact',
      `UPDATE facts SET hash = '${'a'.repeat(64)}' WHERE unit = 'cedar' AND number = 30`,
      30,
      `it is filed under hash ${'a'.repeat(64)}, which is not what it says`,
    ],
    [
      'a last fact filed too far on',
      `UPDATE facts SET number = 99 WHERE unit = 'cedar' AND number = 30`,
      30,
      'it is filed under number 99, which is not what it says',
    ],
    [
      'text that is not JSON',
      `UPDATE facts SET fact = 'x' WHERE unit = 'cedar' AND number = 4`,
      4,
      'it is not a JSON object',
    ],
  ])('finds %s', async (_name, sql, number, reason) => {
    change(sql);
    expect(await verifyPath(directory)).toEqual(brokenAt(number, reason));
  });

  it('finds a fact that was filed under another unit', async () => {
    change(`UPDATE facts SET unit = 'birch', number = 5 WHERE unit = 'cedar' AND number = 30`);
    expect(await verifyPath(directory)).toMatchObject({
      outcome: 'broken',
      logs: [{ name: 'birch', chain: { ok: false, number: 5 } }, sound('cedar', facts.slice(0, 29))],
    });
  });
});

describe('nothing to verify', () => {
  it('is said in one line', async () => {
    const empty = newDirectory();
    const missing = join(empty, 'none.jsonl');
    expect(await verifyPath(missing)).toMatchObject({
      outcome: 'unreadable',
      reason: expect.stringContaining(missing) as string,
    });
    expect(await verifyPath(empty)).toMatchObject({
      outcome: 'unreadable',
      reason: expect.stringMatching(/no anteroom\.db/) as string,
    });
    expect(existsSync(join(empty, 'anteroom.db'))).toBe(false);
    writeFileSync(join(empty, 'anteroom.db'), 'this is no database, whatever its name says '.repeat(50));
    expect(await verifyPath(empty)).toMatchObject({ outcome: 'unreadable' });
    expect(readdirSync(empty)).toEqual(['anteroom.db']);
  });
});

/** In a process that ends: what SQLite would tidy up, it tidies up at the end. */
async function verifyInOtherProcess(path: string): Promise<unknown> {
  const module = new URL('../../server/log/verify-log.ts', import.meta.url).href;
  const program = `import { verifyPath } from '${module}'; console.log(JSON.stringify(await verifyPath(process.argv[1])));`;
  const given = ['--import', import.meta.resolve('tsx'), '--input-type=module', '--eval', program, path];
  return JSON.parse((await promisify(execFile)(process.execPath, given)).stdout);
}
