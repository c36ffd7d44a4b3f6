import type { Procedure } from './procedure.ts';

/**
 * A unit's own times in place of those a procedure file expects. The file's are from memory in every unit that has just begun;
 * the unit's own are better as soon as there are enough of them.
 */

/** Fewer than this say nothing, and nothing is concluded from them. */
export const enoughEntries = 10;

/** The middle one; the mean of the two middle ones of an even number. Undefined of nothing. */
export function medianOf(values: readonly number[]): number | undefined {
  const sorted = [...values].sort((one, other) => one - other);
  const middle = sorted.length / 2;
  const [low, high] = [sorted[Math.ceil(middle) - 1], sorted[Math.floor(middle)]];
  return low === undefined || high === undefined ? undefined : (low + high) / 2;
}

/** The smallest value that at least nine in ten do not pass (nearest rank). Undefined of nothing. */
export function ninetiethOf(values: readonly number[]): number | undefined {
  const sorted = [...values].sort((one, other) => one - other);
  return sorted[Math.ceil(sorted.length * 0.9) - 1];
}

/**
 * What to plan with: the 90th percentile, in whole minutes, rounded up. Not the median: every second doffing takes longer than
 * that, and who is called out by it passes the limit. Undefined while there are too few.
 */
export function ownMinutes(minutes: readonly number[]): number | undefined {
  const ninetieth = ninetiethOf(minutes);
  return minutes.length < enoughEntries || ninetieth === undefined ? undefined : Math.ceil(ninetieth);
}

export interface ExpectedTime {
  minutes: number;
  from: 'own-entries' | 'procedure';
  /** Entries it was learned from, or that there are so far. */
  entries: number;
}

/** How long donning and doffing are expected to take: the unit's own times where there are enough, else the procedure's. */
export function expectedTimes(
  { expected }: Procedure,
  learned: { donningMinutes: readonly number[]; doffingMinutes: readonly number[] },
): { donning: ExpectedTime; doffing: ExpectedTime } {
  return {
    donning: expectedTime(expected.donningMinutes, learned.donningMinutes),
    doffing: expectedTime(expected.doffingMinutes, learned.doffingMinutes),
  };
}

function expectedTime(inFile: number, minutes: readonly number[]): ExpectedTime {
  const own = ownMinutes(minutes);
  const entries = minutes.length;
  return own === undefined
    ? { minutes: inFile, from: 'procedure', entries }
    : { minutes: own, from: 'own-entries', entries };
}
