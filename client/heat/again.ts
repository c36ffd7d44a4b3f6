import { at, type UnitState } from '../../machines/unit/state.ts';
import type { AfterEntryEffect } from '../../machines/wire/fact.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { wallClock } from '../board/clock.ts';
import { words } from '../words/words.ts';

/**
 * What the last entry leaves of the next one. Why is said in the unit's open words alone: which measurement it was is
 * confidential and in no state a screen has.
 */
export type Again =
  | { is: 'barred'; until: number; because: string; source: string }
  | { is: 'shorter'; percent: number; because: string; source: string };

export const againFor = (state: UnitState, worker: PersonId, now: number): Again | undefined =>
  againOf(at(state.workers, worker)?.after, now);

/** Undefined once the bar is over and nothing is cut: then the last entry leaves nothing to say. */
export function againOf(after: AfterEntryEffect | undefined, now: number): Again | undefined {
  if (!after) return undefined;
  const { barredUntil, nextShare, because, source } = after;
  if (barredUntil !== undefined && now < barredUntil) return { is: 'barred', until: barredUntil, because, source };
  return nextShare < 1 ? { is: 'shorter', percent: Math.round(nextShare * 100), because, source } : undefined;
}

/** In a word or two, beside a name. */
export const againShort = (again: Again): string => (again.is === 'barred' ? words.heat.barred : words.heat.shorter);

export const againLong = (again: Again): string =>
  again.is === 'barred' ? words.heat.barredUntil(dayAndClock(again.until)) : words.heat.shorterTo(again.percent);

/** A bar reaches into the next day, where a time alone would be read as a time of today. */
const dayAndClock = (at: number): string =>
  `${new Date(at).toLocaleDateString('en-GB', { weekday: 'long' })}, ${wallClock(at)}`;
