import { existsSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { verifyChain, type ChainVerification } from './hash-chain.ts';
import { messageOf } from './log-error.ts';
import { LogFileError, readLines } from './read-log-file.ts';
import { SqliteReader, type StoredRow } from './sqlite-reader.ts';

/**
 * Checks a log where it lies: a .jsonl file, or a data directory with every unit in it, also while its server is running.
 *
 * `holds` says that nothing in the middle was changed, taken out, put in or swapped. It can't say that nothing was cut off
 * the end, nor that somebody with the whole log in hand did not compute every hash anew: for that, compare each head (number
 * and hash) with one that was noted elsewhere.
 */
export type LogVerification =
  | { outcome: 'holds'; logs: VerifiedLog[] }
  /** At least one log is broken; each says where and why. */
  | { outcome: 'broken'; logs: VerifiedLog[] }
  /** There was nothing to check. */
  | { outcome: 'unreadable'; reason: string };

export interface VerifiedLog {
  /** The unit in a data directory; for a file, the file. */
  name: string;
  chain: ChainVerification;
}

export async function verifyPath(path: string): Promise<LogVerification> {
  try {
    const logs = statSync(path).isDirectory() ? await verifyDirectory(path) : [await verifyFile(path)];
    return { outcome: logs.every(({ chain }) => chain.ok) ? 'holds' : 'broken', logs };
  } catch (error) {
    return { outcome: 'unreadable', reason: `The log at ${path} can't be read: ${messageOf(error)}` };
  }
}

const verifyFile = (path: string): Promise<VerifiedLog> => verify(path, valuesOfFile(path));

async function* valuesOfFile(path: string): AsyncGenerator<unknown> {
  for await (const line of readLines(path)) yield parsed(line);
}

async function verifyDirectory(directory: string): Promise<VerifiedLog[]> {
  const file = join(directory, 'anteroom.db');
  if (!existsSync(file)) throw new Error('there is no anteroom.db in this directory');
  const reader = new SqliteReader(file);
  try {
    const logs: VerifiedLog[] = [];
    for (const unit of reader.units()) logs.push(await verify(unit, valuesOfRows(reader.rows(unit))));
    return logs;
  } finally {
    reader.close();
  }
}

/** The facts of a unit; stops at one that is filed under columns that say something else than it does. */
function* valuesOfRows(rows: Iterable<StoredRow>): Generator<unknown> {
  let number = 0;
  for (const row of rows) {
    number += 1;
    const value = parsed(row.fact);
    const stored = (typeof value === 'object' && value ? value : row) as StoredRow;
    for (const column of ['unit', 'number', 'hash'] as const) {
      if (stored[column] !== row[column])
        throw new FlawError(number, `it is filed under ${column} ${row[column]}, which is not what it says`);
    }
    yield value;
  }
}

async function verify(name: string, values: Iterable<unknown> | AsyncIterable<unknown>): Promise<VerifiedLog> {
  try {
    return { name, chain: await verifyChain(values) };
  } catch (error) {
    // One fact a line, from number 1: up to a broken line, line and number are the same.
    const number = error instanceof LogFileError ? error.line : error instanceof FlawError ? error.number : undefined;
    if (number === undefined) throw error;
    return { name, chain: { ok: false, number, reason: messageOf(error) } };
  }
}

class FlawError extends Error {
  readonly number: number;
  constructor(number: number, reason: string) {
    super(reason);
    this.number = number;
  }
}

/** What is not JSON stays text, and is then not a fact. */
function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return text;
  }
}
