import { fnv1a64 } from '../fnv1a.ts';
import type { Procedure } from './procedure.ts';

/**
 * A short mark of everything a version says, for a printed card: two cards with the same mark hold the same words, and a card whose
 * mark is not the one on the screen is out of date. It protects against mistakes, not against forgery: FNV-1a (64 bits), which
 * needs no secure context in the browser. Forty bits are shown, as eight signs that nobody confuses (no 0, O, 1 or I).
 */
export function identityOf(procedure: Procedure): string {
  const bits = fnv1a64(canonical(procedure)) >> 24n;
  const signs = Array.from({ length: 8 }, (_, index) => alphabet[Number((bits >> BigInt(5 * index)) & 31n)]).reverse();
  return `${signs.slice(0, 4).join('')}-${signs.slice(4).join('')}`;
}

const alphabet = '23456789ABCDEFGHJKLMNPQRSTUVWXYZ';

/** The same words in the same order whatever order the fields were written in. */
function canonical(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonical).join(',')}]`;
  if (typeof value !== 'object' || value === null) return JSON.stringify(value) ?? 'null';
  const fields = Object.entries(value)
    .filter(([, inner]) => inner !== undefined)
    .sort(([one], [other]) => (one < other ? -1 : 1));
  return `{${fields.map(([key, inner]) => `${JSON.stringify(key)}:${canonical(inner)}`).join(',')}}`;
}
