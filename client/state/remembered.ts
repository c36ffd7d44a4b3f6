import type { Vitals } from '../../machines/unit/settings.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import type { EntryId, PersonId } from '../../machines/wire/ids.ts';

/** One measurement of somebody's vital signs, as the fact brought it. */
export interface Measured {
  check: 'pre-check' | 'post-check';
  entry: EntryId;
  at: number;
  by: PersonId | undefined;
  vitals: Vitals;
  findings: readonly string[];
}

/**
 * What the fold drops and a safety officer must see to release a hold: the last measurement of everybody whose entry is open.
 * It lives in the memory of the page and nowhere else, and is forgotten when the entry is over or the page is.
 */
export type Remembered = Readonly<Record<PersonId, Measured>>;
export const nothingRemembered: Remembered = {};

/** @param state the unit with the fact folded in */
export function remember(before: Remembered, fact: Fact, state: UnitState): Remembered {
  return onlyOpen(withMeasured(before, fact), state);
}

/** Drops everybody who has no entry any more, or another one. */
export function onlyOpen(before: Remembered, state: UnitState): Remembered {
  const kept = Object.entries(before).filter(
    ([person, { entry }]) => at(state.workers, person as PersonId)?.machine.context.entry?.id === entry,
  );
  return kept.length === Object.keys(before).length ? before : (Object.fromEntries(kept) as Remembered);
}

function withMeasured(before: Remembered, fact: Fact): Remembered {
  if (fact.kind !== 'screening-recorded' && fact.kind !== 'post-check-recorded') return before;
  const { worker, entry } = fact.data;
  const vitals = fact.confidential?.vitals;
  if (!vitals) return before;
  const measured: Measured = {
    check: fact.kind === 'screening-recorded' ? 'pre-check' : 'post-check',
    entry,
    at: fact.at,
    by: 'person' in fact.by ? fact.by.person : undefined,
    vitals,
    findings: fact.confidential?.findings ?? [],
  };
  return { ...before, [worker]: measured };
}
