import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import {
  afterEntry,
  afterEntryDefaults,
  afterEntryRules,
  type AfterEntry,
  type AfterEntryFindings,
} from '../../machines/heat/after-entry.ts';
import {
  dayLimits,
  earlierEntriesLimit,
  governingLimit,
  isRespirator,
  strainLimits,
  unitRuleLimit,
  wearTimeLimit,
} from '../../server/heat/governing-limit.ts';
import { readLimitsInput } from '../../server/heat/limits-input.ts';
import { limitsOf } from '../../server/heat/limits.ts';
import { drinkingPlan, leftOfDay, strainBand, waterBalance } from '../../machines/heat/person.ts';
import { predict, type StrainPrediction } from '../../server/heat/predicted-heat-strain.ts';
import { outsideRangeSentences } from '../../server/heat/strain-input.ts';

const rule = unitRuleLimit(120, 'the unit allows 120 min in this ensemble', 'unit rule');

function predicted(change: object): StrainPrediction {
  const hot = { airTemperatureC: 36, radiantTemperatureC: 36, vapourPressureKPa: 4, airSpeedMs: 0.15 };
  const work = {
    metabolicRateWm2: 150,
    clothingInsulationClo: 1,
    permeabilityIndex: 0.38,
    posture: 'standing' as const,
  };
  const body = { weightKg: 70, heightM: 1.75, acclimatised: false, drinkingFreely: false, durationMin: 240 };
  const answer = predict({ ...hot, ...work, ...body, ...change });
  if (!answer.ok) throw new Error(answer.refusal.message);
  return answer.value;
}

function after(findings: Partial<AfterEntryFindings>): AfterEntry {
  const answer = afterEntry({ acclimatised: false, ...findings });
  if (!answer.ok) throw new Error(answer.refusal.message);
  return answer.value;
}

describe('the governing limit', () => {
  const left = leftOfDay({ minutesInPpe: 170, entries: 2 }, { minutesInPpe: 240, entries: 4 });

  test('is the smallest, with the others behind it in order', () => {
    const got = governingLimit([rule, ...dayLimits(left, 'unit rule'), ...strainLimits(predicted({}), 240)]);
    expect(got.kind).toBe('core-temperature');
    expect(got.minutes).toBeLessThan(60);
    expect(got.others.map((one) => one.minutes)).toEqual(
      [...got.others.map((one) => one.minutes)].sort((a, b) => a - b),
    );
    expect(got.others).toHaveLength(3);
    expect(got.others.every((one) => one.minutes >= got.minutes)).toBe(true);
  });

  test('of two equal ones is the first', () => {
    expect(governingLimit([rule, { ...rule, kind: 'wear-time' }]).kind).toBe('unit-rule');
  });

  test('always has a reason, a source and a caution of one line', () => {
    const all = [
      rule,
      wearTimeLimit('powered-half-mask')!,
      ...strainLimits(predicted({}), 240),
      ...strainLimits(predicted({ airTemperatureC: 18, radiantTemperatureC: 18, vapourPressureKPa: 1 }), 240),
      ...dayLimits({ minutesInPpe: 20, entries: 0 }, 'unit rule'),
      earlierEntriesLimit(after({ pulseAtRestStartPerMin: 130 }), 90)!,
    ];
    for (const { reason, source, caution } of all) {
      for (const text of [reason, source, caution]) expect(text).toMatch(/^[^\n]{5,160}$/);
    }
  });

  test('knows nothing beyond the minutes asked about', () => {
    const cool = predicted({
      airTemperatureC: 18,
      radiantTemperatureC: 18,
      vapourPressureKPa: 1,
      metabolicRateWm2: 110,
    });
    expect(strainLimits(cool, 240)).toMatchObject([{ kind: 'asked-duration', minutes: 240 }]);
  });

  test('no entry left of the day leaves no minutes', () => {
    const none = leftOfDay({ minutesInPpe: 300, entries: 4 }, { minutesInPpe: 240, entries: 4 });
    expect(none).toEqual({ minutesInPpe: 0, entries: 0 });
    expect(governingLimit([rule, ...dayLimits({ minutesInPpe: 90, entries: 0 }, 'unit rule')])).toMatchObject({
      kind: 'entries-of-the-day',
      minutes: 0,
    });
  });

  test('a powered hood has no wear time, and a device nobody listed is not one', () => {
    expect(wearTimeLimit('powered-hood')).toBeUndefined();
    expect([isRespirator('powered-full-mask'), isRespirator('toString')]).toEqual([true, false]);
  });

  test('takes limits from outside of heat with the question', () => {
    const asked = readLimitsInput({
      airTemperatureC: 22,
      relativeHumidityPct: 45,
      airSpeedMs: 0.15,
      metabolicRateW: 250,
      clothingInsulationClo: 1,
      permeabilityIndex: 0.38,
      posture: 'standing',
      acclimatised: false,
      drinkingFreely: false,
      weightKg: 70,
      heightM: 1.75,
      durationMin: 240,
    });
    if (!asked.ok) throw new Error(asked.refusal.message);
    const answer = limitsOf(asked.value, [rule]);
    expect(answer).toMatchObject({ ok: true, value: { governing: { kind: 'unit-rule', minutes: 120 } } });
  });

  test('says that clothing is outside of what was validated before anything else', () => {
    const [limit] = strainLimits(
      predicted({ airTemperatureC: 52, radiantTemperatureC: 52, permeabilityIndex: 0.1 }),
      240,
    );
    expect(limit!.caution).toContain('validated clothing');
    const [hot] = strainLimits(predicted({ airTemperatureC: 52, radiantTemperatureC: 52 }), 240);
    expect(hot!.caution).toContain(outsideRangeSentences.airTemperatureC);
  });
});

