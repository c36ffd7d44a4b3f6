/**
 * Why a heat question was not answered: a code that never changes its meaning, and a sentence a person can act on.
 * A refusal is a value, never an exception; nothing is computed from an input that was refused.
 */
export const heatRefusalCodes = [
  /** Not JSON, or JSON that is not an object where one is needed. */
  'heat/not-understood',
  'heat/too-large',
  'heat/unknown-field',
  'heat/missing-field',
  'heat/both-given',
  /** Not a number, not finite, not one of the words allowed. */
  'heat/wrong-type',
  /** A number no real room, garment or person has. */
  'heat/out-of-bounds',
  'heat/unknown-ensemble',
] as const;

export type HeatRefusalCode = (typeof heatRefusalCodes)[number];

export interface HeatRefusal {
  code: HeatRefusalCode;
  message: string;
}

export type HeatAnswer<Value> = { ok: true; value: Value } | { ok: false; refusal: HeatRefusal };

export const answered = <Value>(value: Value): { ok: true; value: Value } => ({ ok: true, value });

export const refused = (code: HeatRefusalCode, message: string): { ok: false; refusal: HeatRefusal } => ({
  ok: false,
  refusal: { code, message },
});
