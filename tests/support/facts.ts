import type { DraftFact, Fact, NumberedFact } from '../../machines/wire/fact.ts';
import type { UnitId } from '../../machines/wire/ids.ts';
import { emptyHead } from '../../server/log/empty-head.ts';
import { sealFact } from '../../server/log/hash-chain.ts';
import type { LogHead } from '../../server/log/log.ts';

/**
 * Small builders of valid facts for tests of the log, which cares about numbers, hashes and reports and not about what
 * happened on the unit. The people, devices and rooms are invented.
 */
export const unitNamed = (name: string) => name as UnitId;

/** 2030-01-01T08:00Z and a second per fact from there. */
const firstInstant = Date.UTC(2030, 0, 1, 8);
const by = { device: 'tablet-1', role: 'observer', person: 'ana' };

/** Written by the watch: no device, no report. */
export const restEnded = (worker = 'ben'): DraftFact =>
  ({
    kind: 'rest-ended',
    data: { worker },
    at: firstInstant,
    receivedAt: firstInstant,
    by: { watch: true },
  }) as unknown as DraftFact;

/** One of the facts of a report. */
export const stoodDown = (report: string, reason = 'Felt unwell.', sequence = 1): DraftFact =>
  ({
    kind: 'stood-down',
    data: { worker: 'ben', reason },
    at: firstInstant,
    receivedAt: firstInstant,
    by,
    report: { id: report, sequence },
  }) as unknown as DraftFact;

/** With a confidential part. */
export const screened = (report: string, pulsePerMin = 72): DraftFact =>
  ({
    kind: 'screening-recorded',
    data: { worker: 'ben', entry: 'entry-1', verdict: 'passed', missingPoints: [] },
    at: firstInstant,
    receivedAt: firstInstant,
    by,
    report: { id: report, sequence: 1 },
    confidential: { salt: 'salt-for-the-tests-only', vitals: { pulsePerMin } },
  }) as unknown as DraftFact;

/** Numbers and seals drafts so that they continue a log that ends at `head`. */
export function sealAfter(head: LogHead, unit: string, drafts: readonly DraftFact[]): Fact[] {
  const facts: Fact[] = [];
  for (const draft of drafts) {
    const last = facts.at(-1) ?? head;
    const number = last.number + 1;
    const time = firstInstant + number * 1000;
    const numbered = { ...draft, v: 1, unit, number, at: time, receivedAt: time } as NumberedFact;
    facts.push(sealFact(numbered, last.hash));
  }
  return facts;
}

export const headOf = (facts: readonly Fact[]): LogHead => {
  const last = facts.at(-1);
  return last ? { number: last.number, hash: last.hash } : emptyHead;
};

/** A log of `count` facts of several kinds, some of one report, some with a confidential part. */
export function logOf(unit: string, count: number): Fact[] {
  const drafts = Array.from({ length: count }, (_one, index) => {
    if (index % 3 === 0) return restEnded();
    return index % 3 === 1
      ? stoodDown(`report-${index}`, 'Felt unwell.', index)
      : screened(`report-${index}`, 60 + (index % 40));
  });
  return sealAfter(emptyHead, unit, drafts);
}
