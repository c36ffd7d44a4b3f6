/**
 * Wear times of respirators, DGUV Regel 112-190 (current edition; year 2021 from memory). An older edition has shorter ones.
 * For units that follow it; a unit's own rule comes from its procedures.
 */
export interface WearTime {
  /** Minutes at a stretch, of rest after it, and in one shift; absent: the rule sets no limit. */
  wearMin?: number;
  restMin?: number;
  perShiftMin?: number;
}

export const respirators = [
  'filtering-facepiece-without-valve',
  'filtering-facepiece-with-valve',
  'powered-full-mask',
  'powered-half-mask',
  'powered-hood',
] as const;
export type Respirator = (typeof respirators)[number];

export const wearTimeSource = 'DGUV Regel 112-190, wear times';

export const wearTimes: Record<Respirator, WearTime> = {
  'filtering-facepiece-without-valve': { wearMin: 75, restMin: 30, perShiftMin: 360 },
  'filtering-facepiece-with-valve': { wearMin: 150, restMin: 30, perShiftMin: 420 },
  'powered-full-mask': { wearMin: 150, restMin: 30, perShiftMin: 420 },
  'powered-half-mask': { wearMin: 180, restMin: 30, perShiftMin: 450 },
  'powered-hood': {},
};
