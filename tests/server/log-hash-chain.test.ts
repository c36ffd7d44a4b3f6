import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Fact, NumberedFact } from '../../machines/wire/fact.ts';
import { emptyHead } from '../../server/log/empty-head.ts';
import { canonicalJson, genesisHash, sealFact, verifyChain } from '../../server/log/hash-chain.ts';
import { headOf, logOf, restEnded, screened, sealAfter, stoodDown } from '../support/facts.ts';

const sha256 = (text: string) => createHash('sha256').update(text).digest('hex');

describe('canonicalJson', () => {
  it('sorts keys as RFC 8785 section 3.2.3 shows', () => {
    // The published example, whose keys are chosen so that sorting by bytes or by code points comes out differently.
    const value = {
      '\u20ac': 'Euro Sign',
      '\r': 'Carriage Return',
      '\ufb33': 'Hebrew Letter Dalet With Dagesh',
      '1': 'One',
      '\ud83d\ude00': 'Emoji: Grinning Face',
      '\u0080': 'Control',
      '\u00f6': 'Latin Small Letter O With Diaeresis',
    };
    expect(Object.values(JSON.parse(canonicalJson(value)) as object)).toHaveLength(7);
    expect([...canonicalJson(value).matchAll(/:"([^"]+)"/g)].map(([, name]) => name)).toEqual([
      'Carriage Return',
      'One',
      'Control',
      'Latin Small Letter O With Diaeresis',
      'Euro Sign',
      'Emoji: Grinning Face',
      'Hebrew Letter Dalet With Dagesh',
    ]);
  });

  it('sorts at every depth and drops what is undefined', () => {
    const value = { b: [{ d: 1, c: undefined, a: null }], a: { z: true, y: 'ü' } };
    expect(canonicalJson(value)).toBe('{"a":{"y":"ü","z":true},"b":[{"a":null,"d":1}]}');
  });

  it('is the same text for any order of the fields, and after a way through storage', () => {
    fc.assert(
      fc.property(fc.jsonValue(), (value) => {
        const stored: unknown = JSON.parse(JSON.stringify(value));
        expect(canonicalJson(reversed(value))).toBe(canonicalJson(stored));
        expect(JSON.parse(canonicalJson(value))).toEqual(stored);
      }),
    );
  });

  it.each([
    ['NaN', NaN],
    ['infinity', Infinity],
    ['a hole in an array', [undefined]],
    ['a date', { at: new Date(0) }],
    ['a map', new Map()],
    ['a function', () => 1],
    ['a big integer', 1n],
  ])('throws for %s', (_name, value) => {
    expect(() => canonicalJson(value)).toThrow(TypeError);
  });
});

describe('sealFact', () => {
  it('hashes the hash before it and the open part', () => {
    const [fact] = sealAfter(emptyHead, 'cedar', [stoodDown('r1')]) as [Fact];
    const { hash, ...open } = fact;
    expect(fact.previousHash).toBe('0'.repeat(64));
    expect(hash).toBe(sha256(genesisHash + canonicalJson(open)));
  });

  it('puts only a digest of the confidential part into the chain', () => {
    const [fact] = sealAfter(emptyHead, 'cedar', [screened('r1')]) as [Fact];
    const { hash, confidential, ...open } = fact;
    expect(fact.confidentialDigest).toBe(sha256(canonicalJson(confidential)));
    expect(hash).toBe(sha256(genesisHash + canonicalJson(open)));
  });

  it('gives the same hash whatever order the fields came in and whether absent ones are spelled out', () => {
    const [fact] = sealAfter(emptyHead, 'cedar', [stoodDown('r1')]) as [Fact];
    const { hash: _hash, previousHash: _previous, ...numbered } = fact;
    const spelled = {
      claimedAt: undefined,
      confidential: undefined,
      ...(reversed(numbered) as object),
    } as NumberedFact;
    expect(sealFact(spelled, genesisHash).hash).toBe(fact.hash);
  });
});

