import { z } from 'zod';

/** What a unit decides about its rotation: the section `rotation` of unit.yaml. All minutes. */
const minutes = z.int().min(0).max(1440);
const weight = z.number().min(0).max(1_000_000);

export const rotationSettings = z.strictObject({
  /** Stays in the room that a plan may choose from; longer ones than the procedure's limit allows are not chosen. */
  insideMinutes: z.array(z.int().min(5).max(720)).min(1).max(60),
  /** Both are in the room for so long when one relieves the other. */
  handoverMinutes: minutes,
  postCheckMinutes: minutes,
  /** Every observer has one break of this length inside every full period. */
  observerBreak: z.strictObject({ minutes: z.int().min(0).max(240), everyMinutes: z.int().min(30).max(1440) }),
  /** How far past the longest allowed stay somebody who is inside already may be planned. */
  maxOverrunMinutes: minutes,
  weights: z
    .strictObject({
      uncoveredSlot: weight,
      overrunSlot: weight,
      entry: weight,
      largestPersonSlots: weight,
      allLanesBusySlot: weight,
    })
    // Coverage first, then overrun, then few entries and an even load, then lanes that are not always full.
    .default({ uncoveredSlot: 1000, overrunSlot: 300, entry: 1, largestPersonSlots: 2, allLanesBusySlot: 0.05 }),
  source: z.string().trim().min(1).max(600),
});
export type RotationSettings = z.infer<typeof rotationSettings>;
