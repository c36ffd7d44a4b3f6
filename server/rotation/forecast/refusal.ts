/**
 * Why a forecast was not made: a code that never changes its meaning, and a sentence a person can act on. A refusal is a
 * value, never an exception.
 */
export const forecastRefusalCodes = [
  /** Not JSON, or JSON that is not an object. */
  'forecast/not-understood',
  /** A field that is unknown, missing, of the wrong kind or out of bounds; the sentence names it. */
  'forecast/bad-field',
  /** The input, or the work it asks for, is larger than what is allowed. */
  'forecast/too-large',
  /** Fields that are each in order but do not fit together, e.g. a lane that nobody has named. */
  'forecast/contradiction',
  /** More work arrives than the servers can do: the queue has no steady state. */
  'forecast/unstable',
] as const;

export type ForecastRefusalCode = (typeof forecastRefusalCodes)[number];

export interface ForecastRefusal {
  code: ForecastRefusalCode;
  message: string;
}

export type ForecastAnswer<Value> = { ok: true; value: Value } | { ok: false; refusal: ForecastRefusal };

export const answered = <Value>(value: Value): { ok: true; value: Value } => ({ ok: true, value });

export const refused = (code: ForecastRefusalCode, message: string): { ok: false; refusal: ForecastRefusal } => ({
  ok: false,
  refusal: { code, message },
});