describe('verifyChain', () => {
  const facts = logOf('cedar', 12);
  const copy = () => structuredClone(facts);

  it('accepts a whole log, from any kind of source', async () => {
    const sound = { ok: true, count: 12, head: headOf(facts) };
    expect(await verifyChain(facts)).toEqual(sound);
    expect(await verifyChain(slowly(facts))).toEqual(sound);
    expect(await verifyChain([])).toEqual({ ok: true, count: 0, head: emptyHead });
  });

  it('accepts facts whose confidential part was withheld or erased', async () => {
    const open = facts.map(({ confidential: _withheld, ...fact }) => fact);
    expect(open.some((fact) => fact.confidentialDigest)).toBe(true);
    expect(await verifyChain(open)).toMatchObject({ ok: true, count: 12 });
  });

  it('names the fact that was changed', async () => {
    for (const number of [1, 5, 12]) {
      const changed = copy();
      changed[number - 1]!.receivedAt += 1;
      expect(await verifyChain(changed)).toEqual({ ok: false, number, reason: 'its hash does not match what it says' });
    }
  });

  it('names the fact after the one that was changed and hashed anew', async () => {
    const changed = copy();
    changed.splice(4, 1, ...sealAfter(headOf(facts.slice(0, 4)), 'cedar', [restEnded('somebody-else')]));
    expect(await verifyChain(changed)).toMatchObject({
      ok: false,
      number: 6,
      reason: expect.stringMatching(/previousHash/) as string,
    });
  });

  it.each([
    ['taken out', (all: Fact[]) => all.splice(6, 1), 7, 'number 8 follows number 6'],
    ['swapped', (all: Fact[]) => all.splice(6, 2, all[7]!, all[6]!), 7, 'number 8 follows number 6'],
    ['doubled', (all: Fact[]) => all.splice(6, 0, all[5]!), 7, 'number 6 follows number 6'],
    ['cut off the front', (all: Fact[]) => all.splice(0, 3), 1, 'number 4 follows number 0'],
    [
      'put in from another unit',
      (all: Fact[]) => all.splice(6, 1, logOf('birch', 7)[6]!),
      7,
      'it belongs to unit birch, the log to unit cedar',
    ],
  ])('names where a fact was %s', async (_name, tamper, number, reason) => {
    const tampered = copy();
    tamper(tampered);
    expect(await verifyChain(tampered)).toEqual({ ok: false, number, reason });
  });

  it('names a confidential part that is not the one that was sealed', async () => {
    const changed = copy();
    const at = changed.findIndex((fact) => fact.confidential);
    changed[at]!.confidential!.vitals = { pulsePerMin: 200 };
    const reason = 'its confidential part does not match its digest';
    expect(await verifyChain(changed)).toEqual({ ok: false, number: at + 1, reason });
    changed[at] = { ...facts[at]!, confidentialDigest: undefined };
    expect(await verifyChain(changed)).toEqual({ ok: false, number: at + 1, reason });
  });

  it('names what is no fact', async () => {
    const with7th = (value: unknown) => [...facts.slice(0, 6), value, ...facts.slice(7)];
    expect(await verifyChain(with7th(null))).toEqual({ ok: false, number: 7, reason: 'it is not a JSON object' });
    expect(await verifyChain(with7th({ ...facts[6], kind: 'tea-served' }))).toEqual({
      ok: false,
      number: 7,
      reason: '"tea-served" is not a known kind of fact',
    });
    expect(await verifyChain(with7th({ ...facts[6], more: 1 }))).toMatchObject({ ok: false, number: 7 });
    expect(await verifyChain(with7th({ ...facts[6], data: { worker: 4 } }))).toMatchObject({
      ok: false,
      number: 7,
      reason: expect.stringMatching(/data\.worker/) as string,
    });
  });

  it('can not see by itself that the tail was cut off, and can with a witness', async () => {
    const cut = facts.slice(0, 9);
    expect(await verifyChain(cut)).toMatchObject({ ok: true, count: 9 });
    expect(await verifyChain(cut, headOf(facts))).toEqual({
      ok: false,
      number: 10,
      reason: 'the log ends at 9, but fact 12 was witnessed',
    });
    expect(await verifyChain(facts, headOf(cut))).toMatchObject({ ok: true, count: 12 });
  });

  it('can not see by itself that the whole log was made anew, and can with a witness', async () => {
    const forged = sealAfter(
      emptyHead,
      'cedar',
      facts.map(() => restEnded()),
    );
    expect(await verifyChain(forged)).toMatchObject({ ok: true, count: 12 });
    expect(await verifyChain(forged, headOf(facts.slice(0, 9)))).toMatchObject({
      ok: false,
      number: 9,
      reason: expect.stringMatching(/witnessed/) as string,
    });
  });

  it('finds any single changed character in any fact', async () => {
    const text = facts.map((fact) => JSON.stringify(fact));
    await fc.assert(
      fc.asyncProperty(
        fc.nat(facts.length - 1),
        fc.nat(),
        fc.integer({ min: 33, max: 126 }),
        async (at, where, code) => {
          const line = text[at]!;
          const position = where % line.length;
          fc.pre(line.charCodeAt(position) !== code);
          const changed = line.slice(0, position) + String.fromCharCode(code) + line.slice(position + 1);
          const values = text.map((one, index) => parsed(index === at ? changed : one));
          expect(await verifyChain(values)).toMatchObject({ ok: false, number: at + 1 });
        },
      ),
      { numRuns: 500 },
    );
  });
});

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return text;
  }
}

function reversed(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(reversed);
  if (typeof value !== 'object' || value === null) return value;
  const fields = Object.entries(value).map(([key, field]) => [key, reversed(field)] as const);
  return Object.fromEntries(fields.reverse());
}

async function* slowly<T>(all: readonly T[]): AsyncGenerator<T> {
  for (const one of all) {
    await Promise.resolve();
    yield one;
  }
}
