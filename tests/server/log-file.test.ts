import { readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { Fact } from '../../machines/wire/fact.ts';
import { MemoryLog } from '../../server/log/memory-log.ts';
import { factLine, readLogFile, writeLogFile } from '../../server/log/read-log-file.ts';
import { readWholeLog } from '../../server/log/read-whole-log.ts';
import { temporaryDirectories } from '../contracts/temporary-directory.ts';
import { logOf, unitNamed } from '../support/facts.ts';

const newDirectory = temporaryDirectories();
const facts = logOf('cedar', 700);

function fileWith(content: string | Buffer): string {
  const path = join(newDirectory(), 'log.jsonl');
  writeFileSync(path, content);
  return path;
}

async function readAll(path: string): Promise<Fact[]> {
  const read: Fact[] = [];
  for await (const fact of readLogFile(path)) read.push(fact);
  return read;
}

const lines = (some: readonly Fact[]) => some.map(factLine).join('');

describe('a log file', () => {
  it('gives back what was written, and is longer than one piece of a stream', async () => {
    const path = join(newDirectory(), 'log.jsonl');
    await writeLogFile(path, facts);
    expect(readFileSync(path).length).toBeGreaterThan(3 * 64 * 1024);
    expect(await readAll(path)).toEqual(facts);
  });

  it('takes the whole log of a unit, a page at a time', async () => {
    const log = new MemoryLog();
    await log.append(unitNamed('cedar'), 0, facts);
    const path = join(newDirectory(), 'log.jsonl');
    await writeLogFile(path, readWholeLog(log, unitNamed('cedar')));
    expect(await readAll(path)).toEqual(facts);
  });

  it('may or may not end with a line end, of either kind', async () => {
    const three = facts.slice(0, 3);
    expect(await readAll(fileWith(lines(three)))).toEqual(three);
    expect(await readAll(fileWith(lines(three).trimEnd()))).toEqual(three);
    expect(await readAll(fileWith(lines(three).replaceAll('\n', '\r\n')))).toEqual(three);
    expect(await readAll(fileWith(''))).toEqual([]);
  });

  it('is read as it is: what the schema would tidy up stays', async () => {
    const [fact] = facts as [Fact];
    const untidy = { ...fact, kind: 'stood-down', data: { worker: 'ben', reason: '  Felt unwell. ' } };
    expect(await readAll(fileWith(JSON.stringify(untidy)))).toEqual([untidy]);
  });

  it('is never overwritten, and is for its owner only', async () => {
    const path = join(newDirectory(), 'log.jsonl');
    await writeLogFile(path, facts.slice(0, 3));
    expect(statSync(path).mode & 0o077).toBe(0);
    await expect(writeLogFile(path, facts)).rejects.toThrow(/EEXIST/);
    expect(await readAll(path)).toEqual(facts.slice(0, 3));
  });

  const [first, second] = facts as [Fact, Fact];
  it.each<[string, string | Buffer, string]>([
    ['a line that is not JSON', factLine(first) + '{"v":1,\n' + factLine(second), 'line 2: it is not JSON'],
    ['a line that was cut', factLine(first) + factLine(second).slice(0, 90), 'line 2: it is not JSON'],
    ['an empty line', factLine(first) + '\n' + factLine(second), 'line 2: it is empty'],
    ['two line ends at the end', factLine(first) + '\n', 'line 2: it is empty'],
    [
      'an unknown kind',
      factLine({ ...first, kind: 'tea-served' } as never),
      'line 1: "tea-served" is not a known kind of fact',
    ],
    ['no kind', '{}', 'line 1: a missing kind is not a known kind of fact'],
    ['a list', '[]', 'line 1: it is not a JSON object'],
    ['a field too many', factLine({ ...first, extra: 1 } as never), 'line 1: it is not a valid rest-ended: '],
    [
      'bytes that are no text',
      Buffer.concat([Buffer.from(factLine(first)), Buffer.from([0xff, 0xfe, 10])]),
      'line 2: it is not UTF-8 text',
    ],
    [
      'a line above 1 MiB',
      factLine(first) + `"${'x'.repeat(1024 * 1024)}"\n`,
      'line 2: it is longer than 1048576 bytes',
    ],
    ['a line above 1 MiB that never ends', factLine(first) + 'x'.repeat(3 * 1024 * 1024), 'line 2: it is longer than'],
  ])('is refused for %s, with the line and the reason', async (_name, content, message) => {
    const path = fileWith(content);
    await expect(readAll(path)).rejects.toThrow(message);
    await expect(readAll(path)).rejects.toMatchObject({ name: 'LogFileError', line: Number(message[5]) });
  });

  it('says that it is not there', async () => {
    await expect(readAll(join(newDirectory(), 'none.jsonl'))).rejects.toThrow(/ENOENT/);
  });
});
