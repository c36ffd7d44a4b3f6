import { answered, type HeatAnswer } from '../../machines/heat/heat-refusal.ts';
import type { Barrier } from './clothing.ts';
import { governingLimit, strainLimits, type GoverningLimit, type LimitCandidate } from './governing-limit.ts';
import type { LimitsQuestion } from './limits-input.ts';
import { predict, type StrainPrediction } from './predicted-heat-strain.ts';
import { screen, type Screening } from './screening.ts';

export interface Limits {
  predictedHeatStrain: StrainPrediction;
  screening: Screening;
  governing: GoverningLimit;
}

/**
 * One question answered whole: prediction, screening, and which limit governs. `further` are the limits that do not come from
 * heat (the unit's rule, the minutes of the day, earlier entries).
 */
export function limitsOf(question: LimitsQuestion, further: readonly LimitCandidate[] = []): HeatAnswer<Limits> {
  const { strain } = question;
  const prediction = predict(strain);
  if (!prediction.ok) return prediction;
  const screening = screen({
    airTemperatureC: strain.airTemperatureC,
    globeTemperatureC: question.globeTemperatureC,
    vapourPressureKPa: strain.vapourPressureKPa,
    airSpeedMs: strain.airSpeedMs,
    metabolicRateW: question.metabolicRateW,
    acclimatised: strain.acclimatised,
    adjustments: question.adjustments,
    ensemble: question.ensemble,
    barrier: barrierOf(strain.permeabilityIndex),
  });
  const candidates = [...further, ...strainLimits(prediction.value, strain.durationMin)];
  return answered({
    predictedHeatStrain: prediction.value,
    screening,
    governing: governingLimit(candidates as [LimitCandidate, ...LimitCandidate[]]),
  });
}

/** Clothing below this permeability is checked at the intervals of barrier garments; our own reading, as in validatedRanges. */
const tightToVapour = 0.3;

/** What the clothing lets through, where no name in a table says it. */
export const barrierOf = (permeabilityIndex: number): Barrier =>
  permeabilityIndex < tightToVapour ? 'semi-permeable' : 'permeable';
