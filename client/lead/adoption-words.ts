import type { Version } from './ask.ts';
import { words } from '../words/words.ts';

/** How a version came to be what the unit goes by, in sentences. */
export function arrivalWords({ arrival }: Version, nameOf: (person: string) => string): string[] {
  const text = words.lead;
  switch (arrival.how) {
    case 'files':
      return [text.arrivals.files];
    case 'proved': {
      const { orders, states } = arrival.proof;
      return [...byWords(arrival.by, nameOf), text.arrivals.proved(grouped(orders), grouped(states))];
    }
    case 'override':
      return [
        ...byWords(arrival.by, nameOf),
        text.arrivals.override,
        text.reasonGiven(arrival.reason),
        text.proofSaid(arrival.proof.sentence),
      ];
    default:
      return arrival satisfies never;
  }
}

const byWords = (person: string | undefined, nameOf: (person: string) => string): string[] =>
  person === undefined ? [] : [words.lead.by(nameOf(person))];

/** A number with its thousands apart; digits of any length, because there can be more orders than any number holds. */
export const grouped = (digits: string | number): string => BigInt(digits).toLocaleString('en');

export const dayOf = (at: number): string =>
  new Date(at).toLocaleDateString('en-GB', { day: 'numeric', month: 'long', year: 'numeric' });
