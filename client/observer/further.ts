import type { StrainMeasured } from '../../machines/unit/heat-settings.ts';

/** What may be measured after an entry besides the vital signs, in the order in which it comes up. None of it is required. */
export const furtherFields = [
  'pulseAtRestStartPerMin',
  'pulseP1PerMin',
  'pulseP3PerMin',
  'oralTemperatureC',
  'massBeforeKg',
  'massAfterKg',
  'sustainedPulsePerMin',
  'ageYears',
] as const satisfies readonly (keyof StrainMeasured)[];
export type FurtherField = (typeof furtherFields)[number];

export const furtherCount = (measured: StrainMeasured): number =>
  Object.values(measured).filter((value) => value !== undefined).length;

/** With a value, or without it where it was taken out again. */
export function withFurther<Field extends keyof StrainMeasured>(
  measured: StrainMeasured,
  field: Field,
  value: StrainMeasured[Field] | undefined,
): StrainMeasured {
  const { [field]: _before, ...others } = measured;
  return (value === undefined ? others : { ...others, [field]: value }) as StrainMeasured;
}

/**
 * The recovery pulse is counted for 30 s from half a minute and from two and a half minutes after sitting down (OSHA Technical
 * Manual III:4, read in a secondary copy).
 */
export type Recovery = 'before-p1' | 'p1' | 'before-p3' | 'p3' | 'over';

export function recoveryAt(satAt: number, now: number): Recovery {
  const seconds = (now - satAt) / 1000;
  if (seconds < 30) return 'before-p1';
  if (seconds < 60) return 'p1';
  if (seconds < 150) return 'before-p3';
  return seconds < 180 ? 'p3' : 'over';
}
