import fc from 'fast-check';
import { phs } from 'jsthermalcomfort';
import { describe, expect, test } from 'vitest';
import { relativeHumidityPct } from '../../server/heat/climate.ts';
import { numberFields, type NumberFieldName } from '../../machines/heat/heat-fields.ts';
import {
  advance,
  predict,
  startStrain,
  stepMinute,
  strainPath,
  type StrainState,
} from '../../server/heat/predicted-heat-strain.ts';
import { postures, prepareConditions, type StrainConditions } from '../../server/heat/strain-conditions.ts';
import type { StrainInput } from '../../server/heat/strain-input.ts';

const person = { weightKg: 70, heightM: 1.75, acclimatised: false, drinkingFreely: false };
const ward: StrainConditions = {
  airTemperatureC: 24,
  radiantTemperatureC: 24,
  vapourPressureKPa: 1.49,
  airSpeedMs: 0.15,
  metabolicRateWm2: 130,
  clothingInsulationClo: 1,
  permeabilityIndex: 0.38,
  posture: 'standing',
};
const tent: StrainConditions = { ...ward, airTemperatureC: 36, radiantTemperatureC: 38, vapourPressureKPa: 3.6 };
const inWard = prepareConditions(person, ward);
const inTent = prepareConditions(person, tent);

/** Every number the product takes, anywhere in its bounds. */
const anyInput: fc.Arbitrary<StrainInput> = fc.record({
  airTemperatureC: within('airTemperatureC'),
  radiantTemperatureC: within('radiantTemperatureC'),
  vapourPressureKPa: within('vapourPressureKPa'),
  airSpeedMs: within('airSpeedMs'),
  metabolicRateWm2: within('metabolicRateWm2'),
  clothingInsulationClo: within('clothingInsulationClo'),
  permeabilityIndex: within('permeabilityIndex'),
  posture: fc.constantFrom(...postures),
  walkingSpeedMs: fc.option(within('walkingSpeedMs'), { nil: undefined }),
  walkingDirectionDeg: fc.option(within('walkingDirectionDeg'), { nil: undefined }),
  weightKg: within('weightKg'),
  heightM: within('heightM'),
  acclimatised: fc.boolean(),
  drinkingFreely: fc.boolean(),
  startCoreTemperatureC: fc.option(within('startCoreTemperatureC'), { nil: undefined }),
  durationMin: fc.integer({ min: 1, max: 1440 }),
});

function within(name: NumberFieldName): fc.Arbitrary<number> {
  const { low, high } = numberFields[name];
  const inside = fc.double({ min: low, max: high, noNaN: true });
  return fc.oneof({ weight: 4, arbitrary: inside }, fc.constantFrom(low, high));
}

