import { describe, expect, test } from 'vitest';
import { dewPointC, heatIndexC, vapourPressureKPa, wetBulbC } from '../../server/heat/climate.ts';
import { adjustmentSets, findEnsemble, type AdjustmentSetId } from '../../server/heat/clothing.ts';
import {
  adjustedAirTemperatureC,
  checkIntervalMin,
  iso7243Classes,
  naturalWetBulbC,
  recommendedAlertLimitC,
  recommendedExposureLimitC,
  screen,
  timeWeightedAverage,
  wbgtC,
  wbgtInSunC,
  workClass,
} from '../../server/heat/screening.ts';

/** Screening against published values, each with its source. */
const within = (got: number | undefined, expected: number, tolerance: number) =>
  expect(Math.abs(got! - expected), `${got} for ${expected}`).toBeLessThanOrEqual(tolerance);

describe('WBGT: validation-data-comfort-models v1.0.0 ts_wbgt.json (MIT); ISO 7243, NIOSH 2016-106', () => {
  // natural wet bulb, globe, air in the sun | WBGT
  test.each([
    [25, 32, 20, 25.9],
    [17.3, 40, undefined, 24.1],
    [21.1, 55, undefined, 31.3],
    [16.7, 40, undefined, 23.7],
    [25, 30, undefined, 26.5],
    [25, 30, undefined, 26.5],
    [25, 30, undefined, 26.5],
    [0, 0, undefined, 0],
    [25, 30, undefined, 26.5],
  ])('%d, %d, air %s', (natural, globe, airInSun, expected) => {
    within(airInSun === undefined ? wbgtC(natural, globe) : wbgtInSunC(natural, globe, airInSun), expected, 0.1);
  });
});

describe('natural wet bulb: Bernard & Pourmoghani 1999 (Appl Occup Environ Hyg 14:126-134), equations 1 and 2', () => {
  // air, psychrometric wet bulb, globe, air speed | natural wet bulb
  test.each([
    [30, 22, 30, 0, 23.2],
    [30, 22, 30, 0.02, 23.2],
    [30, 22, 30, 1, 22.32],
    [30, 22, 30, 2, 22.154],
    [30, 22, 30, 4, 22],
    [24, 17.07, 24, 0.1, 17.825],
    [30, 22, 36, 0.05, 24.6],
    [30, 22, 36, 0.5, 23.514],
    [30, 22, 36, 2, 23.4],
  ])('air %d, wet bulb %d, globe %d, %d m/s', (air, wetBulb, globe, wind, expected) => {
    within(naturalWetBulbC(air, wetBulb, globe, wind), expected, 0.01);
  });
});

describe('moist air at 101325 Pa: psychrolib 1.1.1 (ASHRAE Handbook Fundamentals 2017, chapter 1)', () => {
  // air, humidity | wet bulb, dew point, vapour pressure
  test.each([
    [20, 50, 13.78, 9.27, 1.1694],
    [22, 45, 14.67, 9.53, 1.1901],
    [24, 50, 17.07, 12.95, 1.4926],
    [26, 60, 20.34, 17.64, 2.0179],
    [28, 60, 22.07, 19.51, 2.2693],
    [30, 50, 22.01, 18.45, 2.123],
    [30, 65, 24.67, 22.7, 2.7599],
    [32, 70, 27.32, 25.84, 3.331],
  ])('%d °C, %d %%', (air, humidity, wetBulb, dewPoint, vapour) => {
    const got = vapourPressureKPa(air, humidity);
    within(got, vapour, 0.005);
    within(wetBulbC(air, got), wetBulb, 0.05);
    within(dewPointC(got), dewPoint, 0.05);
  });

  test("Stull's own worked value (2011, from memory) lies within the error he states for his formula", () => {
    // J Appl Meteor Climatol 50:2267: 20 °C and 50 % give 13.7; stated errors −1.0 to +0.65 °C, mean below 0.3.
    within(wetBulbC(20, vapourPressureKPa(20, 50)), 13.7, 0.3);
  });
});

