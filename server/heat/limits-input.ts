import {
  globeFromRadiantC,
  radiantFromGlobeC,
  relativeHumidityPct,
  saturationPressureKPa,
  vapourPressureKPa,
} from './climate.ts';
import { adjustmentSets, findEnsemble, type AdjustmentSet, type Ensemble } from './clothing.ts';
import { checkNumber, shown, type NumberFieldName } from '../../machines/heat/heat-fields.ts';
import { answered, refused, type HeatAnswer, type HeatRefusal } from '../../machines/heat/heat-refusal.ts';
import { bodySurfaceM2 } from './strain-conditions.ts';
import { checkPosture, checkWholeMinutes, type StrainInput } from './strain-input.ts';

/** A question as somebody writes it. Units are in the names; docs/limits.md has the ranges. */
export interface LimitsInput {
  airTemperatureC: number;
  radiantTemperatureC?: number;
  globeTemperatureC?: number;
  relativeHumidityPct?: number;
  vapourPressureKPa?: number;
  airSpeedMs: number;
  metabolicRateWm2?: number;
  metabolicRateW?: number;
  clothingInsulationClo: number;
  permeabilityIndex: number;
  posture: StrainInput['posture'];
  acclimatised: boolean;
  drinkingFreely: boolean;
  walkingSpeedMs?: number;
  walkingDirectionDeg?: number;
  weightKg: number;
  heightM: number;
  durationMin: number;
  ensemble?: string;
}

type Kind = 'number' | 'truth' | 'posture' | 'ensemble';

const fields: Record<keyof LimitsInput, { kind: Kind; optional?: true }> = {
  airTemperatureC: { kind: 'number' },
  radiantTemperatureC: { kind: 'number', optional: true },
  globeTemperatureC: { kind: 'number', optional: true },
  relativeHumidityPct: { kind: 'number', optional: true },
  vapourPressureKPa: { kind: 'number', optional: true },
  airSpeedMs: { kind: 'number' },
  metabolicRateWm2: { kind: 'number', optional: true },
  metabolicRateW: { kind: 'number', optional: true },
  clothingInsulationClo: { kind: 'number' },
  permeabilityIndex: { kind: 'number' },
  posture: { kind: 'posture' },
  acclimatised: { kind: 'truth' },
  drinkingFreely: { kind: 'truth' },
  walkingSpeedMs: { kind: 'number', optional: true },
  walkingDirectionDeg: { kind: 'number', optional: true },
  weightKg: { kind: 'number' },
  heightM: { kind: 'number' },
  durationMin: { kind: 'number' },
  ensemble: { kind: 'ensemble', optional: true },
};

export const limitsFieldNames = Object.keys(fields) as (keyof LimitsInput)[];

/** The question with everything worked out that both methods need. */
export interface LimitsQuestion {
  strain: StrainInput;
  globeTemperatureC: number;
  metabolicRateW: number;
  ensemble?: Ensemble;
  adjustments: AdjustmentSet;
}

/** Takes anything; refuses what is not exactly such a question. */
export function readLimitsInput(
  value: unknown,
  adjustments: AdjustmentSet = adjustmentSets['niosh-2016-106'],
): HeatAnswer<LimitsQuestion> {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) {
    return refused('heat/not-understood', `expected an object with the fields of a question, not ${shown(value)}`);
  }
  const refusal = checkFields(value as Record<string, unknown>) ?? checkPairs(value as LimitsInput);
  if (refusal) return { ok: false, refusal };
  return workOut(value as LimitsInput, adjustments);
}

function checkFields(given: Record<string, unknown>): HeatRefusal | undefined {
  for (const name of Object.keys(given)) {
    if (!Object.hasOwn(fields, name))
      return { code: 'heat/unknown-field', message: `there is no field ${shown(name)}` };
  }
  for (const name of limitsFieldNames) {
    const refusal = checkField(name, given[name], Object.hasOwn(given, name));
    if (refusal) return refusal;
  }
  return undefined;
}

function checkField(name: keyof LimitsInput, value: unknown, isGiven: boolean): HeatRefusal | undefined {
  const { kind, optional } = fields[name];
  if (!isGiven) {
    return optional ? undefined : { code: 'heat/missing-field', message: `the field ${name} is missing` };
  }
  switch (kind) {
    case 'number':
      return (
        checkNumber(name as NumberFieldName, value) ??
        (name === 'durationMin' ? checkWholeMinutes(value as number) : undefined)
      );
    case 'truth':
      return typeof value === 'boolean'
        ? undefined
        : { code: 'heat/wrong-type', message: `${name} must be true or false, not ${shown(value)}` };
    case 'posture':
      return checkPosture(value);
    case 'ensemble':
      return typeof value === 'string'
        ? undefined
        : { code: 'heat/wrong-type', message: `ensemble must be a name, not ${shown(value)}` };
    default:
      return kind satisfies never;
  }
}

