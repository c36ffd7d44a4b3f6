import { z } from 'zod';
import { numberFields, type NumberFieldName } from '../heat/heat-fields.ts';

/**
 * What a unit decides about heat: the section `heat` of unit.yaml, and the readings and measurements that go with it. Without
 * the section nothing about heat is computed, and the limit is the procedure's rule and the day's minutes alone.
 */
const number = (name: NumberFieldName) => z.number().min(numberFields[name].low).max(numberFields[name].high);
const words = z.string().trim().min(1).max(600);
const minutes = z.number().min(0).max(1440);

/** The air of a room, as somebody read it off or a sensor sent it. */
export const climate = z.strictObject({
  airTemperatureC: number('airTemperatureC'),
  relativeHumidityPct: number('relativeHumidityPct'),
  airSpeedMs: number('airSpeedMs').optional(),
  /** A black globe of 150 mm; left out: walls as warm as the air. */
  globeTemperatureC: number('globeTemperatureC').optional(),
});
export type Climate = z.infer<typeof climate>;

export const workRates = ['light', 'moderate', 'heavy'] as const;
export type WorkRate = (typeof workRates)[number];

export const screeningSets = ['niosh-2016-106', 'iso-7243'] as const;

export const heatSettings = z.strictObject({
  /** The table of clothing adjustments for the screening index. */
  screening: z.enum(screeningSets),
  /** An average person of the unit. Nobody's own body is in a file or a fact. */
  person: z.strictObject({
    weightKg: number('weightKg'),
    heightM: number('heightM'),
    acclimatised: z.boolean(),
    /** Nobody drinks in equipment. */
    drinkingFreely: z.boolean(),
  }),
  /** Counts at the door and in the lane, and in a room that nobody has measured. */
  climate,
  airSpeedMs: number('airSpeedMs'),
  work: z.strictObject({
    usual: z.enum(workRates),
    ratesWm2: z.strictObject({
      light: number('metabolicRateWm2'),
      moderate: number('metabolicRateWm2'),
      heavy: number('metabolicRateWm2'),
    }),
  }),
  /** How far ahead heat strain is computed, from the start of the clock. */
  horizonMinutes: z.int().min(30).max(720),
  /** A check inside finds somebody over one of these: they come out now. */
  check: z.strictObject({
    temperatureC: z.number().min(34).max(43).optional(),
    pulsePerMin: z.number().min(40).max(250).optional(),
    source: words,
  }),
  /** What measurements after an entry do; left out: the published values (machines/heat/after-entry.ts). */
  afterEntry: z
    .strictObject({
      longerRestMinutes: minutes.optional(),
      cutShare: z.number().min(0).max(1).optional(),
      pulseAtRestStartPerMin: number('pulseAtRestStartPerMin').optional(),
      oralTemperatureCutC: number('oralTemperatureC').optional(),
      oralTemperatureBarC: number('oralTemperatureC').optional(),
      coreTemperatureC: number('coreTemperatureC').optional(),
      coreTemperatureAcclimatisedC: number('coreTemperatureC').optional(),
      recoveryP3PerMin: number('pulseP3PerMin').optional(),
      recoveryDropPerMin: z.number().min(0).max(100).optional(),
      bodyMassLossPct: z.number().min(0.1).max(10).optional(),
      strainIndexHigh: number('strainIndex').optional(),
      strainIndexVeryHigh: number('strainIndex').optional(),
    })
    .default({}),
  source: words,
});
export type HeatSettings = z.infer<typeof heatSettings>;

/** For the heat calculation: the clothing of an ensemble. Part of a procedure. */
export const ensembleHeat = z.strictObject({
  clothingInsulationClo: number('clothingInsulationClo'),
  permeabilityIndex: number('permeabilityIndex'),
  /** A name of the unit's table of clothing adjustments; left out: nothing is added to the screening index. */
  adjustment: z.string().trim().min(1).max(120).optional(),
  source: words,
});
export type EnsembleHeat = z.infer<typeof ensembleHeat>;

/** What is measured on one person about heat. Confidential as vital signs are: only what follows from it is open. */
export const strainMeasured = z.strictObject({
  pulseAtRestStartPerMin: number('pulseAtRestStartPerMin').optional(),
  pulseP1PerMin: number('pulseP1PerMin').optional(),
  pulseP3PerMin: number('pulseP3PerMin').optional(),
  sustainedPulsePerMin: number('sustainedPulsePerMin').optional(),
  ageYears: number('ageYears').optional(),
  oralTemperatureC: number('oralTemperatureC').optional(),
  coreTemperatureC: number('coreTemperatureC').optional(),
  coreTemperatureStartC: number('coreTemperatureStartC').optional(),
  pulseStartPerMin: number('pulseStartPerMin').optional(),
  massBeforeKg: number('massBeforeKg').optional(),
  massAfterKg: number('massAfterKg').optional(),
  severeSymptoms: z.boolean().optional(),
});
export type StrainMeasured = z.infer<typeof strainMeasured>;
