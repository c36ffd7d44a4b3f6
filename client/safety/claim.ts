import type { Review } from '../../machines/unit/state.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import type { PersonId, UnitId } from '../../machines/wire/ids.ts';
import type { Report } from '../../machines/wire/report.ts';
import { words } from '../words/words.ts';
import { askLog } from './said.ts';

/** What a review is about: a report that came late and counts all the same, or one that was refused and kept. */
export interface Claim {
  /** The kind of the report or fact, in plain words. */
  what: string;
  person: PersonId | undefined;
  device: string | undefined;
  /** When the device says it happened. */
  claimedAt: number;
  receivedAt: number;
  /** The time it was given in the record; a refused report has none. */
  countedAt: number | undefined;
  /** What was in it beside the worker, as name and value. */
  details: { name: string; value: string }[];
}

export type ReviewWhy = 'late' | 'from-the-future' | 'ahead-of-log' | 'contradiction';

export function whyOf(review: Review): ReviewWhy {
  if (review.code === 'report/late') return 'late';
  if (review.code === 'report/from-the-future') return 'from-the-future';
  return review.code === 'report/ahead-of-log' ? 'ahead-of-log' : 'contradiction';
}

/** What the server said about it. To a refused report that was an answer to its sender, and is shown as one. */
export const reviewWords = (review: Review): string =>
  whyOf(review) === 'late' ? review.sentence : words.safety.claim.answered(review.sentence);

/** The claim in the fact that a review points at. */
export function claimOf(fact: Fact): Claim {
  const kept = fact.kind === 'report-kept' ? parse(fact.data.message) : undefined;
  const data = kept?.data ?? fact.data;
  return {
    what: (kept?.kind ?? fact.kind).replaceAll('-', ' '),
    person: kept?.person ?? ('person' in fact.by ? fact.by.person : undefined),
    device: kept?.device ?? ('device' in fact.by ? fact.by.device : undefined),
    claimedAt: kept?.observedAt ?? fact.claimedAt ?? fact.at,
    receivedAt: fact.receivedAt,
    countedAt: kept ? undefined : fact.at,
    details: detailsOf(data),
  };
}

/** A kept report was checked by the wire's schema before it was kept; its data is shown as it came. */
function parse(message: string): Report | undefined {
  try {
    return JSON.parse(message) as Report;
  } catch {
    return undefined;
  }
}

const shownElsewhere = ['worker', 'entry'];

function detailsOf(data: object): Claim['details'] {
  return Object.entries(data)
    .filter(([name]) => !shownElsewhere.includes(name))
    .map(([name, value]) => ({ name, value: typeof value === 'string' ? value : JSON.stringify(value) }));
}

export async function askClaim(unit: UnitId, review: Review): Promise<Claim | undefined> {
  const [fact] = await askLog(unit, review.number - 1, 1);
  return fact?.number === review.number ? claimOf(fact) : undefined;
}
