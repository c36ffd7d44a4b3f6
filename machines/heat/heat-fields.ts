import type { HeatRefusal, HeatRefusalCode } from './heat-refusal.ts';

interface NumberField {
  low: number;
  high: number;
  unit: string;
}

/**
 * What a number may be before it is absurd: wider than what any formula here was validated for (that is said in the answer),
 * narrow enough that a slipped decimal point or a wrong unit (°F, %, cm) is caught. Our own choice.
 */
export const numberFields = {
  airTemperatureC: { low: -20, high: 70, unit: '°C' },
  radiantTemperatureC: { low: -20, high: 150, unit: '°C' },
  globeTemperatureC: { low: -20, high: 120, unit: '°C' },
  relativeHumidityPct: { low: 0, high: 100, unit: '%' },
  vapourPressureKPa: { low: 0, high: 32, unit: 'kPa' },
  airSpeedMs: { low: 0, high: 20, unit: 'm/s' },
  metabolicRateWm2: { low: 40, high: 700, unit: 'W/m²' },
  metabolicRateW: { low: 60, high: 1500, unit: 'W' },
  clothingInsulationClo: { low: 0, high: 4, unit: 'clo' },
  permeabilityIndex: { low: 0, high: 1, unit: 'without unit' },
  walkingSpeedMs: { low: 0, high: 3, unit: 'm/s' },
  walkingDirectionDeg: { low: -360, high: 360, unit: '°' },
  weightKg: { low: 30, high: 250, unit: 'kg' },
  heightM: { low: 1.2, high: 2.5, unit: 'm' },
  durationMin: { low: 1, high: 1440, unit: 'min' },
  startCoreTemperatureC: { low: 34, high: 42, unit: '°C' },
  coreTemperatureC: { low: 34, high: 43, unit: '°C' },
  coreTemperatureStartC: { low: 34, high: 43, unit: '°C' },
  oralTemperatureC: { low: 32, high: 43, unit: '°C' },
  pulsePerMin: { low: 25, high: 250, unit: '/min' },
  pulseStartPerMin: { low: 25, high: 250, unit: '/min' },
  pulseAtRestStartPerMin: { low: 25, high: 250, unit: '/min' },
  sustainedPulsePerMin: { low: 25, high: 250, unit: '/min' },
  pulseP1PerMin: { low: 25, high: 250, unit: '/min' },
  pulseP3PerMin: { low: 25, high: 250, unit: '/min' },
  strainIndex: { low: 0, high: 10, unit: 'without unit' },
  ageYears: { low: 16, high: 90, unit: 'years' },
  massBeforeKg: { low: 30, high: 250, unit: 'kg' },
  massAfterKg: { low: 30, high: 250, unit: 'kg' },
  drunkL: { low: 0, high: 10, unit: 'L' },
  urineL: { low: 0, high: 10, unit: 'L' },
  minutes: { low: 1, high: 1440, unit: 'min' },
} as const satisfies Record<string, NumberField>;

export type NumberFieldName = keyof typeof numberFields;

/** Undefined when the value will do. */
export function checkNumber(name: NumberFieldName, value: unknown): HeatRefusal | undefined {
  const { low, high } = numberFields[name];
  if (typeof value !== 'number' || !Number.isFinite(value)) return wanted('heat/wrong-type', name, value);
  return value < low || value > high ? wanted('heat/out-of-bounds', name, value) : undefined;
}

function wanted(code: HeatRefusalCode, name: NumberFieldName, value: unknown): HeatRefusal {
  const { low, high, unit } = numberFields[name];
  return { code, message: `${name} must be a number from ${low} to ${high} (${unit}), not ${shown(value)}` };
}

/** The first of these fields that will not do; a field that is absent is not looked at. */
export function checkNumbers(
  values: Partial<Record<NumberFieldName, unknown>>,
  names: readonly NumberFieldName[],
): HeatRefusal | undefined {
  for (const name of names) {
    const refusal = values[name] === undefined ? undefined : checkNumber(name, values[name]);
    if (refusal) return refusal;
  }
  return undefined;
}

/** Somebody else's value in our sentence: short, and on one line whatever is in it. */
export function shown(value: unknown): string {
  if (Array.isArray(value)) return 'an array';
  if (typeof value === 'object' && value !== null) return 'an object';
  const text = typeof value === 'string' ? JSON.stringify(value.slice(0, 60)) : String(value);
  return text.length > 42 ? `${text.slice(0, 40)}…` : text;
}
