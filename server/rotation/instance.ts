import { z } from 'zod';

/**
 * One rotation problem: who may work, which rooms must be staffed, and what one entry takes. All times are minutes from "now"
 * (minute 0), multiples of `slotMinutes`; spans are half open, [a, b).
 *
 * An entry starts donning at s ≥ 0, is inside from s + donning for one of `insideMinutesAllowed`, covers its room from inside
 * start + handover until it leaves, then takes a lane for doffing + turnover and an observer for doffing (and an observer for
 * the whole donning). The worker is busy through post-check and rest. Minutes in equipment = inside + doffing.
 */
const count = z.int().min(0).max(500);
const minute = z.int().min(-1440).max(2880);
const span = z.int().min(0).max(1440);
const name = z.string().trim().min(1).max(80);
const weight = z.number().min(0).max(1_000_000);

export const rotationInstance = z.strictObject({
  name: name.optional(),
  note: z.string().max(600).optional(),
  slotMinutes: z.int().min(1).max(60),
  horizonMinutes: z.int().min(1).max(2880),
  durations: z.strictObject({
    donning: span,
    doffing: span,
    turnover: span,
    postCheck: span,
    rest: span,
    handover: span,
  }),
  insideMinutesAllowed: z.array(z.int().min(1).max(1440)).min(1).max(60),
  maxOverrunMinutes: span,
  perPerson: z.strictObject({ maxMinutesInEquipment: z.int().min(0).max(2880), maxEntries: count }),
  rooms: z
    .array(z.strictObject({ id: name, staffInside: count }))
    .min(1)
    .max(60),
  workers: z
    .array(
      z.strictObject({
        id: name,
        onDutyFromMinute: minute,
        /** null: on duty beyond the horizon. */
        onDutyToMinute: minute.nullable(),
        busyUntilMinute: minute,
        minutesInEquipmentSoFar: z.int().min(0).max(2880),
        entriesSoFar: count,
      }),
    )
    .min(1)
    .max(500),
  lanes: count,
  observers: count,
  /** Every observer has one break of this length inside every full period. */
  observerBreak: z.strictObject({ minutes: span, everyMinutes: z.int().min(1).max(2880) }),
  /** Who is inside at minute 0, and since when; they leave after at least one slot. */
  inside: z.array(z.strictObject({ worker: name, room: name, sinceMinute: minute })).max(500),
  weights: z.strictObject({
    uncoveredSlot: weight,
    overrunSlot: weight,
    entry: weight,
    largestPersonSlots: weight,
    allLanesBusySlot: weight,
  }),
});

export type RotationInstance = z.infer<typeof rotationInstance>;

/** One entry of a plan. `ongoing`: already inside at minute 0, so that only the leaving is a decision (insideMinutes counts from `sinceMinute`). */
export interface PlannedEntry {
  worker: string;
  room: string;
  /** For ongoing entries sinceMinute − donning, which may lie before minute 0. */
  donningStartMinute: number;
  insideMinutes: number;
  /** Lanes and observers are numbered from 0. */
  lane: number;
  /** null for ongoing entries: their donning is over. */
  observerDonning: number | null;
  observerDoffing: number;
  ongoing?: true;
}

export interface PlannedBreak {
  observer: number;
  startMinute: number;
}

/** What happens to the plan beyond the horizon: entries may end after it; only what lies inside the horizon must be covered. */
export interface Plan {
  entries: PlannedEntry[];
  breaks: PlannedBreak[];
}