function checkPairs(input: LimitsInput): HeatRefusal | undefined {
  return (
    exactlyOne(input, 'relativeHumidityPct', 'vapourPressureKPa') ??
    exactlyOne(input, 'metabolicRateWm2', 'metabolicRateW')
  );
}

function exactlyOne(input: LimitsInput, one: keyof LimitsInput, other: keyof LimitsInput): HeatRefusal | undefined {
  const [hasOne, hasOther] = [input[one] !== undefined, input[other] !== undefined];
  if (hasOne && hasOther) return { code: 'heat/both-given', message: `give ${one} or ${other}, not both` };
  if (!hasOne && !hasOther) return { code: 'heat/missing-field', message: `give ${one} or ${other}` };
  return undefined;
}

function workOut(input: LimitsInput, adjustments: AdjustmentSet): HeatAnswer<LimitsQuestion> {
  const ensemble = input.ensemble === undefined ? undefined : findEnsemble(adjustments, input.ensemble);
  if (input.ensemble !== undefined && !ensemble) return unknownEnsemble(input.ensemble, adjustments);
  const vapour = input.vapourPressureKPa ?? vapourPressureKPa(input.airTemperatureC, input.relativeHumidityPct!);
  const surface = bodySurfaceM2(input);
  const { radiantTemperatureC, globeTemperatureC } = radiantAndGlobe(input);
  const refusal =
    checkVapour(input, vapour) ??
    checkRadiant(input, radiantTemperatureC) ??
    checkNumber('metabolicRateWm2', input.metabolicRateWm2 ?? input.metabolicRateW! / surface) ??
    checkNumber('metabolicRateW', input.metabolicRateW ?? input.metabolicRateWm2! * surface);
  if (refusal) return { ok: false, refusal };
  return answered({
    strain: {
      ...input,
      radiantTemperatureC,
      vapourPressureKPa: vapour,
      metabolicRateWm2: input.metabolicRateWm2 ?? input.metabolicRateW! / surface,
      impermeableEnsemble: ensemble?.barrier === 'impermeable',
    },
    globeTemperatureC,
    metabolicRateW: input.metabolicRateW ?? input.metabolicRateWm2! * surface,
    ensemble,
    adjustments,
  });
}

function unknownEnsemble(name: string, adjustments: AdjustmentSet): HeatAnswer<never> {
  const known = adjustments.ensembles.map((one) => one.id).join(', ');
  return refused('heat/unknown-ensemble', `ensemble ${shown(name)} is not in ${adjustments.name}, which has: ${known}`);
}

/** Whichever of the two was measured gives the other; with neither, walls and globe are as warm as the air. */
function radiantAndGlobe(input: LimitsInput) {
  const { airTemperatureC, airSpeedMs } = input;
  const radiantTemperatureC =
    input.radiantTemperatureC ??
    (input.globeTemperatureC === undefined
      ? airTemperatureC
      : radiantFromGlobeC(input.globeTemperatureC, airTemperatureC, airSpeedMs));
  const globeTemperatureC =
    input.globeTemperatureC ?? globeFromRadiantC(radiantTemperatureC, airTemperatureC, airSpeedMs);
  return { radiantTemperatureC, globeTemperatureC };
}

function checkRadiant(input: LimitsInput, radiantTemperatureC: number): HeatRefusal | undefined {
  const refusal = checkNumber('radiantTemperatureC', radiantTemperatureC);
  if (!refusal || input.radiantTemperatureC !== undefined) return refusal;
  const { globeTemperatureC, airTemperatureC, airSpeedMs } = input;
  const where = `in air of ${airTemperatureC} °C at ${airSpeedMs} m/s`;
  return {
    code: 'heat/out-of-bounds',
    message: `globeTemperatureC cannot be ${globeTemperatureC} ${where}: no walls from −20 to 150 °C would give it`,
  };
}

/** Air cannot hold more vapour than saturates it; a hundredth is left for rounding in what was measured. */
function checkVapour(input: LimitsInput, vapour: number): HeatRefusal | undefined {
  if (relativeHumidityPct(input.airTemperatureC, vapour) <= 101) return undefined;
  const most = saturationPressureKPa(input.airTemperatureC).toFixed(3);
  return {
    code: 'heat/out-of-bounds',
    message: `vapourPressureKPa must be at most ${most} (kPa) at ${input.airTemperatureC} °C, not ${vapour}`,
  };
}
