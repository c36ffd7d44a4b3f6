import { describe, expect, test } from 'vitest';
import { predict, type StrainPrediction } from '../../server/heat/predicted-heat-strain.ts';
import { bodySurfaceM2 } from '../../server/heat/strain-conditions.ts';
import type { StrainInput } from '../../server/heat/strain-input.ts';
import { vapourPressureKPa } from '../../server/heat/climate.ts';

/** Predicted heat strain against published values, each with its source. Tolerances: those of the source, never wider. */
const person = { weightKg: 75, heightM: 1.8, acclimatised: true, drinkingFreely: true };
const ordinary: StrainInput = {
  ...person,
  airTemperatureC: 20,
  radiantTemperatureC: 20,
  vapourPressureKPa: 1.2,
  airSpeedMs: 0.1,
  metabolicRateWm2: 150,
  clothingInsulationClo: 0.5,
  permeabilityIndex: 0.38,
  posture: 'standing',
  durationMin: 480,
};

function predicted(input: Partial<StrainInput>): StrainPrediction {
  const answer = predict({ ...ordinary, ...input });
  if (!answer.ok) throw new Error(answer.refusal.message);
  return answer.value;
}

/** Every figure named in `expected` within its tolerance. */
function expectWithin(
  got: StrainPrediction,
  expected: Partial<Record<keyof StrainPrediction, number>>,
  tolerances: Partial<Record<keyof StrainPrediction, number>>,
) {
  for (const [name, value] of Object.entries(expected) as [keyof StrainPrediction, number][]) {
    expect(Math.abs((got[name] as number) - value), `${name}: ${String(got[name])} for ${value}`).toBeLessThanOrEqual(
      tolerances[name]!,
    );
  }
}

describe('ISO 7933:2004 Annex F, computed examples', () => {
  // Rows 1, 3, 4, 6 and 9: values as carried in the R package comf (dataset dfISO7933AppF).
  // Rows 2, 5, 7, 8 and 10: the same annex, from memory.
  // 75 kg, 1.80 m, 480 min, drinking freely, permeability 0.38, no reflective clothing; walking speed not defined unless given.
  const minutes = { limitCoreTemperatureMin: 1, limitWaterLossMeanMin: 1, limitWaterLoss95Min: 1 };
  const tolerances = { rectalTemperatureC: 0.06, waterLossG: 1, ...minutes };
  interface Row {
    row: number;
    acclimatised: boolean;
    posture: 'standing' | 'sitting';
    /** t_a, t_r, p_a, v_a, M, clo */
    given: [number, number, number, number, number, number];
    /** speed, angle to the wind */
    walking?: [number, number];
    /** t_re, water loss, D_tre, D_loss50, D_loss95 */
    printed: [number, number, number, number, number];
  }
  // prettier-ignore
  const rows: Row[] = [
    { row: 1, acclimatised: true, posture: 'standing', given: [40, 40, 2.5, 0.3, 150, 0.5], printed: [37.5, 6168, 480, 439, 298] },
    { row: 2, acclimatised: true, posture: 'standing', given: [35, 35, 4.0, 0.3, 150, 0.5], printed: [39.8, 6935, 74, 385, 256] },
    { row: 3, acclimatised: true, posture: 'standing', given: [30, 50, 3, 0.3, 150, 0.5], printed: [37.7, 7166, 480, 380, 258] },
    { row: 4, acclimatised: false, posture: 'standing', given: [28, 58, 3, 0.3, 150, 0.5], printed: [41.2, 5807, 57, 466, 314] },
    { row: 5, acclimatised: false, posture: 'standing', given: [35, 35, 3, 1.0, 150, 0.5], printed: [37.6, 3892, 480, 480, 463] },
    { row: 6, acclimatised: true, posture: 'sitting', given: [43, 43, 3, 0.3, 103, 0.5], printed: [37.3, 6763, 480, 401, 271] },
    { row: 7, acclimatised: false, posture: 'standing', given: [35, 35, 3, 0.3, 206, 0.5], printed: [39.2, 7236, 70, 372, 247] },
    { row: 8, acclimatised: false, posture: 'standing', given: [34, 34, 3, 0.3, 150, 1.0], printed: [41.0, 5548, 67, 480, 318] },
    { row: 9, acclimatised: true, posture: 'standing', given: [40, 40, 3, 0.3, 150, 0.4], printed: [37.5, 6684, 480, 407, 276] },
    { row: 10, acclimatised: true, posture: 'standing', given: [40, 40, 3, 0.3, 150, 0.4], walking: [1, 90], printed: [37.6, 5379, 480, 480, 339] },
  ];
  test.each(rows)('row $row', ({ acclimatised, posture, given, walking, printed }) => {
    const [airTemperatureC, radiantTemperatureC, vapour, airSpeedMs, metabolicRateWm2, clothingInsulationClo] = given;
    const climate = { airTemperatureC, radiantTemperatureC, vapourPressureKPa: vapour, airSpeedMs };
    const [walkingSpeedMs, walkingDirectionDeg] = walking ?? [];
    const work = { metabolicRateWm2, clothingInsulationClo, walkingSpeedMs, walkingDirectionDeg };
    const got = predicted({ acclimatised, posture, ...climate, ...work });
    const [rectalTemperatureC, waterLossG, ...limits] = printed;
    const [limitCoreTemperatureMin, limitWaterLossMeanMin, limitWaterLoss95Min] = limits;
    const expectedLimits = { limitCoreTemperatureMin, limitWaterLossMeanMin, limitWaterLoss95Min };
    expectWithin(got, { rectalTemperatureC, waterLossG, ...expectedLimits }, tolerances);
    expect(got.outsideRange).toEqual([]);
  });
});

