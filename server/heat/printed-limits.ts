import type { Limits } from './limits.ts';
import type { LimitsQuestion } from './limits-input.ts';

export type PrintedLimits = ReturnType<typeof printableLimits>;

const caution =
  'An aid, not a medical device. Indicative: an average healthy person, not an individual. The unit’s own rules, occupational health and licensed practice decide.';

/** What docs/limits.md promises, rounded to what the figures are worth comparing at. */
export function printableLimits(
  { predictedHeatStrain: strain, screening, governing }: Limits,
  question: LimitsQuestion,
) {
  return {
    predictedHeatStrain: {
      rectalTemperatureC: rounded(strain.rectalTemperatureC, 3),
      waterLossG: rounded(strain.waterLossG, 1),
      limitCoreTemperatureMin: strain.limitCoreTemperatureMin,
      limitWaterLossMeanMin: strain.limitWaterLossMeanMin,
      limitWaterLoss95Min: strain.limitWaterLoss95Min,
      outsideRange: strain.outsideRange,
    },
    screening: {
      wbgtC: rounded(screening.wbgtC, 2),
      effectiveWbgtC: rounded(screening.effectiveWbgtC, 2),
      ralC: rounded(screening.ralC, 2),
      relC: rounded(screening.relC, 2),
      ...(screening.firstCheckMin === undefined ? {} : { firstCheckMin: screening.firstCheckMin }),
      over: screening.over,
      clothingAdjustmentC: screening.clothingAdjustmentC,
      adjustmentSet: question.adjustments.id,
      caution: screening.caution,
    },
    governing: {
      minutes: governing.minutes,
      reason: governing.reason,
      source: governing.source,
      caution: governing.caution,
    },
    caution,
  };
}

export function rounded(value: number, decimals: number): number {
  return Number(value.toFixed(decimals));
}
