import { checkNumbers } from './heat-fields.ts';
import { answered, refused, type HeatAnswer } from './heat-refusal.ts';

/** What is measured on one person, and what the measurement alone says. The rules that act on it are in after-entry.ts. */

export interface StrainIndexInput {
  /** At rest, before the entry. */
  coreTemperatureStartC: number;
  pulseStartPerMin: number;
  coreTemperatureC: number;
  pulsePerMin: number;
}

export interface StrainIndex {
  /** 0 to 10. */
  index: number;
  /** As the formula gives it: below 0 when somebody cooled down. */
  unbounded: number;
  band: StrainBand;
}

export type StrainBand = 'none or little' | 'low' | 'moderate' | 'high' | 'very high';

/**
 * Physiological strain index: Moran, Shitzer and Pandolf 1998 (Am J Physiol 275:R129). Half of it is core temperature on its
 * way from rest to 39.5 °C, half is pulse on its way to 180/min.
 */
export function physiologicalStrainIndex(input: StrainIndexInput): HeatAnswer<StrainIndex> {
  const refusal = checkNumbers({ ...input }, strainIndexFields);
  if (refusal) return { ok: false, refusal };
  const { coreTemperatureStartC, coreTemperatureC, pulseStartPerMin, pulsePerMin } = input;
  if (coreTemperatureStartC >= 39.5 || pulseStartPerMin >= 180) {
    return refused(
      'heat/out-of-bounds',
      'The strain index has no meaning for a resting core temperature of 39.5 °C or a resting pulse of 180/min and more.',
    );
  }
  const byTemperature = (5 * (coreTemperatureC - coreTemperatureStartC)) / (39.5 - coreTemperatureStartC);
  const byPulse = (5 * (pulsePerMin - pulseStartPerMin)) / (180 - pulseStartPerMin);
  const unbounded = byTemperature + byPulse;
  const index = Math.min(10, Math.max(0, unbounded));
  return answered({ index, unbounded, band: strainBand(index) });
}

const strainIndexFields = ['coreTemperatureStartC', 'coreTemperatureC', 'pulseStartPerMin', 'pulsePerMin'] as const;

/** The published scale names whole numbers (0-2, 3-4, 5-6, 7-8, 9-10); what lies between belongs to the lower one. */
export function strainBand(index: number): StrainBand {
  if (index < 3) return 'none or little';
  if (index < 5) return 'low';
  if (index < 7) return 'moderate';
  return index < 9 ? 'high' : 'very high';
}

export type RecoveryClass = 'satisfactory' | 'hard-work-little-heat' | 'no-recovery';

export const recoveryWords: Record<RecoveryClass, string> = {
  satisfactory: 'satisfactory',
  'hard-work-little-heat': 'high work level, little heat storage: study further',
  'no-recovery': 'no recovery: too much stress',
};

/**
 * Recovery pulse of somebody sitting: P1 from 30 s to 1 min after stopping, P3 from 2.5 to 3 min. OSHA Technical Manual III:4
 * (Brouha's method), read in a secondary copy.
 */
export function recoveryClass(
  p1PerMin: number,
  p3PerMin: number,
  bounds: { p3PerMin: number; dropPerMin: number } = { p3PerMin: 90, dropPerMin: 10 },
): RecoveryClass {
  if (p3PerMin < bounds.p3PerMin) return 'satisfactory';
  return p1PerMin - p3PerMin >= bounds.dropPerMin ? 'hard-work-little-heat' : 'no-recovery';
}

/** Several minutes above this are too much: ACGIH, also quoted by NIOSH 2016-106 (from memory). */
export function sustainedPulseLimitPerMin(ageYears: number, base: number = 180): number {
  return base - ageYears;
}

export interface WaterBalance {
  /** Mass before and after, with as little on as each time. */
  massBeforeKg: number;
  massAfterKg: number;
  drunkL: number;
  urineL: number;
  minutes: number;
}

export interface WaterBalanceAnswer {
  sweatLossL: number;
  sweatRateLPerH: number;
  bodyMassChangePct: number;
}

/** Mass balance: what was lost and drunk less what was passed (common practice, no source). A litre is taken as a kilogram. */
export function waterBalance(input: WaterBalance): HeatAnswer<WaterBalanceAnswer> {
  const refusal = checkNumbers({ ...input }, ['massBeforeKg', 'massAfterKg', 'drunkL', 'urineL', 'minutes']);
  if (refusal) return { ok: false, refusal };
  const sweatLossL = input.massBeforeKg - input.massAfterKg + input.drunkL - input.urineL;
  return answered({
    sweatLossL,
    sweatRateLPerH: (sweatLossL / input.minutes) * 60,
    bodyMassChangePct: bodyMassChangePct(input.massBeforeKg, input.massAfterKg),
  });
}

export function bodyMassChangePct(beforeKg: number, afterKg: number): number {
  return ((afterKg - beforeKg) / beforeKg) * 100;
}

const fluidOunceMl = 29.5735295625;

/** NIOSH hydration fact sheet: 8 fl oz every 15 to 20 min, never more than 48 fl oz in an hour. */
export const drinkingRates = {
  lowMlPerH: 24 * fluidOunceMl,
  highMlPerH: 32 * fluidOunceMl,
  mostMlPerH: 48 * fluidOunceMl,
};

export interface DrinkingPlan {
  /** In the two to four hours before. */
  beforeLowMl: number;
  beforeHighMl: number;
  /** Over the hours after. */
  afterMl: number;
  /** So that the most in an hour is not exceeded. */
  afterOverAtLeastMin: number;
}

/**
 * Nobody drinks inside, so it is moved to before and after. Before: 16 to 20 fl oz (US CBP heat sheet). After: one and a half
 * times what was lost (from memory), never faster than NIOSH allows.
 */
export function drinkingPlan(lostG: number): DrinkingPlan {
  const afterMl = 1.5 * Math.max(0, lostG);
  return {
    beforeLowMl: 16 * fluidOunceMl,
    beforeHighMl: 20 * fluidOunceMl,
    afterMl,
    afterOverAtLeastMin: (afterMl / drinkingRates.mostMlPerH) * 60,
  };
}

export interface DayBounds {
  minutesInPpe: number;
  entries: number;
}

/** What is left of the day; never less than nothing. */
export function leftOfDay(used: DayBounds, allowed: DayBounds): DayBounds {
  return {
    minutesInPpe: Math.max(0, allowed.minutesInPpe - used.minutesInPpe),
    entries: Math.max(0, allowed.entries - used.entries),
  };
}
