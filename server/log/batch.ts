import type { Fact } from '../../machines/wire/fact.ts';
import type { ReportId, UnitId } from '../../machines/wire/ids.ts';
import { factBytesMost } from './limits.ts';
import { LogError } from './log-error.ts';
import type { ReportTrace } from './log.ts';

/**
 * An append made ready for storage, the same for every store: facts as text, and what each of its reports led to. Made in
 * one place so that a mistake in the program (numbers that don't follow, hashes that don't join, a fact of another unit) is
 * stopped before anything is written, whichever store is in use.
 */
export interface Batch {
  unit: UnitId;
  expected: number;
  /** The hash the log must have at `expected`. */
  previousHash: string;
  facts: StoredFact[];
  reports: ({ report: ReportId } & ReportTrace)[];
}

export interface StoredFact {
  number: number;
  hash: string;
  /** The whole fact as JSON, its confidential part included. */
  text: string;
}

export function batchOf(unit: UnitId, expected: number, facts: readonly Fact[]): Batch {
  const first = facts[0];
  if (!first) throw broken(unit, expected, 'it holds no facts');
  checkOrder(unit, expected, facts);
  return { unit, expected, previousHash: first.previousHash, facts: facts.map(stored), reports: reportsOf(facts) };
}

function checkOrder(unit: UnitId, expected: number, facts: readonly Fact[]): void {
  let previous: Fact | undefined;
  for (const [index, fact] of facts.entries()) {
    if (fact.unit !== unit) throw broken(unit, expected, `it holds a fact of unit ${fact.unit}`);
    if (fact.number !== expected + index + 1) throw broken(unit, expected, `number ${fact.number} is out of place`);
    if (previous && fact.previousHash !== previous.hash)
      throw broken(unit, expected, `fact ${fact.number} does not carry the hash of the fact before it`);
    previous = fact;
  }
}

function stored(fact: Fact): StoredFact {
  const text = JSON.stringify(fact);
  if (Buffer.byteLength(text) > factBytesMost)
    throw broken(fact.unit, fact.number - 1, `fact ${fact.number} is larger than ${factBytesMost} bytes`);
  return { number: fact.number, hash: fact.hash, text };
}

function reportsOf(facts: readonly Fact[]): Batch['reports'] {
  const reports = new Map<ReportId, { report: ReportId } & ReportTrace>();
  for (const fact of facts) {
    if (!fact.report) continue;
    const { id, sequence } = fact.report;
    const known = reports.get(id);
    if (known) known.numbers.push(fact.number);
    else reports.set(id, { report: id, device: deviceOf(fact), sequence, numbers: [fact.number] });
  }
  return [...reports.values()];
}

function deviceOf(fact: Fact): string {
  if ('device' in fact.by) return fact.by.device;
  throw broken(fact.unit, fact.number - 1, `fact ${fact.number} comes from a report but from no device`);
}

function broken(unit: string, expected: number, why: string): LogError {
  return new LogError('broken-batch', `The facts for unit ${unit} after number ${expected} can't be appended: ${why}.`);
}

export function diverged({ unit, expected }: Batch): LogError {
  const sentence = `The log of unit ${unit} has another history up to number ${expected} than this server. It must be read again.`;
  return new LogError('diverged', sentence);
}

export function checkRange(after: number, limit: number): void {
  if (!Number.isSafeInteger(after) || after < 0 || !Number.isSafeInteger(limit) || limit < 0)
    throw new RangeError(
      `facts are read after a number and up to a limit, both whole and not negative: ${after}, ${limit}`,
    );
}
