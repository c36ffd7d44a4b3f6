import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { saturationPressureKPa, vapourPressureKPa } from '../../server/heat/climate.ts';
import { adjustmentSets } from '../../server/heat/clothing.ts';
import { advance, startStrain } from '../../server/heat/predicted-heat-strain.ts';
import { screen, type ScreeningInput } from '../../server/heat/screening.ts';
import {
  postures,
  prepareConditions,
  type StrainConditions,
  type StrainPerson,
} from '../../server/heat/strain-conditions.ts';

/**
 * More heat, more work, more clothing never lengthens a limit: where that is true of the equations of ISO 7933:2004, and where it
 * is not. docs/limits.md says the same in words; the counterexamples here keep it honest.
 */
const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });

const person: fc.Arbitrary<StrainPerson> = fc.record({
  weightKg: number(50, 110),
  heightM: number(1.5, 2),
  acclimatised: fc.boolean(),
  drinkingFreely: fc.boolean(),
});

interface Setting extends StrainConditions {
  wallsAboveAirC: number;
  relativeHumidityPct: number;
}

interface Bounds {
  airC: [number, number];
  wallsAboveAirC: number;
  airSpeedMs: number;
  workWm2: [number, number];
  clo: [number, number];
}

const setting = ({ airC, wallsAboveAirC, airSpeedMs, workWm2, clo }: Bounds): fc.Arbitrary<Setting> =>
  fc
    .record({
      airTemperatureC: number(...airC),
      wallsAboveAirC: number(0, wallsAboveAirC),
      relativeHumidityPct: number(0, 100),
      airSpeedMs: number(0, airSpeedMs),
      metabolicRateWm2: number(...workWm2),
      clothingInsulationClo: number(...clo),
      permeabilityIndex: number(0.05, 0.5),
      posture: fc.constantFrom(...postures),
      walkingSpeedMs: fc.option(number(0.1, 1.5), { nil: undefined }),
    })
    .map((one) => ({
      ...one,
      radiantTemperatureC: one.airTemperatureC + one.wallsAboveAirC,
      vapourPressureKPa: Math.min(4.5, vapourPressureKPa(one.airTemperatureC, one.relativeHumidityPct)),
    }));

/** All that the standard was validated for, rates read in W for a body of 1.4 to 2.5 m². */
const validated = setting({ airC: [15, 50], wallsAboveAirC: 60, airSpeedMs: 3, workWm2: [52, 232], clo: [0.1, 1] });
/** A ward, a tent or a laboratory: no sun, no furnace, light to moderate work, a whole ensemble. */
const indoors = setting({ airC: [15, 32], wallsAboveAirC: 2, airSpeedMs: 1, workWm2: [52, 180], clo: [0.6, 2] });

function limits(who: StrainPerson, conditions: StrainConditions) {
  const end = advance(startStrain(), prepareConditions(who, conditions), 480);
  const core = end.coreTemperatureReachedMin ?? 481;
  const water = end.waterLoss95ReachedMin ?? 481;
  return { core, water, governing: Math.min(core, water) };
}

type Change = (from: Setting, by: number) => StrainConditions;

/** By how many minutes the change lengthens the limits, at most nothing where it is as it should be. */
function neverLengthens(where: fc.Arbitrary<Setting>, change: Change, allowed = { core: 0, water: 0, governing: 0 }) {
  fc.assert(
    fc.property(person, where, number(0.001, 1), (who, from, by) => {
      const [before, after] = [limits(who, from), limits(who, change(from, by))];
      expect(after.core - before.core).toBeLessThanOrEqual(allowed.core);
      expect(after.water - before.water).toBeLessThanOrEqual(allowed.water);
      expect(after.governing - before.governing).toBeLessThanOrEqual(allowed.governing);
    }),
    { numRuns: 1200, seed: 7933 },
  );
}

