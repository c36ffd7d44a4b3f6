import { createRequire } from 'node:module';
import { phs, p_sat } from 'jsthermalcomfort';
import { describe, expect, test } from 'vitest';
import { dewPointC, saturationPressureKPa, vapourPressureKPa, wetBulbC } from '../../server/heat/climate.ts';
import { advance, predict, startStrain, type StrainPrediction } from '../../server/heat/predicted-heat-strain.ts';
import { bodySurfaceM2, postures, prepareConditions } from '../../server/heat/strain-conditions.ts';
import type { StrainInput } from '../../server/heat/strain-input.ts';

/** The same questions put to two programs that nobody here wrote. */

/** A small seeded generator, so that a failure can be looked at again. */
function numbersFrom(seed: number) {
  let state = seed;
  const share = () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state / 4_294_967_296;
  };
  return { share, between: (low: number, high: number) => low + (high - low) * share() };
}

/** jsthermalcomfort rounds the saturation pressure it uses to 0.1 Pa; what is asked of both is what it uses. */
const roundedVapourKPa = (air: number, humidity: number) => ((p_sat(air) / 1000) * humidity) / 100;

interface Question {
  input: StrainInput;
  humidity: number;
}

/** Anywhere inside the validated range, read in W; also tighter clothing than it was validated for, which changes no equation. */
function insideRange(seed: number): Question {
  const { share, between } = numbersFrom(seed);
  const body = { weightKg: between(50, 110), heightM: between(1.5, 2) };
  const surface = bodySurfaceM2(body);
  const air = between(15, 50);
  const humidity = between(0, Math.min(100, 4.5e5 / p_sat(air)));
  const input: StrainInput = {
    ...body,
    acclimatised: share() < 0.5,
    drinkingFreely: true,
    airTemperatureC: air,
    radiantTemperatureC: air + (share() < 0.4 ? 0 : between(0, 60)),
    vapourPressureKPa: roundedVapourKPa(air, humidity),
    airSpeedMs: between(0, 3),
    // Below 58 W/m² the library's default walking speed is negative; here nobody walks backwards.
    metabolicRateWm2: Math.max(58, between(100, 450) / surface),
    clothingInsulationClo: between(0.1, 1),
    permeabilityIndex: between(0.05, 0.5),
    posture: postures[Math.floor(share() * 3)]!,
    walkingSpeedMs: share() < 0.5 ? undefined : between(0.1, 1.5),
    walkingDirectionDeg: share() < 0.5 ? undefined : between(1, 180),
    durationMin: Math.floor(between(60, 481)),
  };
  return { input, humidity };
}

const postureNumbers = { sitting: 1, standing: 2, crouching: 3 };

/** Guarded: the library never returns from a NaN, and with drink = 0 its water-loss limits end at 0. */
function reference({ input, humidity }: Question) {
  const numbers = [
    input.airTemperatureC,
    input.radiantTemperatureC,
    humidity,
    input.airSpeedMs,
    input.metabolicRateWm2,
  ];
  if (!numbers.every(Number.isFinite) || !input.drinkingFreely) throw new Error('not a question for the library');
  return phs(
    input.airTemperatureC,
    input.radiantTemperatureC,
    humidity,
    input.airSpeedMs,
    input.metabolicRateWm2,
    input.clothingInsulationClo,
    postureNumbers[input.posture],
    0,
    input.permeabilityIndex,
    0.54,
    1,
    input.weightKg,
    input.heightM,
    input.walkingSpeedMs ?? 0,
    input.walkingDirectionDeg ?? 0,
    input.acclimatised ? 100 : 0,
    input.durationMin,
    0.97,
    34.1,
    36.8,
    999,
    999,
    0.3,
    0,
    false,
  );
}

function predicted(input: StrainInput): StrainPrediction {
  const answer = predict(input);
  if (!answer.ok) throw new Error(answer.refusal.message);
  return answer.value;
}

/** Rectal temperature after so many minutes; where it creeps over 38 °C, a hair moves the minute, and this tells the hair. */
function rectalAt(input: StrainInput, minute: number): number {
  return advance(startStrain(), prepareConditions(input, input), minute).rectalTemperatureC;
}