describe('after an entry', () => {
  /** One finding that just sets off each rule, and one that just does not. */
  const edges: Record<string, [Partial<AfterEntryFindings>, Partial<AfterEntryFindings>]> = {
    'severe-symptoms': [{ severeSymptoms: true }, { severeSymptoms: false }],
    'core-temperature': [{ coreTemperatureC: 38.1 }, { coreTemperatureC: 38 }],
    'oral-temperature-bar': [{ oralTemperatureC: 38.2 }, { oralTemperatureC: 38.1 }],
    'body-mass-loss': [
      { massBeforeKg: 80, massAfterKg: 78.7 },
      { massBeforeKg: 80, massAfterKg: 78.9 },
    ],
    'strain-index-very-high': [{ strainIndex: 9 }, { strainIndex: 8.9 }],
    'strain-index-high': [{ strainIndex: 7 }, { strainIndex: 6.9 }],
    'sustained-pulse': [
      { sustainedPulsePerMin: 141, ageYears: 40 },
      { sustainedPulsePerMin: 140, ageYears: 40 },
    ],
    'no-recovery': [
      { pulseP1PerMin: 99, pulseP3PerMin: 90 },
      { pulseP1PerMin: 100, pulseP3PerMin: 90 },
    ],
    'hard-work-little-heat': [
      { pulseP1PerMin: 100, pulseP3PerMin: 90 },
      { pulseP1PerMin: 100, pulseP3PerMin: 89 },
    ],
    'pulse-at-rest-start': [{ pulseAtRestStartPerMin: 111 }, { pulseAtRestStartPerMin: 110 }],
    'oral-temperature-cut': [{ oralTemperatureC: 37.7 }, { oralTemperatureC: 37.6 }],
  };
  test('every rule has its edge here', () => {
    expect(Object.keys(edges).sort()).toEqual(afterEntryRules.map((one) => one.id).sort());
  });
  test.each(afterEntryRules)('$id', ({ id, effects }) => {
    const [sets, spares] = edges[id]!;
    const got = after(sets);
    expect(got.because.map((one) => one.id)).toContain(id);
    expect(after(spares).because.map((one) => one.id)).not.toContain(id);
    if (effects.includes('not-again-today')) expect(got).toMatchObject({ notAgainToday: true, nextEntryShare: 0 });
    if (effects.includes('cut-next')) expect(got.nextEntryShare).toBeLessThan(1);
    if (effects.includes('longer-rest')) expect(got.restMin).toBe(afterEntryDefaults.longerRestMin);
    if (effects.includes('look-closer')) expect(got.lookCloser).toBe(true);
  });

  test('nothing measured, nothing judged', () => {
    expect(after({})).toEqual({ restMin: 30, nextEntryShare: 1, notAgainToday: false, lookCloser: false, because: [] });
    expect(after({ sustainedPulsePerMin: 170 }).because).toEqual([]);
  });

  test('two reasons to cut cut once, the worst is named first', () => {
    const got = after({ pulseAtRestStartPerMin: 130, oralTemperatureC: 37.9, strainIndex: 7.5 });
    expect(got.nextEntryShare).toBeCloseTo(2 / 3, 12);
    expect(got.because.map((one) => one.id)).toEqual([
      'strain-index-high',
      'pulse-at-rest-start',
      'oral-temperature-cut',
    ]);
    expect(earlierEntriesLimit(got, 90)).toMatchObject({ minutes: expect.closeTo(60, 9) as number });
    expect(earlierEntriesLimit(after({}), 90)).toBeUndefined();
  });

  test('acclimatised people may be half a degree warmer', () => {
    expect(after({ coreTemperatureC: 38.3 }).notAgainToday).toBe(true);
    expect(after({ coreTemperatureC: 38.3, acclimatised: true }).notAgainToday).toBe(false);
  });

  test('a unit’s own bounds replace the published ones', () => {
    const strict = { ...afterEntryDefaults, pulseAtRestStartPerMin: 100, restMin: 45, longerRestMin: 40 };
    const got = afterEntry({ acclimatised: true, pulseAtRestStartPerMin: 105 }, strict);
    expect(got).toMatchObject({ ok: true, value: { nextEntryShare: 1 - 1 / 3, restMin: 45 } });
    const longer = afterEntry({ acclimatised: true, strainIndex: 7 }, strict);
    expect(longer).toMatchObject({ ok: true, value: { restMin: 45 } });
  });

  test.each([
    { pulseAtRestStartPerMin: NaN },
    { oralTemperatureC: 98.6 },
    { strainIndex: 11 },
    { massBeforeKg: Infinity, massAfterKg: 70 },
    { ageYears: 3 },
  ])('refuses %o instead of calling it harmless', (findings) => {
    expect(afterEntry({ acclimatised: true, ...findings })).toMatchObject({ ok: false });
  });

  test('every rule is in docs/limits.md', () => {
    const text = readFileSync(new URL('../../docs/limits.md', import.meta.url), 'utf8');
    for (const { id } of afterEntryRules) expect(text, id).toContain(`\`${id}\``);
    for (const name of Object.keys(outsideRangeSentences)) expect(text, name).toContain(`\`${name}\``);
  });
});

