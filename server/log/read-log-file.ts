import { createReadStream, createWriteStream } from 'node:fs';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import type { Fact } from '../../machines/wire/fact.ts';
import { checkFact } from './fact-check.ts';
import { factBytesMost } from './limits.ts';
import { messageOf } from './log-error.ts';

/**
 * A log as a file: one fact a line, in order (.jsonl). It is how a log leaves a server, for review, for training and for
 * whoever has to check it, so a file that is not right is refused with the number of the line and the reason.
 */
export class LogFileError extends Error {
  readonly line: number;
  constructor(line: number, reason: string) {
    super(`line ${line}: ${reason}`);
    this.name = 'LogFileError';
    this.line = line;
  }
}

/** The facts of a file, each checked to be one; whether they follow each other is `verifyChain`'s question. */
export async function* readLogFile(path: string): AsyncGenerator<Fact> {
  let number = 0;
  for await (const text of readLines(path)) {
    number += 1;
    const checked = checkFact(parseLine(text, number));
    if (!checked.ok) throw new LogFileError(number, checked.reason);
    yield checked.fact;
  }
}

function parseLine(text: string, number: number): unknown {
  if (text.trim() === '') throw new LogFileError(number, 'it is empty');
  try {
    return JSON.parse(text);
  } catch (error) {
    throw new LogFileError(number, `it is not JSON (${messageOf(error)})`);
  }
}

/**
 * The lines of a file. Not node:readline, which would read a line of any length into memory and pass on bytes that are not
 * UTF-8 as if they were. A line end after the last line is no line.
 */
export async function* readLines(path: string): AsyncGenerator<string> {
  let rest: Buffer = Buffer.alloc(0);
  let number = 1;
  for await (const chunk of createReadStream(path) as AsyncIterable<Buffer>) {
    rest = rest.length === 0 ? chunk : Buffer.concat([rest, chunk]);
    for (let end = rest.indexOf(lineEnd); end !== -1; end = rest.indexOf(lineEnd)) {
      yield decode(rest.subarray(0, end), number++);
      rest = rest.subarray(end + 1);
    }
    if (rest.length > factBytesMost) throw tooLong(number);
  }
  if (rest.length > 0) yield decode(rest, number);
}

const lineEnd = '\n'.charCodeAt(0);
const utf8 = new TextDecoder('utf-8', { fatal: true });

function decode(bytes: Buffer, number: number): string {
  if (bytes.length > factBytesMost) throw tooLong(number);
  try {
    return utf8.decode(bytes);
  } catch {
    throw new LogFileError(number, 'it is not UTF-8 text');
  }
}

const tooLong = (number: number) => new LogFileError(number, `it is longer than ${factBytesMost} bytes`);

/** Writes a new file; one that is there already is a record of its own and is not overwritten. */
export async function writeLogFile(path: string, facts: Iterable<Fact> | AsyncIterable<Fact>): Promise<void> {
  await pipeline(Readable.from(linesOf(facts)), createWriteStream(path, { flags: 'wx', mode: 0o600 }));
}

async function* linesOf(facts: Iterable<Fact> | AsyncIterable<Fact>): AsyncGenerator<string> {
  for await (const fact of facts) yield factLine(fact);
}

export const factLine = (fact: Fact): string => `${JSON.stringify(fact)}\n`;