describe('open validation file for comfort models', () => {
  // validation-data-comfort-models v1.0.0 (2026-08-18), ts_phs.json, MIT; metabolic rate in met of 58.15 W/m².
  const tolerances = {
    rectalTemperatureC: 0.1,
    skinTemperatureC: 0.1,
    coreTemperatureC: 0.1,
    waterLossG: 10,
    sweatRateWm2: 3,
    limitCoreTemperatureMin: 1,
    limitWaterLossMeanMin: 1,
    limitWaterLoss95Min: 1,
  };
  const rows = [
    {
      id: 'valfile-01',
      input: {
        acclimatised: true,
        posture: 'standing',
        airTemperatureC: 40,
        radiantTemperatureC: 40,
        relativeHumidityPct: 33.85,
        airSpeedMs: 0.3,
        met: 2.58,
        clothingInsulationClo: 0.5,
      },
      expected: {
        rectalTemperatureC: 37.5,
        skinTemperatureC: 35.3,
        coreTemperatureC: 37.5,
        waterLossG: 6166.4,
        sweatRateWm2: 266.1,
        limitCoreTemperatureMin: 480,
        limitWaterLossMeanMin: 440,
        limitWaterLoss95Min: 298,
      },
    },
    {
      id: 'valfile-03',
      input: {
        acclimatised: true,
        posture: 'standing',
        airTemperatureC: 30,
        radiantTemperatureC: 50,
        relativeHumidityPct: 70.65,
        airSpeedMs: 0.3,
        met: 2.58,
        clothingInsulationClo: 0.5,
      },
      expected: {
        rectalTemperatureC: 37.7,
        skinTemperatureC: 35.7,
        coreTemperatureC: 37.7,
        waterLossG: 7166.2,
        sweatRateWm2: 312.5,
        limitCoreTemperatureMin: 480,
        limitWaterLossMeanMin: 380,
        limitWaterLoss95Min: 258,
      },
    },
    {
      id: 'valfile-04',
      input: {
        acclimatised: false,
        posture: 'standing',
        airTemperatureC: 28,
        radiantTemperatureC: 58,
        relativeHumidityPct: 79.31,
        airSpeedMs: 0.3,
        met: 2.58,
        clothingInsulationClo: 0.5,
      },
      expected: {
        rectalTemperatureC: 41.2,
        skinTemperatureC: 37.8,
        coreTemperatureC: 41.1,
        waterLossG: 5807.3,
        sweatRateWm2: 250,
        limitCoreTemperatureMin: 57,
        limitWaterLossMeanMin: 466,
        limitWaterLoss95Min: 314,
      },
    },
    {
      id: 'valfile-06',
      input: {
        acclimatised: true,
        posture: 'sitting',
        airTemperatureC: 43,
        radiantTemperatureC: 43,
        relativeHumidityPct: 34.7,
        airSpeedMs: 0.3,
        met: 1.77,
        clothingInsulationClo: 0.5,
      },
      expected: {
        rectalTemperatureC: 37.3,
        skinTemperatureC: 35.3,
        coreTemperatureC: 37.2,
        waterLossG: 6765.1,
        sweatRateWm2: 293.6,
        limitCoreTemperatureMin: 480,
        limitWaterLossMeanMin: 401,
        limitWaterLoss95Min: 271,
      },
    },
    {
      id: 'valfile-09',
      input: {
        acclimatised: true,
        posture: 'standing',
        airTemperatureC: 40,
        radiantTemperatureC: 40,
        relativeHumidityPct: 40.63,
        airSpeedMs: 0.3,
        met: 2.58,
        clothingInsulationClo: 0.4,
      },
      expected: {
        rectalTemperatureC: 37.5,
        skinTemperatureC: 35.5,
        coreTemperatureC: 37.4,
        waterLossG: 6683.4,
        sweatRateWm2: 290.4,
        limitCoreTemperatureMin: 480,
        limitWaterLossMeanMin: 407,
        limitWaterLoss95Min: 276,
      },
    },
    {
      id: 'valfile-11-cool',
      input: {
        acclimatised: true,
        posture: 'sitting',
        airTemperatureC: 20,
        radiantTemperatureC: 20,
        relativeHumidityPct: 50,
        airSpeedMs: 0.1,
        met: 2.58,
        clothingInsulationClo: 0.5,
      },
      expected: {
        rectalTemperatureC: 37.4,
        waterLossG: 1546.3,
        limitCoreTemperatureMin: 480,
        limitWaterLossMeanMin: 480,
        limitWaterLoss95Min: 480,
      },
    },
  ] as const;
  test.each(rows)('$id', ({ input: { relativeHumidityPct, met, ...input }, expected }) => {
    const vapour = vapourPressureKPa(input.airTemperatureC, relativeHumidityPct);
    const got = predicted({ ...input, vapourPressureKPa: vapour, metabolicRateWm2: met * 58.15 });
    expectWithin(got, expected, tolerances);
  });
});