describe('water and strain', () => {
  test('drinking is moved to before and after, never faster than 1.4 L an hour', () => {
    const plan = drinkingPlan(1000);
    expect(plan.afterMl).toBe(1500);
    expect(plan.afterMl / (plan.afterOverAtLeastMin / 60)).toBeCloseTo(1419.5, 0);
    expect(plan.beforeLowMl).toBeLessThan(plan.beforeHighMl);
    expect(drinkingPlan(-100).afterMl).toBe(0);
  });
  test('somebody who drank more than they lost has gained', () => {
    const got = waterBalance({ massBeforeKg: 70, massAfterKg: 70.3, drunkL: 0.8, urineL: 0, minutes: 60 });
    expect(got).toMatchObject({ ok: true, value: { sweatLossL: expect.closeTo(0.5, 9) as number } });
    expect(waterBalance({ massBeforeKg: 70, massAfterKg: 69, drunkL: NaN, urineL: 0, minutes: 60 }).ok).toBe(false);
  });
  test.each([
    [0, 'none or little'],
    [2.99, 'none or little'],
    [3, 'low'],
    [5, 'moderate'],
    [7, 'high'],
    [9, 'very high'],
    [10, 'very high'],
  ])('a strain index of %d is %s', (index, band) => expect(strainBand(index)).toBe(band));
});
