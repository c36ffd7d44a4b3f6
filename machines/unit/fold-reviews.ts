import type { NumberedFact } from '../wire/fact.ts';
import type { PersonId } from '../wire/ids.ts';
import type { Review, UnitState } from './state.ts';

/** What somebody has to look at, because it came late or was refused; part of the fold. */

function workerOf(fact: NumberedFact): PersonId | undefined {
  return 'worker' in fact.data ? fact.data.worker : undefined;
}

/** A fact that arrived late changes the record of the past: its report is listed until somebody has looked at it. */
export function noteLate(state: UnitState, fact: NumberedFact): UnitState['reviews'] {
  const report = fact.report;
  if (!report?.late || fact.kind === 'report-kept' || state.reviews.some((one) => one.report === report.id))
    return state.reviews;
  const minutes = Math.round((fact.receivedAt - (fact.claimedAt ?? fact.at)) / 60_000);
  return [
    ...state.reviews,
    reviewOf(fact, 'report/late', `"${fact.kind}" arrived ${minutes} min after it was seen to happen.`),
  ];
}

export function reviewOf(fact: NumberedFact, code: string, sentence: string): Review {
  const worker = workerOf(fact);
  return {
    number: fact.number,
    at: fact.at,
    receivedAt: fact.receivedAt,
    ...(fact.claimedAt !== undefined && { claimedAt: fact.claimedAt }),
    ...(worker && { worker }),
    ...(fact.report && { report: fact.report.id }),
    code,
    sentence,
  };
}
