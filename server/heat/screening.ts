import { standardPressureKPa, wetBulbC } from './climate.ts';
import type { AdjustmentSet, Barrier, Ensemble } from './clothing.ts';

/**
 * Screening by wet bulb globe temperature. Being over the limit asks for monitoring and sets the first check; it stops nobody:
 * an impermeable suit is over it in an ordinary ward.
 */
export interface ScreeningInput {
  airTemperatureC: number;
  globeTemperatureC: number;
  vapourPressureKPa: number;
  airSpeedMs: number;
  /** Averaged over the hour, W. */
  metabolicRateW: number;
  acclimatised: boolean;
  adjustments: AdjustmentSet;
  /** Absent: nothing is added for clothing, and the answer says so. */
  ensemble?: Ensemble;
  /** What the outer garment lets through, where no ensemble says it. */
  barrier?: Barrier;
  inSun?: boolean;
}

export interface Screening {
  wbgtC: number;
  /** WBGT plus what the clothing adds. */
  effectiveWbgtC: number;
  clothingAdjustmentC: number;
  adjustmentSet: string;
  /** NIOSH recommended alert limit (unacclimatised) and recommended exposure limit (acclimatised). */
  ralC: number;
  relC: number;
  /** Over the one of the two that applies to this person. */
  over: boolean;
  /** Minutes of work until the first physiological check; absent where none is asked for. */
  firstCheckMin?: number;
  caution: string;
}

export function screen(input: ScreeningInput): Screening {
  const wbgt = wbgtOf(input);
  const adjustment = input.ensemble?.adjustmentC ?? 0;
  const effective = wbgt + adjustment;
  const [ral, rel] = [recommendedAlertLimitC(input.metabolicRateW), recommendedExposureLimitC(input.metabolicRateW)];
  const over = effective > (input.acclimatised ? rel : ral);
  const barrier = input.ensemble?.barrier ?? input.barrier ?? 'permeable';
  return {
    wbgtC: wbgt,
    effectiveWbgtC: effective,
    clothingAdjustmentC: adjustment,
    adjustmentSet: input.adjustments.name,
    ralC: ral,
    relC: rel,
    over,
    firstCheckMin: firstCheckMin(input.airTemperatureC, barrier, over),
    caution: cautionOf(over, input.ensemble, barrier),
  };
}

function cautionOf(over: boolean, ensemble: Ensemble | undefined, barrier: Barrier): string {
  const what = over ? 'Over the screening limit: monitor the person. ' : '';
  if (!ensemble) return `${what}No ensemble given: nothing was added for clothing.`;
  return barrier === 'impermeable'
    ? `${what}The index does not suit fully encapsulating impermeable clothing.`
    : `${what}A screening index, with up to 30 % error in the work rate.`;
}

function wbgtOf(input: ScreeningInput): number {
  const { airTemperatureC, globeTemperatureC, airSpeedMs } = input;
  const psychrometric = wetBulbC(airTemperatureC, input.vapourPressureKPa, standardPressureKPa);
  const natural = naturalWetBulbC(airTemperatureC, psychrometric, globeTemperatureC, airSpeedMs);
  return input.inSun ? wbgtInSunC(natural, globeTemperatureC, airTemperatureC) : wbgtC(natural, globeTemperatureC);
}

/** Indoors, or outdoors without sun. ISO 7243, NIOSH 2016-106. */
export function wbgtC(naturalWetBulb: number, globeC: number): number {
  return 0.7 * naturalWetBulb + 0.3 * globeC;
}

export function wbgtInSunC(naturalWetBulb: number, globeC: number, airC: number): number {
  return 0.7 * naturalWetBulb + 0.2 * globeC + 0.1 * airC;
}

/**
 * Natural wet bulb from the psychrometric one: Bernard and Pourmoghani 1999. Where the globe is 4 °C above the air the two
 * branches meet with a step, so in dry air a hotter globe can lower the result there.
 */
export function naturalWetBulbC(airC: number, psychrometricC: number, globeC: number, airSpeedMs: number): number {
  if (globeC - airC < 4) return airC - ventilation(airSpeedMs) * (airC - psychrometricC);
  return psychrometricC + 0.25 * (globeC - airC) + radiantExcess(airSpeedMs);
}

function ventilation(airSpeedMs: number): number {
  if (airSpeedMs < 0.03) return 0.85;
  return airSpeedMs > 3 ? 1 : 0.96 + 0.069 * Math.log10(airSpeedMs);
}

