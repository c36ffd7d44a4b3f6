import { createHash } from 'node:crypto';
import type { Fact, NumberedFact } from '../../machines/wire/fact.ts';
import { emptyHead } from './empty-head.ts';
import { checkFact } from './fact-check.ts';
import type { LogHead } from './log.ts';

/**
 * The hash chain that makes the log a record. Each fact carries the hash of the one before it, so nothing in the middle can
 * be changed, taken out, put in or swapped without every later hash coming out wrong.
 *
 * The confidential part is hashed by itself and only its digest is in the chain: a screen that never sees a pulse can still
 * check the whole log, and a confidential part that had to be erased leaves the chain whole. Its salt keeps the digest from
 * being guessed back.
 *
 * What a chain can't show by itself: whoever can write the whole file can cut off its tail, or compute all hashes anew.
 * Against that helps only a witness, a head (number and hash) that was noted somewhere else.
 */
/** What the first fact carries as the hash before it. */
export const genesisHash = emptyHead.hash;

/** Gives a numbered fact its place in the chain. */
export function sealFact(numbered: NumberedFact, previousHash: string): Fact {
  const { confidential, ...open } = numbered;
  const digest = confidential && { confidentialDigest: sha256(canonicalJson(confidential)) };
  const chained = { ...open, ...digest, previousHash };
  return { ...chained, ...(confidential && { confidential }), hash: hashOf(chained) } as Fact;
}

/** The hash a fact must have: over the hash before it and everything that everybody may see. */
function hashOf(fact: { previousHash: string; hash?: string; confidential?: unknown }): string {
  const { hash: _hash, confidential: _confidential, ...open } = fact;
  return sha256(fact.previousHash + canonicalJson(open));
}

const sha256 = (text: string) => createHash('sha256').update(text, 'utf8').digest('hex');

/**
 * One text for one value, whatever order its fields were written in: the rules of RFC 8785 (JSON Canonicalization Scheme),
 * keys sorted by UTF-16 code units, no white space. A field that is undefined counts as absent, as in JSON. What JSON would
 * silently turn into something else (NaN, a Date, a hole in an array) throws: its hash would not survive storage.
 */
export function canonicalJson(value: unknown): string {
  switch (typeof value) {
    case 'string':
    case 'boolean':
      return JSON.stringify(value);
    case 'number':
      if (!Number.isFinite(value)) throw new TypeError(`${value} has no place in a fact`);
      return JSON.stringify(value);
    case 'object':
      if (value === null) return 'null';
      return Array.isArray(value) ? `[${value.map(canonicalJson).join(',')}]` : canonicalObject(value);
    default:
      throw new TypeError(`a value of type ${typeof value} has no place in a fact`);
  }
}

function canonicalObject(value: object): string {
  const prototype: unknown = Object.getPrototypeOf(value);
  if (prototype !== Object.prototype && prototype !== null) throw new TypeError('only plain objects belong in a fact');
  const fields = Object.entries(value)
    .filter(([, field]) => field !== undefined)
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([key, field]) => `${JSON.stringify(key)}:${canonicalJson(field)}`);
  return `{${fields.join(',')}}`;
}

/**
 * `ok` means: these facts follow each other from number 1 without a gap, and none was changed after it was sealed. It does
 * NOT mean that nothing was cut off the end. Compare `head` with one noted elsewhere, or give it as `witness`.
 */
export type ChainVerification =
  | { ok: true; count: number; head: LogHead }
  /** `number` is the first place at which the log is not what it should be; everything before it holds. */
  | { ok: false; number: number; reason: string };

export async function verifyChain(
  facts: Iterable<unknown> | AsyncIterable<unknown>,
  witness?: LogHead,
): Promise<ChainVerification> {
  let head = emptyHead;
  let unit: string | undefined;
  for await (const value of facts) {
    const number = head.number + 1;
    const checked = checkFact(value);
    if (!checked.ok) return { ok: false, number, reason: checked.reason };
    const { fact } = checked;
    const reason = misfit(fact, head, unit ?? fact.unit) ?? contradiction(fact, witness);
    if (reason) return { ok: false, number, reason };
    head = { number, hash: fact.hash };
    unit = fact.unit;
  }
  if (witness && head.number < witness.number) {
    const reason = `the log ends at ${head.number}, but fact ${witness.number} was witnessed`;
    return { ok: false, number: head.number + 1, reason };
  }
  return { ok: true, count: head.number, head };
}

/** Why a fact can't stand after `head`; undefined when it can. */
function misfit(fact: Fact, head: LogHead, unit: string): string | undefined {
  if (fact.unit !== unit) return `it belongs to unit ${fact.unit}, the log to unit ${unit}`;
  if (fact.number !== head.number + 1) return `number ${fact.number} follows number ${head.number}`;
  if (fact.previousHash !== head.hash) return 'its previousHash is not the hash of the fact before it';
  if (fact.confidential && fact.confidentialDigest !== sha256(canonicalJson(fact.confidential)))
    return 'its confidential part does not match its digest';
  if (fact.hash !== hashOf(fact)) return 'its hash does not match what it says';
  return undefined;
}

function contradiction(fact: Fact, witness: LogHead | undefined): string | undefined {
  return fact.number === witness?.number && fact.hash !== witness.hash
    ? 'it is not the fact that was witnessed under this number'
    : undefined;
}