describe('from air to WBGT indoors, globe as warm as the air, 0.1 m/s', () => {
  // psychrolib 1.1.1 wet bulb, Bernard & Pourmoghani 1999, ISO 7243. air, humidity | natural wet bulb, WBGT
  test.each([
    [20, 50, 14.46, 16.12],
    [22, 45, 15.47, 17.43],
    [24, 50, 17.82, 19.68],
    [26, 60, 20.96, 22.47],
    [28, 60, 22.72, 24.3],
    [30, 50, 22.88, 25.01],
    [30, 65, 25.25, 26.68],
    [32, 70, 27.83, 29.08],
  ])('%d °C, %d %%', (air, humidity, natural, wbgt) => {
    const got = naturalWetBulbC(air, wetBulbC(air, vapourPressureKPa(air, humidity)), air, 0.1);
    within(got, natural, 0.06);
    within(wbgtC(got, air), wbgt, 0.06);
  });
});

describe('NIOSH 2016-106 section 8.1: RAL = 59.9 − 14.1 log10 M, REL = 56.7 − 11.5 log10 M', () => {
  // W | RAL, REL; recomputed
  test.each([
    [115, 30.84, 33],
    [180, 28.1, 30.76],
    [200, 27.46, 30.24],
    [234, 26.49, 29.45],
    [300, 24.97, 28.21],
    [348.9, 24.05, 27.46],
    [349, 24.05, 27.46],
    [415, 22.99, 26.59],
    [465, 22.29, 26.02],
    [520, 21.6, 25.47],
    [1000, 17.6, 22.2],
  ])('%d W', (watts, alert, exposure) => {
    within(recommendedAlertLimitC(watts), alert, 0.01);
    within(recommendedExposureLimitC(watts), exposure, 0.01);
  });
  test('Table 5-1, moderate work (201 to 300 kcal/h), acclimatised: 28 °C', () => {
    within(recommendedExposureLimitC(300), 28, 0.5);
  });
  test('worked example of page 4, read from the figure: 348.9 W, REL 27.8, RAL 25.0', () => {
    within(recommendedExposureLimitC(348.9), 27.8, 0.35);
    within(recommendedAlertLimitC(348.9), 25, 1);
  });
});

describe('ISO 7243:2017 Table A.1 (from memory)', () => {
  // class, W | acclimatised, unacclimatised
  test.each([
    [0, 115, 33, 32],
    [1, 180, 30, 29],
    [2, 300, 28, 26],
    [3, 415, 26, 23],
    [4, 520, 25, 20],
  ])('class %d', (number, watts, acclimatised, unacclimatised) => {
    expect(workClass(watts)).toMatchObject({
      class: number,
      referenceAcclimatisedC: acclimatised,
      referenceUnacclimatisedC: unacclimatised,
    });
  });
  test("the exposure limit of NIOSH rounds down to the acclimatised column within 1 °C; the other column is not NIOSH's", () => {
    const centres = [115, 180, 300, 415, 520];
    const gaps = iso7243Classes.map(
      (one, index) => recommendedAlertLimitC(centres[index]!) - one.referenceUnacclimatisedC,
    );
    for (const [index, one] of iso7243Classes.entries()) {
      within(recommendedExposureLimitC(centres[index]!), one.referenceAcclimatisedC + 0.5, 0.51);
    }
    expect(Math.max(...gaps)).toBeCloseTo(1.6, 1);
  });
});

describe('clothing adjustments', () => {
  // NIOSH: Table 3-2 (p. 19) and the OSHA heat hazard page, through transcriptions that agree. ISO: Annex F (from memory), in part
  // confirmed by the Brazilian NR-15 Annex 3, which has 0.5 for SMS.
  const rows: [AdjustmentSetId, string, number][] = [
    ['niosh-2016-106', 'work clothes', 0],
    ['niosh-2016-106', 'woven (cloth) coverall', 0],
    ['niosh-2016-106', 'double layer woven', 3],
    ['niosh-2016-106', 'SMS polypropylene coverall', 0.5],
    ['niosh-2016-106', 'polyolefin coverall', 1],
    ['niosh-2016-106', 'limited-use vapour-barrier coverall', 11],
    ['iso-7243', 'work clothes', 0],
    ['iso-7243', 'woven (cloth) coverall', 0],
    ['iso-7243', 'SMS single layer coverall', 0],
    ['iso-7243', 'polyolefin single layer coverall', 2],
    ['iso-7243', 'double layer woven', 3],
    ['iso-7243', 'long-sleeve vapour-barrier apron with gloves and booties over woven coverall', 4],
    ['iso-7243', 'vapour-barrier coverall, no hood', 10],
    ['iso-7243', 'vapour-barrier coverall with hood', 11],
    ['iso-7243', 'vapour-barrier coverall over woven coverall, no hood', 12],
  ];
  test.each(rows)('%s: %s adds %d', (set, name, expected) => {
    expect(findEnsemble(adjustmentSets[set], name)?.adjustmentC).toBe(expected);
  });
  test('a hood of any kind adds 1 (ISO 7243:2017 Annex F, from memory; NR-15 Annex 3)', () => {
    const iso = adjustmentSets['iso-7243'];
    expect(findEnsemble(iso, 'SMS single layer coverall with hood')?.adjustmentC).toBe(1);
    expect(findEnsemble(iso, 'vapour-barrier coverall over woven coverall with hood')?.adjustmentC).toBe(13);
  });
  test('what one table has, the other need not', () => {
    expect(findEnsemble(adjustmentSets['iso-7243'], 'limited-use vapour-barrier coverall')).toBeUndefined();
  });
});

