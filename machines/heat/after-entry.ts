import { checkNumbers, type NumberFieldName } from './heat-fields.ts';
import { answered, type HeatAnswer } from './heat-refusal.ts';
import { bodyMassChangePct, recoveryClass, sustainedPulseLimitPerMin } from './person.ts';

/**
 * What measurements after an entry do to the rest and to the next entry. Every number is a setting of the unit; these are the
 * published values where there are any. They support the unit's occupational health service and never replace it.
 */
export interface AfterEntryBounds {
  restMin: number;
  longerRestMin: number;
  /** By what share the next period is cut. */
  cutShare: number;
  pulseAtRestStartPerMin: number;
  oralTemperatureCutC: number;
  oralTemperatureBarC: number;
  coreTemperatureC: number;
  coreTemperatureAcclimatisedC: number;
  recoveryP3PerMin: number;
  recoveryDropPerMin: number;
  sustainedPulseBasePerMin: number;
  bodyMassLossPct: number;
  strainIndexHigh: number;
  strainIndexVeryHigh: number;
}

export const afterEntryDefaults: AfterEntryBounds = {
  // DGUV Regel 112-190: 30 min after each wear.
  restMin: 30,
  // Common practice, no source.
  longerRestMin: 60,
  cutShare: 1 / 3,
  pulseAtRestStartPerMin: 110,
  oralTemperatureCutC: 37.6,
  oralTemperatureBarC: 38.1,
  coreTemperatureC: 38,
  coreTemperatureAcclimatisedC: 38.5,
  recoveryP3PerMin: 90,
  recoveryDropPerMin: 10,
  sustainedPulseBasePerMin: 180,
  bodyMassLossPct: 1.5,
  strainIndexHigh: 7,
  strainIndexVeryHigh: 9,
};

/** Give what was measured; what is absent is not judged. */
export interface AfterEntryFindings {
  acclimatised: boolean;
  ageYears?: number;
  pulseAtRestStartPerMin?: number;
  pulseP1PerMin?: number;
  pulseP3PerMin?: number;
  /** Held for several minutes during the work. */
  sustainedPulsePerMin?: number;
  oralTemperatureC?: number;
  coreTemperatureC?: number;
  massBeforeKg?: number;
  massAfterKg?: number;
  strainIndex?: number;
  /** Sudden severe fatigue, nausea, dizziness, confusion, or sweating that stopped with hot dry skin. */
  severeSymptoms?: boolean;
}

export type Effect = 'look-closer' | 'cut-next' | 'longer-rest' | 'not-again-today';

export interface AfterEntryRule {
  id: string;
  /** A clause that completes "because". */
  words: string;
  effects: readonly Effect[];
  source: string;
  /** Whether it applies; undefined where what it needs was not measured. */
  holds: (findings: AfterEntryFindings, bounds: AfterEntryBounds) => boolean | undefined;
}

const nioshMonitoring = 'NIOSH/OSHA/USCG/EPA 85-115, chapter 8';
const acgihStrain = 'ACGIH heat strain guideline, read in a secondary copy';
const oshaRecovery = 'OSHA Technical Manual III:4, read in a secondary copy';
const strainScale = 'Moran et al. 1998 for the scale; what follows from it is common practice, no source';

