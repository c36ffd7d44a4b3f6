import { describe, expect, test } from 'vitest';
import { afterEntry } from '../../machines/heat/after-entry.ts';
import { monitoringThrough } from '../../server/heat/follow-up.ts';
import {
  bodyMassChangePct,
  drinkingRates,
  physiologicalStrainIndex,
  recoveryClass,
  recoveryWords,
  sustainedPulseLimitPerMin,
  waterBalance,
} from '../../machines/heat/person.ts';
import { wearTimes } from '../../server/heat/wear-time.ts';

/** The person against published values, each with its source. */
describe('strain index: Moran, Shitzer & Pandolf 1998 (Am J Physiol 275:R129-R134); recomputed', () => {
  // resting core, core, resting pulse, pulse | as the formula gives it, 0 to 10
  test.each([
    [37, 37, 70, 70, 0, 0],
    [37, 39.5, 70, 180, 10, 10],
    [37, 38.5, 70, 140, 6.182, 6.182],
    [36.8, 37.6, 65, 110, 3.438, 3.438],
    [37, 38, 75, 150, 5.571, 5.571],
    [36.9, 38.5, 60, 165, 7.452, 7.452],
    [37.1, 37, 72, 70, -0.301, 0],
  ])(
    '%d to %d °C, %d to %d /min',
    (coreTemperatureStartC, coreTemperatureC, pulseStartPerMin, pulsePerMin, raw, index) => {
      const got = physiologicalStrainIndex({ coreTemperatureStartC, coreTemperatureC, pulseStartPerMin, pulsePerMin });
      if (!got.ok) throw new Error(got.refusal.message);
      expect(Math.abs(got.value.unbounded - raw)).toBeLessThanOrEqual(0.001);
      expect(Math.abs(got.value.index - index)).toBeLessThanOrEqual(0.001);
    },
  );
  test.each([
    [39.5, 70],
    [37, 180],
  ])('has no meaning from %d °C and %d /min at rest', (coreTemperatureStartC, pulseStartPerMin) => {
    const got = physiologicalStrainIndex({
      coreTemperatureStartC,
      coreTemperatureC: 39,
      pulseStartPerMin,
      pulsePerMin: 100,
    });
    expect(got).toMatchObject({ ok: false, refusal: { code: 'heat/out-of-bounds' } });
  });
});

describe('NIOSH/OSHA/USCG/EPA 85-115 chapter 8', () => {
  const after = (findings: object) => {
    const got = afterEntry({ acclimatised: false, ...findings });
    if (!got.ok) throw new Error(got.refusal.message);
    return got.value;
  };
  test.each([
    [112, 40],
    [110, 60],
    [109, 60],
  ])('pulse %d /min as the rest begins leaves %d of 60 min, rest unchanged', (pulseAtRestStartPerMin, minutes) => {
    const got = after({ pulseAtRestStartPerMin });
    expect(Math.abs(60 * got.nextEntryShare - minutes)).toBeLessThanOrEqual(0.01);
    expect(got.restMin).toBe(after({}).restMin);
  });
  test('oral temperature: 37.7 shortens, 37.6 changes nothing, 38.2 bars the garment', () => {
    expect(after({ oralTemperatureC: 37.7 })).toMatchObject({ nextEntryShare: 1 - 1 / 3, notAgainToday: false });
    expect(after({ oralTemperatureC: 37.6 })).toMatchObject({ nextEntryShare: 1, notAgainToday: false });
    expect(after({ oralTemperatureC: 38.2 })).toMatchObject({ nextEntryShare: 0, notAgainToday: true });
  });
});

describe('recovery pulse: OSHA Technical Manual III:4, Table III:4-4, read through a secondary copy', () => {
  test.each([
    [110, 85, 'satisfactory'],
    [118, 100, 'high work level, little heat storage: study further'],
    [112, 106, 'no recovery: too much stress'],
  ])('P1 %d, P3 %d: %s', (p1, p3, words) => expect(recoveryWords[recoveryClass(p1, p3)]).toBe(words));
});

describe('sustained pulse: ACGIH, 180 − age (also quoted by NIOSH 2016-106, from memory)', () => {
  test.each([
    [25, 155],
    [40, 140],
    [60, 120],
  ])('%d years', (age, limit) => expect(sustainedPulseLimitPerMin(age)).toBe(limit));
});

describe('water', () => {
  test('mass balance before − after + drunk − urine (common practice); 1.5 % from ACGIH and NIOSH 85-115', () => {
    const got = waterBalance({ massBeforeKg: 70, massAfterKg: 69.2, drunkL: 0.5, urineL: 0.1, minutes: 120 });
    if (!got.ok) throw new Error(got.refusal.message);
    expect(got.value.sweatLossL).toBeCloseTo(1.2, 3);
    expect(got.value.sweatRateLPerH).toBeCloseTo(0.6, 3);
    expect(got.value.bodyMassChangePct).toBeCloseTo(-1.143, 3);
  });
  test.each([
    [70, 69.2, false],
    [80, 78.7, true],
  ])('%d to %d kg is over 1.5 %%: %s', (massBeforeKg, massAfterKg, isOver) => {
    const got = afterEntry({ acclimatised: false, massBeforeKg, massAfterKg });
    expect(got).toMatchObject({ ok: true, value: { notAgainToday: isOver } });
  });
  test('80 to 78.7 kg is −1.625 %', () => expect(bodyMassChangePct(80, 78.7)).toBeCloseTo(-1.625, 3));
  test('NIOSH hydration fact sheet: 8 oz every 15 to 20 min, never above 48 oz/h', () => {
    const expected = { lowMlPerH: 710, highMlPerH: 946, mostMlPerH: 1420 };
    for (const [name, value] of Object.entries(expected) as [keyof typeof expected, number][]) {
      expect(Math.abs(drinkingRates[name] - value)).toBeLessThanOrEqual(2);
    }
  });
});

test('wear times: DGUV Regel 112-190, current edition (year 2021 from memory)', () => {
  expect(wearTimes).toEqual({
    'filtering-facepiece-without-valve': { wearMin: 75, restMin: 30, perShiftMin: 360 },
    'filtering-facepiece-with-valve': { wearMin: 150, restMin: 30, perShiftMin: 420 },
    'powered-full-mask': { wearMin: 150, restMin: 30, perShiftMin: 420 },
    'powered-half-mask': { wearMin: 180, restMin: 30, perShiftMin: 450 },
    'powered-hood': {},
  });
});

describe('follow-up: 21 days after the last possible exposure (CDC VHF guidance)', () => {
  test.each([
    ['2026-02-10', '2026-03-03'],
    ['2026-12-20', '2027-01-10'],
    ['2028-02-15', '2028-03-07'],
  ])('%s to %s', (from, through) => expect(monitoringThrough(from)).toEqual({ ok: true, value: through }));
  test.each(['2026-02-30', '10.02.2026', '2026-2-1', ''])('%j is no date', (text) => {
    expect(monitoringThrough(text)).toMatchObject({ ok: false, refusal: { code: 'heat/wrong-type' } });
  });
});