describe('predicted heat strain and jsthermalcomfort 0.0.2 (ISO 7933:2004)', () => {
  const questions = Array.from({ length: 2500 }, (_, index) => insideRange(index + 1));

  test('2,500 questions inside the range: temperatures to 0.002 °C, water to 1 g, limits to the minute', () => {
    const reached = { core: 0, water: 0 };
    for (const question of questions) {
      const { input } = question;
      const [got, theirs] = [predicted(input), reference(question)];
      const about = JSON.stringify(input);
      expect(Math.abs(got.rectalTemperatureC - theirs.t_re), about).toBeLessThan(0.002);
      expect(Math.abs(got.coreTemperatureC - theirs.t_cr), about).toBeLessThan(0.002);
      expect(Math.abs(got.skinTemperatureC - theirs.t_sk), about).toBeLessThan(0.002);
      expect(Math.abs(got.waterLossG - theirs.sw_tot_g), about).toBeLessThan(1);
      expect(Math.abs(got.limitWaterLossMeanMin - theirs.d_lim_loss_50), about).toBeLessThanOrEqual(1);
      expect(Math.abs(got.limitWaterLoss95Min - theirs.d_lim_loss_95), about).toBeLessThanOrEqual(1);
      if (Math.abs(got.limitCoreTemperatureMin - theirs.d_lim_t_re) > 1) {
        expect(Math.abs(rectalAt(input, theirs.d_lim_t_re) - 38), about).toBeLessThan(0.002);
      }
      reached.core += got.coreTemperatureReached ? 1 : 0;
      reached.water += got.waterLossReached ? 1 : 0;
    }
    // The questions are worth asking: many reach each limit, many do not.
    expect(Math.min(reached.core, 2500 - reached.core)).toBeGreaterThan(500);
    expect(Math.min(reached.water, 2500 - reached.water)).toBeGreaterThan(500);
  });

  test('all but a few of the limits are the same to the very minute', () => {
    const same = questions.filter((question) => {
      const [got, theirs] = [predicted(question.input), reference(question)];
      return (
        got.limitCoreTemperatureMin === theirs.d_lim_t_re &&
        got.limitWaterLossMeanMin === theirs.d_lim_loss_50 &&
        got.limitWaterLoss95Min === theirs.d_lim_loss_95
      );
    });
    expect(same.length).toBeGreaterThan(2470);
  });
});

interface Psychrolib {
  SetUnitSystem: (system: unknown) => void;
  SI: unknown;
  GetSatVapPres: (airC: number) => number;
  GetTWetBulbFromRelHum: (airC: number, humidity: number, pressurePa: number) => number;
  GetTDewPointFromRelHum: (airC: number, humidity: number) => number;
}

describe('moist air and psychrolib 1.1.1 (ASHRAE), from −20 to 70 °C and 1 to 100 %', () => {
  const psychrolib = createRequire(import.meta.url)('psychrolib') as Psychrolib;
  psychrolib.SetUnitSystem(psychrolib.SI);
  const air = Array.from({ length: 91 }, (_, index) => index - 20);
  const humidities = [1, 2, 5, ...Array.from({ length: 19 }, (_, index) => 10 + 5 * index)].filter((one) => one <= 100);
  const grid = air.flatMap((temperature) => humidities.map((humidity) => ({ temperature, humidity })));

  test('saturation pressure', () => {
    for (const temperature of air) {
      expect(saturationPressureKPa(temperature) / (psychrolib.GetSatVapPres(temperature) / 1000)).toBeCloseTo(1, 9);
    }
  });

  test.each([101.325, 80, 70])('wet bulb and dew point at %d kPa to 0.005 °C', (pressureKPa) => {
    for (const { temperature, humidity } of grid) {
      const vapour = vapourPressureKPa(temperature, humidity);
      const about = `${temperature} °C, ${humidity} %`;
      const wetBulb = psychrolib.GetTWetBulbFromRelHum(temperature, humidity / 100, pressureKPa * 1000);
      const dewPoint = psychrolib.GetTDewPointFromRelHum(temperature, humidity / 100);
      expect(Math.abs(wetBulbC(temperature, vapour, pressureKPa) - wetBulb), about).toBeLessThan(0.005);
      expect(Math.abs(dewPointC(vapour) - dewPoint), about).toBeLessThan(0.005);
    }
  });
});