export const afterEntryRules: readonly AfterEntryRule[] = [
  {
    id: 'severe-symptoms',
    words: 'severe symptoms were seen',
    effects: ['longer-rest', 'not-again-today'],
    source: acgihStrain,
    holds: ({ severeSymptoms }) => severeSymptoms,
  },
  {
    id: 'core-temperature',
    words: 'core temperature was over the bound',
    effects: ['longer-rest', 'not-again-today'],
    source: acgihStrain,
    holds: ({ coreTemperatureC, acclimatised }, bounds) =>
      isOver(coreTemperatureC, acclimatised ? bounds.coreTemperatureAcclimatisedC : bounds.coreTemperatureC),
  },
  {
    id: 'oral-temperature-bar',
    words: 'oral temperature was too high for a barrier garment',
    effects: ['longer-rest', 'not-again-today'],
    source: `${nioshMonitoring} (bars the garment while it is so high; the rest of the day is the careful side)`,
    holds: ({ oralTemperatureC }, bounds) => isOver(oralTemperatureC, bounds.oralTemperatureBarC),
  },
  {
    id: 'body-mass-loss',
    words: 'more of the body mass was lost than is allowed in a shift',
    effects: ['longer-rest', 'not-again-today'],
    source: `${acgihStrain}; ${nioshMonitoring}`,
    holds: ({ massBeforeKg, massAfterKg }, bounds) =>
      massBeforeKg === undefined || massAfterKg === undefined
        ? undefined
        : isOver(-bodyMassChangePct(massBeforeKg, massAfterKg), bounds.bodyMassLossPct),
  },
  {
    id: 'strain-index-very-high',
    words: 'the strain index was very high',
    effects: ['longer-rest', 'not-again-today'],
    source: strainScale,
    holds: ({ strainIndex }, bounds) => isAtLeast(strainIndex, bounds.strainIndexVeryHigh),
  },
  {
    id: 'strain-index-high',
    words: 'the strain index was high',
    effects: ['longer-rest', 'cut-next'],
    source: strainScale,
    holds: ({ strainIndex }, bounds) => isAtLeast(strainIndex, bounds.strainIndexHigh),
  },
  {
    id: 'sustained-pulse',
    words: 'the pulse stayed above 180 less the age',
    effects: ['longer-rest', 'cut-next'],
    source: `${acgihStrain} (ends the exposure; the rest and the cut are common practice, no source)`,
    holds: ({ sustainedPulsePerMin, ageYears }, bounds) =>
      ageYears === undefined
        ? undefined
        : isOver(sustainedPulsePerMin, sustainedPulseLimitPerMin(ageYears, bounds.sustainedPulseBasePerMin)),
  },
  {
    id: 'no-recovery',
    words: 'the pulse did not recover in three minutes',
    effects: ['longer-rest', 'cut-next'],
    source: `${oshaRecovery} (names the stress; the rest and the cut are common practice, no source)`,
    holds: (findings, bounds) => recovered(findings, bounds, 'no-recovery'),
  },
  {
    id: 'hard-work-little-heat',
    words: 'the pulse recovered from hard work with little heat stored',
    effects: ['look-closer'],
    source: oshaRecovery,
    holds: (findings, bounds) => recovered(findings, bounds, 'hard-work-little-heat'),
  },
  {
    id: 'pulse-at-rest-start',
    words: 'the pulse was over the bound as the rest began',
    effects: ['cut-next'],
    source: nioshMonitoring,
    holds: ({ pulseAtRestStartPerMin }, bounds) => isOver(pulseAtRestStartPerMin, bounds.pulseAtRestStartPerMin),
  },
  {
    id: 'oral-temperature-cut',
    words: 'oral temperature was over the first bound',
    effects: ['cut-next'],
    source: nioshMonitoring,
    holds: ({ oralTemperatureC }, bounds) => isOver(oralTemperatureC, bounds.oralTemperatureCutC),
  },
];

function isOver(value: number | undefined, bound: number): boolean | undefined {
  return value === undefined ? undefined : value > bound;
}

function isAtLeast(value: number | undefined, bound: number): boolean | undefined {
  return value === undefined ? undefined : value >= bound;
}

function recovered(
  findings: AfterEntryFindings,
  bounds: AfterEntryBounds,
  as: 'no-recovery' | 'hard-work-little-heat',
) {
  const { pulseP1PerMin, pulseP3PerMin } = findings;
  if (pulseP1PerMin === undefined || pulseP3PerMin === undefined) return undefined;
  const found = recoveryClass(pulseP1PerMin, pulseP3PerMin, {
    p3PerMin: bounds.recoveryP3PerMin,
    dropPerMin: bounds.recoveryDropPerMin,
  });
  return found === as;
}

export interface AfterEntry {
  restMin: number;
  /** What is left of the next work period: 1, less after a cut, 0 when there is none today. */
  nextEntryShare: number;
  notAgainToday: boolean;
  lookCloser: boolean;
  /** The rules that applied, worst first. */
  because: { id: string; words: string; effects: readonly Effect[]; source: string }[];
}

/** Rules do not add up: two that cut the next period cut it once, and the longest rest counts. */
export function afterEntry(
  findings: AfterEntryFindings,
  bounds: AfterEntryBounds = afterEntryDefaults,
): HeatAnswer<AfterEntry> {
  const refusal = checkNumbers(findings as Partial<Record<NumberFieldName, unknown>>, findingNumbers);
  if (refusal) return { ok: false, refusal };
  const applied = afterEntryRules.filter((rule) => rule.holds(findings, bounds));
  const effects = new Set(applied.flatMap((rule) => rule.effects));
  const notAgainToday = effects.has('not-again-today');
  const cut = effects.has('cut-next') ? 1 - bounds.cutShare : 1;
  return answered({
    restMin: effects.has('longer-rest') ? Math.max(bounds.restMin, bounds.longerRestMin) : bounds.restMin,
    nextEntryShare: notAgainToday ? 0 : cut,
    notAgainToday,
    lookCloser: effects.has('look-closer'),
    because: applied.map(({ id, words, effects, source }) => ({ id, words, effects, source })),
  });
}

const findingNumbers = [
  'ageYears',
  'pulseAtRestStartPerMin',
  'pulseP1PerMin',
  'pulseP3PerMin',
  'sustainedPulsePerMin',
  'oralTemperatureC',
  'coreTemperatureC',
  'massBeforeKg',
  'massAfterKg',
  'strainIndex',
] as const satisfies readonly NumberFieldName[];
