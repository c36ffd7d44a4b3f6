import { vitalNames, type Bounds, type VitalName, type Vitals } from './settings.ts';

/**
 * Vital signs against the unit's bounds. A bound that is set must be measured: a sign that is missing counts as out of
 * bounds, or an empty form would pass. The findings are confidential; only "within" or "out of bounds" is open.
 */
export function checkVitals(bounds: Bounds, vitals: Vitals): { findings: string[] } {
  const findings = vitalNames.flatMap((name) => {
    const bound = bounds[name];
    if (!bound) return [];
    const value = vitals[name];
    if (value === undefined) return [`${vitalWords[name]} was not measured`];
    if (bound.low !== undefined && value < bound.low) return [`${vitalWords[name]} ${value}, below ${bound.low}`];
    if (bound.high !== undefined && value > bound.high) return [`${vitalWords[name]} ${value}, above ${bound.high}`];
    return [];
  });
  return { findings };
}

export const vitalWords: Readonly<Record<VitalName, string>> = {
  temperatureC: 'temperature (°C)',
  pulsePerMin: 'pulse (per min)',
  systolicMmHg: 'systolic blood pressure (mmHg)',
  diastolicMmHg: 'diastolic blood pressure (mmHg)',
  respirationPerMin: 'respiration (per min)',
  saturationPct: 'oxygen saturation (%)',
};