describe('ward conditions', () => {
  // Computed with jsthermalcomfort 0.0.2 (MIT), unrounded; equal to an independent re-write. Row 10 has a permeability outside
  // the stated scope of ISO 7933: a numeric check only.
  const minutes = { limitCoreTemperatureMin: 1, limitWaterLoss95Min: 1 };
  const degrees = { rectalTemperatureC: 0.01, coreTemperatureC: 0.01, skinTemperatureC: 0.01 };
  const rows = [
    {
      id: 'ward-02',
      input: {
        acclimatised: false,
        posture: 'standing',
        airTemperatureC: 24,
        radiantTemperatureC: 24,
        vapourPressureKPa: 1.49255,
        airSpeedMs: 0.15,
        metabolicRateWm2: 130,
        clothingInsulationClo: 1,
        permeabilityIndex: 0.38,
        durationMin: 240,
      },
      expected: {
        rectalTemperatureC: 37.387,
        coreTemperatureC: 37.332,
        skinTemperatureC: 33.811,
        waterLossG: 1053.4,
        limitCoreTemperatureMin: 240,
        limitWaterLoss95Min: 240,
      },
    },
    {
      id: 'ward-04',
      input: {
        acclimatised: true,
        posture: 'standing',
        airTemperatureC: 26,
        radiantTemperatureC: 26,
        vapourPressureKPa: 1.8497,
        airSpeedMs: 0.15,
        metabolicRateWm2: 130,
        clothingInsulationClo: 0.8,
        permeabilityIndex: 0.38,
        durationMin: 180,
      },
      expected: {
        rectalTemperatureC: 37.379,
        coreTemperatureC: 37.324,
        skinTemperatureC: 34.004,
        waterLossG: 820.2,
        limitCoreTemperatureMin: 180,
        limitWaterLoss95Min: 180,
      },
    },
    {
      id: 'ward-06',
      input: {
        acclimatised: false,
        posture: 'sitting',
        airTemperatureC: 28,
        radiantTemperatureC: 28,
        vapourPressureKPa: 2.64754,
        airSpeedMs: 0.1,
        metabolicRateWm2: 120,
        clothingInsulationClo: 0.7,
        permeabilityIndex: 0.38,
        durationMin: 240,
      },
      expected: {
        rectalTemperatureC: 37.308,
        coreTemperatureC: 37.254,
        skinTemperatureC: 34.209,
        waterLossG: 1264.6,
        limitCoreTemperatureMin: 240,
        limitWaterLoss95Min: 240,
      },
    },
    {
      id: 'ward-08',
      input: {
        acclimatised: true,
        posture: 'standing',
        airTemperatureC: 32,
        radiantTemperatureC: 32,
        vapourPressureKPa: 3.33095,
        airSpeedMs: 0.2,
        metabolicRateWm2: 130,
        clothingInsulationClo: 1,
        permeabilityIndex: 0.38,
        durationMin: 120,
      },
      expected: {
        rectalTemperatureC: 38.177,
        coreTemperatureC: 38.135,
        skinTemperatureC: 35.055,
        waterLossG: 1633.4,
        limitCoreTemperatureMin: 100,
        limitWaterLoss95Min: 120,
      },
    },
    {
      id: 'ward-10',
      input: {
        acclimatised: false,
        posture: 'standing',
        airTemperatureC: 24,
        radiantTemperatureC: 24,
        vapourPressureKPa: 1.49255,
        airSpeedMs: 0.1,
        metabolicRateWm2: 130,
        clothingInsulationClo: 1,
        permeabilityIndex: 0.1,
        durationMin: 120,
      },
      expected: {
        rectalTemperatureC: 39.034,
        coreTemperatureC: 39.003,
        skinTemperatureC: 34.64,
        waterLossG: 1353,
        limitCoreTemperatureMin: 59,
        limitWaterLoss95Min: 120,
      },
    },
    {
      id: 'ward-12',
      input: {
        acclimatised: true,
        posture: 'standing',
        airTemperatureC: 30,
        radiantTemperatureC: 30,
        vapourPressureKPa: 2.7599,
        airSpeedMs: 0.2,
        metabolicRateWm2: 130,
        clothingInsulationClo: 1,
        permeabilityIndex: 0.38,
        durationMin: 66,
      },
      expected: {
        rectalTemperatureC: 37.333,
        coreTemperatureC: 37.279,
        skinTemperatureC: 34.399,
        waterLossG: 479.3,
        limitCoreTemperatureMin: 66,
        limitWaterLoss95Min: 66,
      },
    },
    {
      id: 'ward-14',
      input: {
        acclimatised: false,
        posture: 'sitting',
        airTemperatureC: 25,
        radiantTemperatureC: 25,
        vapourPressureKPa: 1.5846,
        airSpeedMs: 0.1,
        metabolicRateWm2: 103,
        clothingInsulationClo: 0.5,
        permeabilityIndex: 0.38,
        durationMin: 480,
      },
      expected: {
        rectalTemperatureC: 37.233,
        coreTemperatureC: 37.181,
        skinTemperatureC: 33.644,
        waterLossG: 1239.1,
        limitCoreTemperatureMin: 480,
        limitWaterLoss95Min: 480,
      },
    },
    {
      id: 'ward-16',
      input: {
        acclimatised: true,
        posture: 'standing',
        airTemperatureC: 29.6,
        radiantTemperatureC: 29.6,
        vapourPressureKPa: 2.71377,
        airSpeedMs: 0.2,
        metabolicRateWm2: 120,
        clothingInsulationClo: 1,
        permeabilityIndex: 0.38,
        durationMin: 66,
      },
      expected: {
        rectalTemperatureC: 37.299,
        coreTemperatureC: 37.246,
        skinTemperatureC: 34.293,
        waterLossG: 390.3,
        limitCoreTemperatureMin: 66,
        limitWaterLoss95Min: 66,
      },
    },
  ] as const;
  test.each(rows)('$id', ({ input, expected }) => {
    expectWithin(predicted(input), expected, { ...degrees, waterLossG: 1, ...minutes });
  });
});