test('an impermeable suit is over the alert limit in an ordinary ward at light work', () => {
  // NIOSH 2016-106 limits, Table 3-2, Bernard & Pourmoghani 1999: 24 °C, 50 %, 0.1 m/s, +11, 180 W.
  const niosh = adjustmentSets['niosh-2016-106'];
  const ward = {
    airTemperatureC: 24,
    globeTemperatureC: 24,
    vapourPressureKPa: vapourPressureKPa(24, 50),
    airSpeedMs: 0.1,
    metabolicRateW: 180,
    adjustments: niosh,
    ensemble: findEnsemble(niosh, 'limited-use vapour-barrier coverall'),
  };
  const [unacclimatised, acclimatised] = [false, true].map((one) => screen({ ...ward, acclimatised: one }));
  within(unacclimatised!.wbgtC, 19.68, 0.06);
  within(unacclimatised!.effectiveWbgtC, 30.68, 0.06);
  within(unacclimatised!.ralC, 28.1, 0.01);
  within(unacclimatised!.relC, 30.76, 0.01);
  expect([unacclimatised!.over, acclimatised!.over]).toEqual([true, false]);
});

test('averages over time (NIOSH 2016-106, OSHA Technical Manual III:4)', () => {
  const work = [
    { value: 415, minutes: 45 },
    { value: 115, minutes: 15 },
  ];
  const index = [
    { value: 30.8, minutes: 40 },
    { value: 19.8, minutes: 20 },
  ];
  within(timeWeightedAverage(work), 340, 0.01);
  within(timeWeightedAverage(index), 27.133, 0.001);
  expect(timeWeightedAverage([])).toBeUndefined();
});

describe('first check: NIOSH/OSHA/USCG/EPA 85-115 (1985), chapter 8, read through a secondary copy', () => {
  const celsius = (fahrenheit: number) => (fahrenheit - 32) / 1.8;
  // adjusted °F, clothing | minutes of work
  test.each([
    [92, 'impermeable', 15],
    [92, 'permeable', 45],
    [88, 'impermeable', 30],
    [88, 'permeable', 60],
    [85, 'impermeable', 60],
    [85, 'permeable', 90],
    [80, 'impermeable', 90],
    [80, 'permeable', 120],
    [75, 'impermeable', 120],
    [75, 'permeable', 150],
  ] as const)('%d °F, %s', (fahrenheit, barrier, minutes) => {
    expect(checkIntervalMin(celsius(fahrenheit), barrier)).toBe(minutes);
  });
  test.each([
    [90, 15],
    [87.5, 30],
    [82.5, 60],
    [77.5, 90],
    [72.5, 120],
    [72.4, undefined],
  ])('the band that starts at %d °F holds there', (fahrenheit, minutes) => {
    expect(checkIntervalMin(celsius(fahrenheit), 'impermeable')).toBe(minutes);
  });
  test('no sun, nothing added; full sun adds 13 °F (coefficient from memory)', () => {
    within(adjustedAirTemperatureC(celsius(80), 0), celsius(80), 0.01);
    within(adjustedAirTemperatureC(celsius(80), 1), celsius(93), 0.01);
  });
});

describe('heat index: validation-data-comfort-models v1.0.0 ts_heat_index.json (MIT), Rothfusz', () => {
  test.each([
    [25, 50, 25.9],
    [30, 80, 37.7],
  ])('%d °C, %d %%', (air, humidity, expected) => within(heatIndexC(air, humidity), expected, 0.1));
});
