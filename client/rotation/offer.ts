import type { RepairAnswer } from './answers.ts';

/** What was left stays left until something else departs, or something else is offered. */
export const offerKey = ({ departures, changes }: RepairAnswer): string =>
  JSON.stringify([departures.map((one) => ({ ...one, minutes: 0 })), changes]);

/**
 * What becomes of the offer on the page when the server answers again. One that can be taken does not change under somebody's finger
 * while nothing new has happened: another for the same facts only stands ready, to be looked at by a press.
 */
export function offerAfter(
  shown: RepairAnswer | undefined,
  next: RepairAnswer,
): { shown: RepairAnswer; better: RepairAnswer | undefined } {
  const isHeld = shown?.ready && next.ready && next.needed && next.forNumber === shown.forNumber;
  if (!isHeld) return { shown: next, better: undefined };
  return { shown, better: offerKey(next) === offerKey(shown) ? undefined : next };
}