describe('validated range', () => {
  // ISO 7933:2004 Annex A through validation-data-comfort-models v1.0.0 ts_phs.json, whose answers are empty for these. Several
  // libraries test the raw radiant temperature against 0 to 60; the standard's range is for radiant less air.
  const cool = { airTemperatureC: 20, radiantTemperatureC: 20, relativeHumidityPct: 50, airSpeedMs: 0.1 };
  const inRange = { ...cool, metabolicRateWm2: 2.58 * 58.15 };
  const outside = ({ relativeHumidityPct, ...input }: typeof inRange) =>
    predicted({ ...input, vapourPressureKPa: vapourPressureKPa(input.airTemperatureC, relativeHumidityPct) })
      .outsideRange;

  test('inside', () => expect(outside(inRange)).toEqual([]));
  test('air at 51 °C, and the vapour and the cooler walls that come with it', () => {
    expect(outside({ ...inRange, airTemperatureC: 51 })).toEqual([
      'airTemperatureC',
      'radiantTemperatureC',
      'vapourPressureKPa',
    ]);
  });
  test('air at 3.1 m/s', () => expect(outside({ ...inRange, airSpeedMs: 3.1 })).toEqual(['airSpeedMs']));
  test('1.55 met is outside in W/m² and inside in W: reported by the reading it is outside of', () => {
    const light = { ...inRange, metabolicRateWm2: 1.55 * 58.15 };
    expect(light.metabolicRateWm2 * bodySurfaceM2(person)).toBeGreaterThan(100);
    expect(outside(light)).toEqual(['metabolicRateWm2']);
  });
  test('hard work is outside in W and inside in W/m²', () => {
    expect(outside({ ...inRange, metabolicRateWm2: 300 })).toEqual(['metabolicRateW']);
  });
  test('walls at 80 °C are inside when the air is at 40 °C, and outside when it is at 15 °C', () => {
    const walls = { ...inRange, radiantTemperatureC: 80 };
    expect(outside({ ...walls, airTemperatureC: 40 })).toEqual([]);
    expect(outside({ ...walls, airTemperatureC: 15 })).toEqual(['radiantTemperatureC']);
  });
});

test('not a number is refused before anything is computed: the published loops never end on it', () => {
  const answer = predict({ ...ordinary, airTemperatureC: NaN });
  expect(answer).toMatchObject({ ok: false, refusal: { code: 'heat/wrong-type' } });
});

test('without drinking the water-loss limit is 3 % of body mass for everybody (ISO 7933:2004)', () => {
  const hot = { airTemperatureC: 40, radiantTemperatureC: 40, vapourPressureKPa: 2.5, airSpeedMs: 0.3 };
  const got = predicted({ ...hot, drinkingFreely: false });
  expect(got.limitWaterLoss95Min).toBe(got.limitWaterLossMeanMin);
  const justBefore = predicted({ ...hot, durationMin: got.limitWaterLoss95Min - 1 }).waterLossG;
  const then = predicted({ ...hot, durationMin: got.limitWaterLoss95Min }).waterLossG;
  expect(justBefore).toBeLessThan(0.03 * 75_000);
  expect(then).toBeGreaterThanOrEqual(0.03 * 75_000);
});