describe('stepping', () => {
  test('so many single steps are the whole run, to the last bit', () => {
    fc.assert(
      fc.property(anyInput, fc.integer({ min: 1, max: 200 }), (input, minutes) => {
        const prepared = prepareConditions(input, input);
        let state = startStrain(input.startCoreTemperatureC);
        for (let minute = 0; minute < minutes; minute += 1) state = stepMinute(state, prepared);
        expect(state).toEqual(advance(startStrain(input.startCoreTemperatureC), prepared, minutes));
      }),
      { numRuns: 200 },
    );
  });

  test('a run is its parts, wherever it is cut, and a state may be stored as JSON in between', () => {
    fc.assert(
      fc.property(anyInput, fc.nat(240), fc.nat(240), (input, first, second) => {
        const prepared = prepareConditions(input, input);
        const stored = JSON.parse(JSON.stringify(advance(startStrain(), prepared, first))) as StrainState;
        expect(advance(stored, prepared, second)).toEqual(advance(startStrain(), prepared, first + second));
      }),
      { numRuns: 200 },
    );
  });

  test('a step leaves the state it came from as it was', () => {
    const state = Object.freeze(startStrain());
    expect(stepMinute(state, inTent).minute).toBe(1);
    expect(state).toEqual(startStrain());
  });

  test('preparing the same conditions again in the middle changes nothing', () => {
    const half = advance(startStrain(), inWard, 60);
    expect(advance(half, prepareConditions(person, { ...ward }), 60)).toEqual(advance(startStrain(), inWard, 120));
  });

  test('another room in the middle: hotter heats, and coming back cools again', () => {
    const before = advance(startStrain(), inWard, 60);
    const stayed = advance(before, inWard, 40);
    const moved = advance(before, inTent, 40);
    const back = advance(moved, inWard, 120);
    expect(moved.rectalTemperatureC).toBeGreaterThan(stayed.rectalTemperatureC + 0.3);
    expect(moved.waterLossG).toBeGreaterThan(stayed.waterLossG);
    expect(back.rectalTemperatureC).toBeLessThan(moved.rectalTemperatureC);
  });

  test('a limit that was reached stays reached at its minute, whatever comes after', () => {
    const reached = advance(startStrain(), inTent, 240);
    const minute = reached.coreTemperatureReachedMin;
    expect(minute).toBeGreaterThan(10);
    expect(advance(reached, inWard, 300).coreTemperatureReachedMin).toBe(minute);
    expect(advance(startStrain(), inTent, minute! - 1).coreTemperatureReachedMin).toBeUndefined();
  });

  test('no water is ever unlost', () => {
    const path = strainPath(startStrain(), inTent, 300, 5);
    expect(path).toHaveLength(61);
    for (const [index, point] of path.slice(1).entries()) {
      expect(point.minute).toBe((index + 1) * 5);
      expect(point.waterLossG).toBeGreaterThan(path[index]!.waterLossG);
    }
  });

  test('a measured core temperature at the start counts', () => {
    const warm = advance(startStrain(37.5), inWard, 10);
    expect(warm.rectalTemperatureC).toBeGreaterThan(advance(startStrain(), inWard, 10).rectalTemperatureC + 0.3);
  });
});

describe('conditions that change, against jsthermalcomfort 0.0.2 carried on from its own end', () => {
  /** One stretch of the library. From 0.3 m/s its convection does not depend on the skin it starts with. */
  function stretch(conditions: StrainConditions, minutes: number, from?: ReturnType<typeof phs>) {
    const humidity = relativeHumidityPct(conditions.airTemperatureC, conditions.vapourPressureKPa);
    const { airTemperatureC, radiantTemperatureC, airSpeedMs, metabolicRateWm2, clothingInsulationClo } = conditions;
    const work = [metabolicRateWm2, clothingInsulationClo, 2, 0, conditions.permeabilityIndex, 0.54, 1] as const;
    const body = [person.weightKg, person.heightM, 0, 0, 0, minutes, 0.97] as const;
    const start = from
      ? ([from.t_sk, from.t_cr, from.t_re, from.t_cr_eq, from.t_sk_t_cr_wg, from.sweat_rate] as const)
      : ([34.1, 36.8, 999, 999, 0.3, 0] as const);
    return phs(airTemperatureC, radiantTemperatureC, humidity, airSpeedMs, ...work, ...body, ...start, false);
  }

  const room = fc.record({
    airTemperatureC: fc.double({ min: 18, max: 42, noNaN: true }),
    vapourPressureKPa: fc.double({ min: 0.5, max: 2, noNaN: true }),
    airSpeedMs: fc.double({ min: 0.3, max: 2, noNaN: true }),
    metabolicRateWm2: fc.double({ min: 70, max: 220, noNaN: true }),
    clothingInsulationClo: fc.double({ min: 0.3, max: 1, noNaN: true }),
    wallsAboveAirC: fc.double({ min: 0, max: 30, noNaN: true }),
  });

  test('two rooms, 300 pairs of them, temperatures to 0.005 °C and sweat to 0.5 W/m²', () => {
    fc.assert(
      fc.property(room, room, fc.integer({ min: 5, max: 120 }), fc.integer({ min: 5, max: 120 }), (one, two, m, n) => {
        const [first, second] = [one, two].map(({ wallsAboveAirC, ...conditions }) => ({
          ...ward,
          ...conditions,
          radiantTemperatureC: conditions.airTemperatureC + wallsAboveAirC,
        })) as [StrainConditions, StrainConditions];
        const theirs = stretch(second, n, stretch(first, m));
        const free = { ...person, drinkingFreely: true };
        const between = advance(startStrain(), prepareConditions(free, first), m);
        const ours = advance(between, prepareConditions(free, second), n);
        expect(Math.abs(ours.rectalTemperatureC - theirs.t_re)).toBeLessThan(0.005);
        expect(Math.abs(ours.coreTemperatureC - theirs.t_cr)).toBeLessThan(0.005);
        expect(Math.abs(ours.skinTemperatureC - theirs.t_sk)).toBeLessThan(0.005);
        expect(Math.abs(ours.sweatRateWm2 - theirs.sweat_rate)).toBeLessThan(0.5);
      }),
      { numRuns: 300, seed: 7933 },
    );
  });
});

