import { describe, expect, it } from 'vitest';
import type { RepairAnswer } from '../../client/rotation/answers.ts';
import { offerAfter } from '../../client/rotation/offer.ts';

const change = (trip: string) => ({ trip, what: 'left-out', before: null, after: null }) as const;
const offer = (changes: Partial<RepairAnswer>): RepairAnswer => ({
  ...{ needed: true, ready: true, forNumber: 7, departures: [], changes: [change('a')], betterMayFollow: true },
  ...changes,
});
const first = offer({});

describe('a repair on the page', () => {
  it('does not change under a finger: a better one for the same facts waits beside it', () => {
    const better = offer({ changes: [change('b')] });
    expect(offerAfter(first, better)).toEqual({ shown: first, better });
    expect(offerAfter(first, offer({ betterMayFollow: false }))).toEqual({ shown: first, better: undefined });
  });

  it('makes room at once for one that knows more, for none, and where nothing can be taken yet', () => {
    for (const next of [
      offer({ forNumber: 8, changes: [change('b')] }),
      offer({ needed: false }),
      offer({ ready: false }),
    ])
      expect(offerAfter(first, next)).toEqual({ shown: next, better: undefined });
    expect(offerAfter(offer({ ready: false }), first).shown).toBe(first);
    expect(offerAfter(undefined, first).shown).toBe(first);
  });
});