function radiantExcess(airSpeedMs: number): number {
  if (airSpeedMs < 0.1) return 1.1;
  return airSpeedMs > 1 ? -0.1 : 0.1 / airSpeedMs ** 1.1 - 0.2;
}

/** NIOSH 2016-106 section 8.1, for people not acclimatised; metabolic rate in W, averaged over an hour. */
export function recommendedAlertLimitC(metabolicRateW: number): number {
  return 59.9 - 14.1 * Math.log10(metabolicRateW);
}

/** NIOSH 2016-106 section 8.1, for acclimatised people. */
export function recommendedExposureLimitC(metabolicRateW: number): number {
  return 56.7 - 11.5 * Math.log10(metabolicRateW);
}

export interface WorkClass {
  class: 0 | 1 | 2 | 3 | 4;
  name: string;
  /** Up to and including, W: ISO 8996 (from memory). */
  upToW: number;
  referenceAcclimatisedC: number;
  referenceUnacclimatisedC: number;
}

/** ISO 7243:2017 Table A.1 (from memory). For comparison on screen; the limits above are NIOSH's and differ by up to 1.6 °C. */
export const iso7243Classes: readonly WorkClass[] = [
  { class: 0, name: 'rest', upToW: 125, referenceAcclimatisedC: 33, referenceUnacclimatisedC: 32 },
  { class: 1, name: 'low', upToW: 235, referenceAcclimatisedC: 30, referenceUnacclimatisedC: 29 },
  { class: 2, name: 'moderate', upToW: 360, referenceAcclimatisedC: 28, referenceUnacclimatisedC: 26 },
  { class: 3, name: 'high', upToW: 465, referenceAcclimatisedC: 26, referenceUnacclimatisedC: 23 },
  { class: 4, name: 'very high', upToW: Infinity, referenceAcclimatisedC: 25, referenceUnacclimatisedC: 20 },
];

export function workClass(metabolicRateW: number): WorkClass | undefined {
  return iso7243Classes.find((one) => metabolicRateW <= one.upToW);
}

/** Average of a rate or an index over the minutes each part lasted (NIOSH: one hour); undefined when nothing lasted. */
export function timeWeightedAverage(parts: readonly { value: number; minutes: number }[]): number | undefined {
  const minutes = parts.reduce((sum, part) => sum + part.minutes, 0);
  if (!(minutes > 0)) return undefined;
  return parts.reduce((sum, part) => sum + part.value * part.minutes, 0) / minutes;
}

/**
 * NIOSH/OSHA/USCG/EPA 85-115 (1985), chapter 8: minutes of work to the first check, by adjusted air temperature. For fit,
 * acclimatised people at about 250 kcal/h; the hotter band counts where two meet.
 */
export const checkIntervals: readonly { fromF: number; normalMin: number; barrierMin: number }[] = [
  { fromF: 90, normalMin: 45, barrierMin: 15 },
  { fromF: 87.5, normalMin: 60, barrierMin: 30 },
  { fromF: 82.5, normalMin: 90, barrierMin: 60 },
  { fromF: 77.5, normalMin: 120, barrierMin: 90 },
  { fromF: 72.5, normalMin: 150, barrierMin: 120 },
];

/** The table alone: undefined below its lowest band. */
export function checkIntervalMin(adjustedC: number, barrier: Barrier): number | undefined {
  const fahrenheit = adjustedC * 1.8 + 32;
  // A band edge given in °C comes back a hair below it.
  const band = checkIntervals.find(({ fromF }) => fahrenheit >= fromF - 1e-9);
  return barrier === 'permeable' ? band?.normalMin : band?.barrierMin;
}

/** NIOSH 85-115: air temperature plus 13 °F times the share of sunshine (coefficient from memory). */
export function adjustedAirTemperatureC(airTemperatureC: number, sunshineShare: number): number {
  return airTemperatureC + (13 / 1.8) * sunshineShare;
}

/**
 * A barrier garment is checked by the table whether over the limit or not. Whoever is over the limit in a room cooler than the
 * table's lowest band gets the table's longest interval: our own choice, the careful side.
 */
function firstCheckMin(airTemperatureC: number, barrier: Barrier, over: boolean): number | undefined {
  if (!over && barrier === 'permeable') return undefined;
  const interval = checkIntervalMin(airTemperatureC, barrier);
  if (interval !== undefined || !over) return interval;
  const coolest = checkIntervals[checkIntervals.length - 1];
  return barrier === 'permeable' ? coolest?.normalMin : coolest?.barrierMin;
}