const hotterAir: Change = (from, by) => ({
  ...from,
  airTemperatureC: from.airTemperatureC + 5 * by,
  radiantTemperatureC: from.radiantTemperatureC + 5 * by,
});
const hotterWalls: Change = (from, by) => ({ ...from, radiantTemperatureC: from.radiantTemperatureC + 5 * by });
const moreVapour: Change = (from, by) => ({
  ...from,
  vapourPressureKPa: Math.min(4.5, saturationPressureKPa(from.airTemperatureC), from.vapourPressureKPa + by / 2),
});
const harderWork: Change = (from, by) => ({ ...from, metabolicRateWm2: from.metabolicRateWm2 + 30 * by });
const thicker: Change = (from, by) => ({ ...from, clothingInsulationClo: from.clothingInsulationClo + 0.3 * by });
const tighter: Change = (from, by) => ({ ...from, permeabilityIndex: from.permeabilityIndex * (1 - by / 2) });

describe('everywhere in the validated range the water-loss limit never lengthens (the core limit: see below)', () => {
  const waterOnly = { core: Infinity, water: 0, governing: Infinity };
  test('hotter air and walls at the same moisture', () => neverLengthens(validated, hotterAir, waterOnly));
  test('hotter walls', () => neverLengthens(validated, hotterWalls, waterOnly));
  test('harder work', () => neverLengthens(validated, harderWork, waterOnly));
});

describe('indoors: air 15 to 32 °C, walls at most 2 °C warmer, at most 1 m/s and 180 W/m², clothing from 0.6 clo', () => {
  test('hotter air and walls', () => neverLengthens(indoors, hotterAir));
  test('hotter walls', () => neverLengthens(indoors, hotterWalls));
  test('harder work', () => neverLengthens(indoors, harderWork));
  test('thicker clothing', () => neverLengthens(indoors, thicker));
  test('tighter clothing', () => neverLengthens(indoors, tighter));
  test('moister air: the core limit never; the water-loss limit by a few minutes, for less water is breathed out', () =>
    neverLengthens(indoors, moreVapour, { core: 0, water: 5, governing: 5 }));
});

describe('where the equations of the standard do lengthen a limit', () => {
  const who = { weightKg: 75, heightM: 1.8, acclimatised: true, drinkingFreely: true };
  const base: StrainConditions = {
    airTemperatureC: 40,
    radiantTemperatureC: 40,
    vapourPressureKPa: 2,
    airSpeedMs: 0.3,
    metabolicRateWm2: 150,
    clothingInsulationClo: 0.5,
    permeabilityIndex: 0.38,
    posture: 'standing',
  };

  test('clothing shields from walls far hotter than the skin', () => {
    const oven = { ...base, airTemperatureC: 37.5, radiantTemperatureC: 95, vapourPressureKPa: 1.2, airSpeedMs: 2.5 };
    const bare = limits(who, { ...oven, metabolicRateWm2: 100, clothingInsulationClo: 0.25 });
    const clothed = limits(who, { ...oven, metabolicRateWm2: 100, clothingInsulationClo: 0.5 });
    expect(clothed.core).toBeGreaterThan(bare.core + 60);
  });

  test('the most a body can sweat grows with its work rate, faster than the work heats it', () => {
    const small = { ...who, weightKg: 107.4, heightM: 1.66, acclimatised: false };
    const hot = { ...base, airTemperatureC: 46.9, radiantTemperatureC: 48, vapourPressureKPa: 3.24, airSpeedMs: 0.485 };
    const garment = { clothingInsulationClo: 0.135, permeabilityIndex: 0.49 };
    const light = limits(small, { ...hot, ...garment, metabolicRateWm2: 178 });
    const hard = limits(small, { ...hot, ...garment, metabolicRateWm2: 203 });
    expect(hard.core).toBeGreaterThan(light.core + 60);
  });

  test('hotter walls warm the skin at once, so sweating starts sooner, and a summit that just passed 38 °C no longer does', () => {
    const summit = {
      ...base,
      airTemperatureC: 34.08355630352162,
      radiantTemperatureC: 34.08355630352162,
      vapourPressureKPa: 4.5,
      airSpeedMs: 2.9573556825052947,
      metabolicRateWm2: 228.21305241715163,
      clothingInsulationClo: 0.4526878132484854,
      permeabilityIndex: 0.29740430529927836,
      posture: 'sitting' as const,
    };
    const body = { ...who, weightKg: 108.66349784191698, heightM: 1.9409116269089282 };
    expect(limits(body, summit).core).toBe(117);
    expect(limits(body, { ...summit, radiantTemperatureC: 37.8 }).core).toBeGreaterThan(150);
  });

  test('so do moisture and tightness', () => {
    const summit = {
      ...base,
      airTemperatureC: 33.05573375080712,
      radiantTemperatureC: 33.05573375080712,
      vapourPressureKPa: 0.7927164053544402,
      airSpeedMs: 1.891285651596263,
      metabolicRateWm2: 222.01337082143456,
      clothingInsulationClo: 0.3872281564865262,
      permeabilityIndex: 0.37981845523463564,
    };
    const body = { ...who, weightKg: 68.18911244627088, heightM: 1.5546558951027691 };
    expect(limits(body, summit).core).toBe(75);
    expect(limits(body, { ...summit, permeabilityIndex: 0.2315 }).core).toBe(481);
  });
});

