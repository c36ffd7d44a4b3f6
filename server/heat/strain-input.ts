import {
  checkNumber,
  checkNumbers,
  numberFields,
  shown,
  type NumberFieldName,
} from '../../machines/heat/heat-fields.ts';
import type { HeatRefusal } from '../../machines/heat/heat-refusal.ts';
import { bodySurfaceM2, postures, type StrainConditions, type StrainPerson } from './strain-conditions.ts';

export interface StrainInput extends StrainPerson, StrainConditions {
  /** Whole minutes, 1 to 1440. */
  durationMin: number;
  /** Measured core temperature at the start, °C; absent: 36.8. */
  startCoreTemperatureC?: number;
  /** The garment is of the special protective kind that the standard leaves out. */
  impermeableEnsemble?: boolean;
}

/**
 * The ranges for which ISO 7933:2004 (Annex A) says that the prediction was validated; outside them it is computed all the same.
 * Radiant heat is judged by how far the walls are above the air.
 *
 * The metabolic range is printed in watts (from memory), and of two published implementations one tests watts and the other
 * W/m². They differ for light work and for small people. A rate that is outside in either reading is reported, by the name of
 * that reading. The equations themselves take W/m².
 */
export const validatedRanges = {
  airTemperatureC: { low: 15, high: 50 },
  radiantAboveAirC: { low: 0, high: 60 },
  vapourPressureKPa: { low: 0, high: 4.5 },
  airSpeedMs: { low: 0, high: 3 },
  metabolicRateW: { low: 100, high: 450 },
  metabolicRateWm2: { low: 100, high: 450 },
  clothingInsulationClo: { low: 0.1, high: 1 },
  durationMin: { low: 1, high: 480 },
  /** Our own reading: ordinary clothing has 0.38, semi-permeable at most 0.2 (ISO 9920, from memory). */
  permeabilityIndex: { low: 0.3, high: 1 },
} as const;

/** What is outside, by the name of the input. `radiantTemperatureC`: against the air; `ensemble`: clothing the standard leaves out. */
export type OutsideRange =
  Exclude<keyof typeof validatedRanges, 'radiantAboveAirC'> | 'radiantTemperatureC' | 'ensemble';

/** One sentence a person can read for each. */
export const outsideRangeSentences: Record<OutsideRange, string> = {
  airTemperatureC: 'Air temperature is outside 15 to 50 °C.',
  radiantTemperatureC: 'Radiant temperature is not 0 to 60 °C above the air.',
  vapourPressureKPa: 'Vapour pressure is outside 0 to 4.5 kPa.',
  airSpeedMs: 'Air speed is outside 0 to 3 m/s.',
  metabolicRateW: 'Metabolic rate is outside 100 to 450 W, as the standard prints the range.',
  metabolicRateWm2: 'Metabolic rate is outside 100 to 450 W/m², as some read the range.',
  clothingInsulationClo: 'Clothing insulation is outside 0.1 to 1.0 clo; a full ensemble usually is.',
  durationMin: 'The exposure is longer than the 8 hours of the standard’s examples.',
  permeabilityIndex: 'Clothing this tight to vapour is outside the validated clothing.',
  ensemble: 'Impermeable protective clothing is outside the scope of the standard.',
};

export function outsideRange(input: StrainInput): OutsideRange[] {
  const surface = bodySurfaceM2(input);
  const values: Record<keyof typeof validatedRanges, number> = {
    airTemperatureC: input.airTemperatureC,
    radiantAboveAirC: input.radiantTemperatureC - input.airTemperatureC,
    vapourPressureKPa: input.vapourPressureKPa,
    airSpeedMs: input.airSpeedMs,
    metabolicRateW: input.metabolicRateWm2 * surface,
    metabolicRateWm2: input.metabolicRateWm2,
    clothingInsulationClo: input.clothingInsulationClo,
    durationMin: input.durationMin,
    permeabilityIndex: input.permeabilityIndex,
  };
  const outside: OutsideRange[] = [];
  for (const name of rangeNames) {
    const { low, high } = validatedRanges[name];
    // Rates converted from watts and differences of temperatures end a hair beside the number that was meant.
    if (values[name] >= low - 1e-9 && values[name] <= high + 1e-9) continue;
    outside.push(name === 'radiantAboveAirC' ? 'radiantTemperatureC' : name);
  }
  if (input.impermeableEnsemble) outside.push('ensemble');
  return outside;
}

const rangeNames = Object.keys(validatedRanges) as (keyof typeof validatedRanges)[];

const requiredNumbers = [
  'airTemperatureC',
  'radiantTemperatureC',
  'vapourPressureKPa',
  'airSpeedMs',
  'metabolicRateWm2',
  'clothingInsulationClo',
  'permeabilityIndex',
  'weightKg',
  'heightM',
  'durationMin',
] as const satisfies readonly NumberFieldName[];
const optionalNumbers = ['walkingSpeedMs', 'walkingDirectionDeg', 'startCoreTemperatureC'] as const;

/** Refuses before anything is computed: a number that is none makes trial-and-error programs of the standard run for ever. */
export function checkStrainInput(input: StrainInput): HeatRefusal | undefined {
  for (const name of requiredNumbers) {
    const refusal = checkNumber(name, input[name]);
    if (refusal) return refusal;
  }
  return checkNumbers(input, optionalNumbers) ?? checkWholeMinutes(input.durationMin) ?? checkPosture(input.posture);
}

export function checkWholeMinutes(durationMin: number): HeatRefusal | undefined {
  if (Number.isInteger(durationMin)) return undefined;
  const { low, high } = numberFields.durationMin;
  return {
    code: 'heat/wrong-type',
    message: `durationMin must be whole minutes from ${low} to ${high}, not ${durationMin}`,
  };
}

export function checkPosture(posture: unknown): HeatRefusal | undefined {
  if (postures.some((one) => one === posture)) return undefined;
  return { code: 'heat/wrong-type', message: `posture must be ${postures.join(', ')}, not ${shown(posture)}` };
}
