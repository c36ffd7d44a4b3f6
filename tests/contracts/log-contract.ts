import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Fact } from '../../machines/wire/fact.ts';
import type { ReportId } from '../../machines/wire/ids.ts';
import { emptyHead } from '../../server/log/empty-head.ts';
import { verifyChain } from '../../server/log/hash-chain.ts';
import type { AppendOutcome, Log } from '../../server/log/log.ts';
import { readWholeLog } from '../../server/log/read-whole-log.ts';
import { headOf, logOf, restEnded, screened, sealAfter, stoodDown, unitNamed } from '../support/facts.ts';
import { until } from './until.ts';

/**
 * What every log must do, whatever it is kept in. Each store runs all of it; nothing here knows which one it is.
 */
export interface LogStore {
  /** Opens the log on this store; again after closing, or beside another one, where the store allows that. */
  open(): Promise<Log>;
  dispose(): Promise<void>;
}

export interface StoreTraits {
  /** What was written is there after closing and opening again. */
  durable: boolean;
  /** Several logs may be open on one store at a time, as several servers would. */
  shared: boolean;
}

const unit = unitNamed('cedar');
const other = unitNamed('cedar:2.b-c_d');
const report = (id: string) => id as ReportId;

export function logContract(name: string, traits: StoreTraits, makeStore: () => Promise<LogStore>): void {
  describe(`the log contract on ${name}`, () => {
    let store: LogStore;
    let log: Log;
    const opened: Log[] = [];
    const openAnother = async () => {
      const another = await store.open();
      opened.push(another);
      return another;
    };

    beforeEach(async () => {
      store = await makeStore();
      log = await openAnother();
    });
    afterEach(async () => {
      for (const one of opened.splice(0)) await one.close();
      await store.dispose();
    });

    const wholeLog = (id = unit, of = log) => collect(readWholeLog(of, id));

    describe('appending and reading', () => {
      it('starts empty', async () => {
        expect(await log.head(unit)).toEqual(emptyHead);
        expect(await log.read(unit, 0, 10)).toEqual([]);
      });

      it('gives back every fact as it was, the confidential part too', async () => {
        const facts = logOf(unit, 9);
        expect(await log.append(unit, 0, facts)).toEqual({ outcome: 'appended' });
        expect(await log.read(unit, 0, 100)).toEqual(facts);
        expect(facts.some((fact) => fact.confidential)).toBe(true);
        expect(await log.head(unit)).toEqual(headOf(facts));
      });

      it('continues where it ended', async () => {
        const facts = logOf(unit, 5);
        await log.append(unit, 0, facts.slice(0, 2));
        await log.append(unit, 2, facts.slice(2));
        expect(await wholeLog()).toEqual(facts);
      });

      it('reads after a number and up to a limit', async () => {
        const facts = logOf(unit, 12);
        await log.append(unit, 0, facts);
        expect(await log.read(unit, 3, 4)).toEqual(facts.slice(3, 7));
        expect(await log.read(unit, 10, 4)).toEqual(facts.slice(10));
        expect(await log.read(unit, 12, 4)).toEqual([]);
        expect(await log.read(unit, 400, 4)).toEqual([]);
        expect(await log.read(unit, 3, 0)).toEqual([]);
      });

      it('refuses to read what is no range', async () => {
        await expect(log.read(unit, -1, 5)).rejects.toThrow(RangeError);
        await expect(log.read(unit, 0, -1)).rejects.toThrow(RangeError);
        await expect(log.read(unit, 0.5, 5)).rejects.toThrow(RangeError);
      });

      it('keeps a long log that verifies, in order', async () => {
        const facts = logOf(unit, 1203);
        for (let number = 0; number < facts.length; number += 100)
          await log.append(unit, number, facts.slice(number, number + 100));
        expect(await wholeLog()).toEqual(facts);
        expect(await verifyChain(readWholeLog(log, unit))).toEqual({ ok: true, count: 1203, head: headOf(facts) });
      });

      it('keeps every character', async () => {
        const reason = 'Glove „torn“ \u{1F9E4} \ud800 \u0000 \u2028 "quoted" \\ back';
        const facts = sealAfter(emptyHead, unit, [stoodDown('r1', reason)]);
        await log.append(unit, 0, facts);
        expect(await log.read(unit, 0, 1)).toEqual(facts);
        expect(await verifyChain(readWholeLog(log, unit))).toMatchObject({ ok: true });
      });

      it('does not change with the objects that were appended or read', async () => {
        const facts = logOf(unit, 3);
        const original = structuredClone(facts);
        await log.append(unit, 0, facts);
        for (const fact of [...facts, ...(await log.read(unit, 0, 3))]) fact.at = 1;
        expect(await log.read(unit, 0, 3)).toEqual(original);
      });

      it('keeps units apart', async () => {
        await log.append(unit, 0, logOf(unit, 3));
        expect(await log.head(other)).toEqual(emptyHead);
        await log.append(other, 0, logOf(other, 2));
        expect((await wholeLog(other)).map((fact) => fact.unit)).toEqual([other, other]);
        expect((await wholeLog()).length).toBe(3);
      });
    });

    describe('compare and append', () => {
      it('writes nothing when the log has moved', async () => {
        const facts = logOf(unit, 4);
        await log.append(unit, 0, facts);
        const late = sealAfter(headOf(facts.slice(0, 2)), unit, [restEnded(), restEnded()]);
        expect(await log.append(unit, 2, late)).toEqual({ outcome: 'moved', head: 4 });
        expect(await log.append(unit, 9, sealAfter({ ...headOf(facts), number: 9 }, unit, [restEnded()]))).toEqual({
          outcome: 'moved',
          head: 4,
        });
        expect(await wholeLog()).toEqual(facts);
      });

      it('takes a report only once', async () => {
        const facts = sealAfter(emptyHead, unit, [stoodDown('r1'), stoodDown('r1')]);
        await log.append(unit, 0, facts);
        const again = sealAfter(headOf(facts), unit, [stoodDown('r1')]);
        expect(await log.append(unit, 2, again)).toEqual({ outcome: 'known-report', report: 'r1' });
        expect(await wholeLog()).toEqual(facts);
      });

      it('says that a report is known even when the log has moved on, as after an answer that was lost', async () => {
        const facts = sealAfter(emptyHead, unit, [stoodDown('r1')]);
        await log.append(unit, 0, facts);
        expect(await log.append(unit, 0, facts)).toEqual({ outcome: 'known-report', report: 'r1' });
      });

      it('knows a report only in its own unit', async () => {
        await log.append(unit, 0, sealAfter(emptyHead, unit, [stoodDown('r1')]));
        const outcome = await log.append(other, 0, sealAfter(emptyHead, other, [stoodDown('r1')]));
        expect(outcome).toEqual({ outcome: 'appended' });
      });

      it('writes all facts of a batch or none', async () => {
        const first = sealAfter(emptyHead, unit, [stoodDown('r1')]);
        await log.append(unit, 0, first);
        const mixed = sealAfter(headOf(first), unit, [restEnded(), stoodDown('r2'), screened('r3'), stoodDown('r1')]);
        expect(await log.append(unit, 1, mixed)).toEqual({ outcome: 'known-report', report: 'r1' });
        expect(await wholeLog()).toEqual(first);
        expect(await log.findReport(unit, report('r2'))).toBeUndefined();
        expect(await log.append(unit, 1, mixed.slice(0, 3))).toEqual({ outcome: 'appended' });
      });

      it('writes nothing that was decided on another history, and says that it is another', async () => {
        const facts = logOf(unit, 3);
        await log.append(unit, 0, facts);
        const elsewhere = sealAfter({ number: 3, hash: 'a'.repeat(64) }, unit, [restEnded()]);
        await expect(log.append(unit, 3, elsewhere)).rejects.toMatchObject({ code: 'diverged' });
        expect(await wholeLog()).toEqual(facts);
      });

      it('lets exactly one of two win', async () => {
        const batches = ['r1', 'r2'].map((id) => sealAfter(emptyHead, unit, [stoodDown(id), stoodDown(id)]));
        const outcomes = await Promise.all(batches.map((batch) => log.append(unit, 0, batch)));
        expect(outcomes.map(({ outcome }) => outcome).sort()).toEqual(['appended', 'moved']);
        const won = outcomes.findIndex(({ outcome }) => outcome === 'appended');
        expect(await wholeLog()).toEqual(batches[won]);
      });

      it('keeps the numbers whole when many write at once', async () => {
        const writers = Array.from({ length: 8 }, (_one, index) => writeAll(log, `w${index}`, 6));
        const lost = (await Promise.all(writers)).reduce((sum, one) => sum + one, 0);
        expect(lost).toBeGreaterThan(0);
        const facts = await wholeLog();
        expect(await verifyChain(facts)).toMatchObject({ ok: true, count: 48 });
        expect(new Set(facts.map((fact) => fact.report?.id)).size).toBe(48);
      });

      it('serves many units at once', async () => {
        const units = Array.from({ length: 40 }, (_one, index) => unitNamed(`unit-${index}`));
        const appendOneByOne = async (id: typeof unit) => {
          const facts = logOf(id, 5);
          for (const [index, fact] of facts.entries()) await log.append(id, index, [fact]);
          return facts;
        };
        const written = await Promise.all(units.map(appendOneByOne));
        for (const [index, id] of units.entries()) expect(await wholeLog(id)).toEqual(written[index]);
      });
    });

    describe('mistakes in the program', () => {
      const facts = logOf(unit, 3);
      const mistakes: [string, number, readonly Fact[]][] = [
        ['no facts', 0, []],
        ['numbers that do not start after `expected`', 0, facts.slice(1)],
        ['a gap', 0, [facts[0], facts[2]] as Fact[]],
        ['a fact of another unit', 0, logOf(other, 1)],
        [
          'a fact that does not carry the hash of the one before it',
          0,
          [facts[0], { ...facts[1], previousHash: 'f'.repeat(64) }] as Fact[],
        ],
        ['a report from no device', 0, sealAfter(emptyHead, unit, [{ ...stoodDown('r1'), by: { watch: true } }])],
        ['a fact too large to export', 0, sealAfter(emptyHead, unit, [stoodDown('r1', 'x'.repeat(1024 * 1024))])],
      ];
      it.each(mistakes)('rejects %s and writes nothing', async (_name, expected, batch) => {
        await expect(log.append(unit, expected, batch)).rejects.toMatchObject({ code: 'broken-batch' });
        expect(await log.head(unit)).toEqual(emptyHead);
        expect(await log.append(unit, 0, facts)).toEqual({ outcome: 'appended' });
      });
    });

    describe('reports', () => {
      it('finds what a report led to', async () => {
        const drafts = [
          stoodDown('r1', 'Felt unwell.', 41),
          restEnded(),
          stoodDown('r1', 'Again.', 41),
          stoodDown('r2', 'So.', 42),
        ];
        await log.append(unit, 0, sealAfter(emptyHead, unit, drafts));
        expect(await log.findReport(unit, report('r1'))).toEqual({ device: 'tablet-1', sequence: 41, numbers: [1, 3] });
        expect(await log.findReport(unit, report('r2'))).toEqual({ device: 'tablet-1', sequence: 42, numbers: [4] });
        expect(await log.findReport(unit, report('r3'))).toBeUndefined();
        expect(await log.findReport(other, report('r1'))).toBeUndefined();
      });
    });

    describe('snapshots', () => {
      const snapshot = (number: number, foldVersion: number) => ({
        number,
        foldVersion,
        hash: String(number).padStart(64, '0'),
        state: JSON.stringify({ number, words: 'größer' }),
      });

      it('offers none where there is none', async () => {
        expect(await log.latestSnapshot(unit, 1)).toBeUndefined();
        await log.saveSnapshot(unit, snapshot(5, 1));
        expect(await log.latestSnapshot(unit, 2)).toBeUndefined();
        expect(await log.latestSnapshot(other, 1)).toBeUndefined();
      });

      it('offers the newest of the fold version, in whatever order they were saved', async () => {
        for (const number of [9, 100, 20, 99]) await log.saveSnapshot(unit, snapshot(number, 3));
        await log.saveSnapshot(unit, snapshot(500, 31));
        expect(await log.latestSnapshot(unit, 3)).toEqual(snapshot(100, 3));
        expect(await log.latestSnapshot(unit, 31)).toEqual(snapshot(500, 31));
      });

      it('replaces one of the same number', async () => {
        await log.saveSnapshot(unit, { ...snapshot(7, 1), state: 'old' });
        await log.saveSnapshot(unit, snapshot(7, 1));
        expect(await log.latestSnapshot(unit, 1)).toEqual(snapshot(7, 1));
      });
    });

    describe('following', () => {
      it('calls back after every append, until stopped', async () => {
        const first = watchHead(log);
        const second = watchHead(log);
        const facts = logOf(unit, 3);
        await log.append(unit, 0, facts.slice(0, 1));
        await until('both see fact 1', () => first.seen() === 1 && second.seen() === 1);
        first.stop();
        const callsOfFirst = first.calls();
        await log.append(unit, 1, facts.slice(1));
        await until('the second sees fact 3', () => second.seen() === 3);
        expect(first.calls()).toBe(callsOfFirst);
        second.stop();
      });

      it('calls back for its own unit', async () => {
        const watching = watchHead(log, other);
        await log.append(unit, 0, logOf(unit, 2));
        await log.append(other, 0, logOf(other, 1));
        await until('it sees fact 1 of its unit', () => watching.seen() === 1);
        watching.stop();
      });

      if (traits.shared)
        it('calls back when another server has written', async () => {
          const watching = watchHead(log);
          const foreign = await openAnother();
          const facts = logOf(unit, 5);
          for (const [index, fact] of facts.entries()) {
            await foreign.append(unit, index, [fact]);
            await until(`fact ${index + 1} is seen`, () => watching.seen() === index + 1);
          }
          watching.stop();
        });
    });

    describe.each(traits.shared ? [3] : [])('%i servers', (count) => {
      it('lets any of them write, and each number only once', async () => {
        const logs = [log];
        while (logs.length < count) logs.push(await openAnother());
        const lost = await Promise.all(logs.map((one, index) => writeAll(one, `server${index}`, 25)));
        expect(lost.reduce((sum, one) => sum + one, 0)).toBeGreaterThan(0);
        for (const one of logs)
          expect(await verifyChain(readWholeLog(one, unit))).toMatchObject({ ok: true, count: 75 });
      });
    });

    describe('closing', () => {
      it('answers what was appended before, and refuses what comes after', async () => {
        const facts = logOf(unit, 3);
        const appends = facts.map((fact, index) => log.append(unit, index, [fact]));
        const closed = log.close();
        await expect(log.append(unit, 3, sealAfter(headOf(facts), unit, [restEnded()]))).rejects.toMatchObject({
          code: 'closed',
        });
        expect(await Promise.all(appends)).toEqual(facts.map((): AppendOutcome => ({ outcome: 'appended' })));
        await closed;
        await expect(log.head(unit)).rejects.toMatchObject({ code: 'closed' });
        await expect(log.read(unit, 0, 1)).rejects.toMatchObject({ code: 'closed' });
        await expect(log.findReport(unit, report('r1'))).rejects.toMatchObject({ code: 'closed' });
        await expect(log.latestSnapshot(unit, 1)).rejects.toMatchObject({ code: 'closed' });
        expect(() => log.follow(unit, () => undefined)).toThrow(/closed/);
      });

      it('may be asked twice', async () => {
        await log.close();
        await expect(log.close()).resolves.toBeUndefined();
      });

      if (traits.durable)
        it('leaves everything to the next one that opens', async () => {
          const facts = logOf(unit, 7);
          await log.append(unit, 0, facts);
          const snapshot = { number: 7, hash: headOf(facts).hash, foldVersion: 2, state: '{}' };
          await log.saveSnapshot(unit, snapshot);
          await log.close();
          const next = await openAnother();
          expect(await wholeLog(unit, next)).toEqual(facts);
          expect(await next.latestSnapshot(unit, 2)).toEqual(snapshot);
          expect(await next.findReport(unit, report('report-1'))).toMatchObject({ numbers: [2] });
          const more = sealAfter(headOf(facts), unit, [stoodDown('report-1')]);
          expect(await next.append(unit, 7, more)).toEqual({ outcome: 'known-report', report: 'report-1' });
          expect(await next.append(unit, 7, sealAfter(headOf(facts), unit, [restEnded()]))).toEqual({
            outcome: 'appended',
          });
        });
    });
  });
}

/** A server in small: reads the head, appends after it, and decides again when it lost. Answers how often it lost. */
async function writeAll(log: Log, name: string, count: number): Promise<number> {
  let lost = 0;
  for (let written = 0; written < count;) {
    const head = await log.head(unit);
    const { outcome } = await log.append(unit, head.number, sealAfter(head, unit, [stoodDown(`${name}-${written}`)]));
    if (outcome === 'appended') written += 1;
    else lost += 1;
  }
  return lost;
}

/** What a server does with a callback: it looks where the log ends now. */
function watchHead(log: Log, id = unit) {
  let calls = 0;
  let seen = 0;
  const stop = log.follow(id, () => {
    calls += 1;
    log.head(id).then(
      ({ number }) => (seen = Math.max(seen, number)),
      // The test is over and the log closed.
      () => undefined,
    );
  });
  return { stop, calls: () => calls, seen: () => seen };
}

async function collect<T>(all: AsyncIterable<T>): Promise<T[]> {
  const collected: T[] = [];
  for await (const one of all) collected.push(one);
  return collected;
}