describe('screening', () => {
  const niosh = adjustmentSets['niosh-2016-106'];
  const place: fc.Arbitrary<ScreeningInput> = fc
    .record({
      // Wet bulbs above freezing: where the wick freezes the ASHRAE equations have a step of their own.
      airTemperatureC: number(16, 50),
      globeAboveAirC: fc.oneof(number(0, 3.9), number(4.001, 30)),
      relativeHumidityPct: number(0, 100),
      airSpeedMs: number(0, 3),
      metabolicRateW: number(100, 600),
      acclimatised: fc.boolean(),
      ensemble: fc.constantFrom(...niosh.ensembles),
    })
    .map(({ globeAboveAirC, relativeHumidityPct, ...one }) => ({
      ...one,
      adjustments: niosh,
      globeTemperatureC: one.airTemperatureC + globeAboveAirC,
      vapourPressureKPa: vapourPressureKPa(one.airTemperatureC, relativeHumidityPct),
    }));

  /** The index does not fall, and the first check does not come later. */
  function neverMilder(change: (from: ScreeningInput, by: number) => ScreeningInput) {
    fc.assert(
      fc.property(place, number(0.001, 1), (from, by) => {
        const [before, after] = [screen(from), screen(change(from, by))];
        expect(after.effectiveWbgtC).toBeGreaterThanOrEqual(before.effectiveWbgtC - 1e-6);
        if (before.over) expect(after.over).toBe(true);
        expect(after.firstCheckMin ?? Infinity).toBeLessThanOrEqual(before.firstCheckMin ?? Infinity);
      }),
      { numRuns: 800 },
    );
  }

  test('hotter air, the globe as far above it', () =>
    neverMilder((from, by) => ({
      ...from,
      airTemperatureC: from.airTemperatureC + by,
      globeTemperatureC: from.globeTemperatureC + by,
    })));
  test('moister air', () =>
    neverMilder((from, by) => {
      const most = saturationPressureKPa(from.airTemperatureC);
      return { ...from, vapourPressureKPa: from.vapourPressureKPa + by * (most - from.vapourPressureKPa) };
    }));
  test('harder work', () => neverMilder((from, by) => ({ ...from, metabolicRateW: from.metabolicRateW + 100 * by })));
  test('the ensemble further down the table', () =>
    neverMilder((from) => {
      const next = niosh.ensembles.indexOf(from.ensemble!) + 1;
      const tighter = niosh.ensembles[next];
      // A double layer of cotton adds more than a polyolefin coverall and yet lets vapour through.
      return tighter && tighter.barrier !== 'permeable' ? { ...from, ensemble: tighter } : from;
    }));

  test('the published natural wet bulb has a step where the globe is 4 °C above the air; in dry air it goes down', () => {
    const dry = { airTemperatureC: 40, vapourPressureKPa: vapourPressureKPa(40, 10), airSpeedMs: 0.05 };
    const common = { ...dry, metabolicRateW: 200, acclimatised: true, adjustments: niosh };
    const below = screen({ ...common, globeTemperatureC: 43.99 });
    const above = screen({ ...common, globeTemperatureC: 44.01 });
    expect(above.wbgtC).toBeLessThan(below.wbgtC - 0.3);
  });
});