describe('whatever is accepted is answered, and whatever is not is refused', () => {
  test('every figure of every answer is finite and in its place', () => {
    fc.assert(
      fc.property(anyInput, (input) => {
        const answer = predict(input);
        if (!answer.ok) throw new Error(answer.refusal.message);
        const { outsideRange, coreTemperatureReached, waterLossReached, ...figures } = answer.value;
        for (const [name, value] of Object.entries(figures)) expect(Number.isFinite(value), name).toBe(true);
        for (const limit of [figures.limitCoreTemperatureMin, figures.limitWaterLossMeanMin]) {
          expect(limit).toBeGreaterThanOrEqual(1);
          expect(limit).toBeLessThanOrEqual(input.durationMin);
        }
        expect(figures.limitWaterLoss95Min).toBeLessThanOrEqual(figures.limitWaterLossMeanMin);
        expect(new Set(outsideRange).size).toBe(outsideRange.length);
        expect([typeof coreTemperatureReached, typeof waterLossReached]).toEqual(['boolean', 'boolean']);
      }),
      { numRuns: 1500 },
    );
  });

  const input: StrainInput = { ...person, ...ward, durationMin: 120 };
  const numbers = [
    'airTemperatureC',
    'radiantTemperatureC',
    'vapourPressureKPa',
    'airSpeedMs',
    'metabolicRateWm2',
    'clothingInsulationClo',
    'permeabilityIndex',
    'walkingSpeedMs',
    'walkingDirectionDeg',
    'weightKg',
    'heightM',
    'durationMin',
    'startCoreTemperatureC',
  ] as const;
  test.each(numbers)('%s: not a number, endless, absurd', (name) => {
    const { low, high } = numberFields[name];
    const codeFor = (value: unknown) => {
      const answer = predict({ ...input, [name]: value });
      return answer.ok ? 'answered' : answer.refusal.code;
    };
    for (const value of [NaN, Infinity, -Infinity, '24', null]) expect(codeFor(value)).toBe('heat/wrong-type');
    for (const value of [low - 0.01, high + 0.01]) expect(codeFor(value)).toBe('heat/out-of-bounds');
    for (const value of [low, high]) expect(codeFor(value)).toBe('answered');
    const refusal = predict({ ...input, [name]: NaN });
    expect(refusal).toMatchObject({ refusal: { message: expect.stringContaining(name) as string } });
  });
  test('half a minute and a posture nobody can take', () => {
    expect(predict({ ...input, durationMin: 30.5 })).toMatchObject({ refusal: { code: 'heat/wrong-type' } });
    const kneeling = predict({ ...input, posture: 'kneeling' as 'standing' });
    expect(kneeling).toMatchObject({ refusal: { code: 'heat/wrong-type' } });
  });
  test('clothing that lets nothing through, and no clothing at all', () => {
    for (const clothing of [{ permeabilityIndex: 0 }, { clothingInsulationClo: 0 }]) {
      expect(predict({ ...input, ...clothing })).toMatchObject({ ok: true });
    }
  });
});
