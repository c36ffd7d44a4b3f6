import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { deadlines } from '../../machines/unit/deadlines.ts';
import { foldAll } from '../../machines/unit/fold.ts';
import { vitalNames } from '../../machines/unit/settings.ts';
import { climateReadingsKept } from '../../machines/unit/state.ts';
import { advised, advisedAll, everyTwenty, heat, heated, senses } from '../support/heat-fixture.ts';
import {
  atThreshold,
  called,
  doffed,
  enters,
  feverish,
  given,
  inside,
  leaving,
  minute,
  onDuty,
  openedAt,
  passes,
  reports,
  settings,
  trip,
  unitChanges,
  vitals,
  workerOf,
} from '../support/unit-fixture.ts';

const w1 = { worker: 'w1' };
const withHeat = unitChanges(heated);
const working = given(withHeat, onDuty('o1'), inside('o1', 'w1'));
const warm = { airTemperatureC: 31, relativeHumidityPct: 70 };
const limitOf = (then: { state: Parameters<typeof workerOf>[0] }) => workerOf(then.state, 'w1').entry?.limit;

describe('the limit in force', () => {
  it('is the smallest, whoever says so, and says which one it is', () => {
    const set = working.when(advised('w1', { minutes: 40 })).then('limit-set');
    expect(set.fact('limit-set').data).toMatchObject({
      minutes: 40,
      limitKind: 'core-temperature',
      caution: 'Indicative: outside the validated clothing.',
      indicative: true,
      limitAt: openedAt + 40 * minute,
      callOutAt: openedAt + 25 * minute,
    });
    expect(limitOf(set)).toMatchObject({ minutes: 40, kind: 'core-temperature', indicative: true });
    working.when(advised('w1', { minutes: 90 })).then();
  });

  it('is a fact only when it changes: the same advice again writes nothing, and half a minute is noise', () => {
    const set = given(withHeat, onDuty('o1'), inside('o1', 'w1'), advised('w1', { minutes: 40 }));
    set.when(advised('w1', { minutes: 40 })).then();
    set.when(advised('w1', { minutes: 40.5 })).then();
    set.when(advised('w1', { minutes: 38 })).then('limit-set');
    set.when(advised('w1', {})).then('limit-set');
  });

  it('moves the call-out time with the forecast wait, by two minutes or more', () => {
    const waited = working.when(advised('w1', { waitMinutes: 8 })).then('limit-set');
    expect(limitOf(waited)?.callOutAt).toBe(openedAt + 37 * minute);
    waited.when(advised('w1', { waitMinutes: 9 })).then();
    waited.when(advised('w1', { waitMinutes: 10 })).then('limit-set');
  });

  it('that comes down to the past is reached at once, and one that goes up again is not', () => {
    const later = given(withHeat, onDuty('o1'), inside('o1', 'w1'), passes(30 * minute));
    const hot = later.when(advised('w1', { minutes: 20 })).then('limit-set', 'alert-raised');
    expect(hot.alerts()).toEqual(['limit-reached:w1 high coordinator']);
    const cool = hot.when(advised('w1', {}));
    expect(cool.alerts()).toEqual([]);
  });

  it('is not touched by advice for an entry that is over, or before the clock starts', () => {
    const before = given(withHeat, onDuty('o1'), called('w1'));
    before.when(advised('w1', { minutes: 1 })).then();
  });

  it('folds to the same state from the log alone', () => {
    const story = working.when(senses('r1', warm), advised('w1', { minutes: 33, check: everyTwenty, waitMinutes: 3 }));
    expect(foldAll(undefined, story.outcome.world.log)).toEqual(story.state);
  });

  it('is the least of the rule and of all that is advised (400 random sets)', () => {
    const minutes = fc.integer({ min: 1, max: 300 });
    fc.assert(
      fc.property(fc.array(minutes, { minLength: 1, maxLength: 5 }), (several) => {
        const then = working.when(advisedAll('w1', several));
        expect(limitOf(then)?.minutes).toBe(Math.min(60, ...several));
      }),
      { numRuns: 400 },
    );
  });
});

describe('the air of a room', () => {
  it('is recorded by the coordinator, for rooms of this unit', () => {
    const read = working.when(reports('c1', 'record-climate', { room: 'r1', climate: warm })).then('climate-recorded');
    expect(Object.values(read.state.climate)).toEqual([[{ at: openedAt, climate: warm }]]);
    working.when(reports('c1', 'record-climate', { room: 'r9', climate: warm })).thenRefused('room/unknown');
    working.when(reports('o1', 'record-climate', { room: 'r1', climate: warm })).thenRefused('rights/not-yours');
  });

  it('comes from a sensor too, late ones in their place, and only so many are kept', () => {
    const story = given(withHeat, passes(30 * minute), senses('r1', warm));
    const late = story.when(senses('r1', { ...warm, airTemperatureC: 25 }, 10 * minute)).then('climate-recorded');
    const [readings] = Object.values(late.state.climate);
    expect(readings?.map((one) => [one.at - openedAt, one.climate.airTemperatureC, one.sensor])).toEqual([
      [20 * minute, 25, 'wall-1'],
      [30 * minute, 31, 'wall-1'],
    ]);
    const many = Array.from({ length: climateReadingsKept + 5 }, () => [passes(minute), senses('r1', warm)]);
    expect(Object.values(given(withHeat, many.flat()).world.state.climate)[0]).toHaveLength(climateReadingsKept);
  });

  it('a reading that claims a time to come counts from now', () => {
    const read = working.when(senses('r1', warm, -5 * minute)).then('climate-recorded');
    expect(read.fact('climate-recorded').at).toBe(openedAt);
  });
});

describe('how hard somebody works', () => {
  it('is set by observer or coordinator while there is an entry, and forgotten with it', () => {
    const set = working.when(reports('o1', 'set-work', { ...w1, work: 'heavy' })).then('work-set');
    expect(workerOf(set.state, 'w1').work).toEqual([{ at: openedAt, work: 'heavy' }]);
    set.when(reports('c1', 'set-work', { ...w1, work: 'heavy' })).then();
    working.when(reports('c1', 'set-work', { ...w1, work: 'moderate' })).then();
    const over = given(
      withHeat,
      onDuty('o1'),
      inside('o1', 'w1'),
      reports('c1', 'set-work', { ...w1, work: 'light' }),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
      doffed('o1', 'w1'),
    );
    over.when(reports('c1', 'set-work', { ...w1, work: 'heavy' })).thenRefused('worker/elsewhere');
    const resting = over.when(reports('o1', 'record-post-check', { ...w1, vitals }));
    expect(workerOf(resting.state, 'w1').work).toBeUndefined();
  });
});

describe('a check inside', () => {
  const watched = given(withHeat, onDuty('o1'), inside('o1', 'w1'), advised('w1', { check: everyTwenty }));

  it('falls due after the interval from the start of the clock, and calls the observer', () => {
    expect(deadlines(watched.world.state)[0]).toMatchObject({ at: openedAt + 20 * minute, what: 'check-due' });
    watched.when(passes(20 * minute - 1)).then();
    const due = watched.when(passes(20 * minute)).then('alert-raised');
    expect(due.alerts()).toEqual(['check-due:w1 medium observer']);
    const seen = due.when(reports('o1', 'record-check', { ...w1, vitals: { pulsePerMin: 110 } }));
    seen.then('check-recorded', 'alert-cleared');
    expect(workerOf(seen.state, 'w1').check?.dueAt).toBe(openedAt + 40 * minute);
  });

  it('a shorter interval brings it forward, a longer one does not put it off', () => {
    const sooner = watched.when(advised('w1', { check: { ...everyTwenty, everyMinutes: 15 } })).then('check-set');
    expect(workerOf(sooner.state, 'w1').check?.dueAt).toBe(openedAt + 15 * minute);
    watched.when(advised('w1', { check: { ...everyTwenty, everyMinutes: 30 } })).then();
  });

  it('over a bound: the limit is now, and stays so whatever is calculated later', () => {
    const half = given(withHeat, onDuty('o1'), inside('o1', 'w1'), passes(10 * minute));
    const over = half.when(reports('o1', 'record-check', { ...w1, vitals: feverish }));
    over.then('check-recorded', 'limit-set', 'alert-raised');
    expect(over.alerts()).toEqual(['limit-reached:w1 high coordinator']);
    expect(limitOf(over)).toMatchObject({ minutes: 10, kind: 'check' });
    over.when(advised('w1', { minutes: 50, check: everyTwenty })).then();
  });

  it('says openly only that it was over; the values are confidential', () => {
    const over = working.when(reports('o1', 'record-check', { ...w1, vitals: feverish, strain: { ageYears: 41 } }));
    const fact = over.outcome.facts.find((one) => one.kind === 'check-recorded')!;
    expect(fact.confidential?.findings).toEqual(['temperature (°C) 38.875, above 38']);
    const open = JSON.stringify({ ...fact, confidential: undefined });
    for (const name of vitalNames) expect(open).not.toContain(name);
    expect(open).not.toContain('38.875');
  });

  it('judges the sustained pulse against 180 less the age, where it is given', () => {
    const strain = { ageYears: 40, sustainedPulsePerMin: 141 };
    working
      .when(reports('o1', 'record-check', { ...w1, vitals: {}, strain }))
      .then('check-recorded', 'limit-set', 'alert-raised');
    const below = { ...strain, sustainedPulsePerMin: 140 };
    working.when(reports('o1', 'record-check', { ...w1, vitals: {}, strain: below })).then('check-recorded');
  });

  it('needs a measurement, a worker in equipment, an observer on duty and a unit with heat', () => {
    working.when(reports('o1', 'record-check', { ...w1, vitals: {} })).thenRefused('measurement/absurd');
    working.when(reports('o2', 'record-check', { ...w1, vitals })).thenRefused('observer/not-on-duty');
    const early = given(withHeat, onDuty('o1'), called('w1'));
    early.when(reports('o1', 'record-check', { ...w1, vitals })).thenRefused('worker/elsewhere');
    const plain = given(onDuty('o1'), inside('o1', 'w1'));
    plain.when(reports('o1', 'record-check', { ...w1, vitals })).thenRefused('point/unknown');
  });

  it('is not asked of somebody on the way out', () => {
    const due = watched.when(passes(20 * minute), leaving('o1', 'w1'));
    expect(due.alerts()).toEqual([]);
  });
});

describe('what is measured after an entry', () => {
  const atCheck = given(
    withHeat,
    onDuty('o1'),
    inside('o1', 'w1'),
    passes(10 * minute),
    atThreshold('o1', 'w1'),
    enters('o1', 'w1', 'l1'),
    doffed('o1', 'w1'),
  );
  const checkedWith = (strain: object) => atCheck.when(reports('o1', 'record-post-check', { ...w1, vitals, strain }));
  const restOf = (then: ReturnType<typeof checkedWith>) => then.fact('post-check-recorded').data;

  it('within every bound changes neither the rest nor the next entry', () => {
    const fine = checkedWith({ pulseP1PerMin: 100, pulseP3PerMin: 80 });
    expect(restOf(fine)).toMatchObject({ restMinutes: settings.rest.minutes });
    expect(restOf(fine).after).toBeUndefined();
  });

  it('a pulse that does not recover: a longer rest, and the next period is cut by a third', () => {
    const hard = checkedWith({ pulseP1PerMin: 118, pulseP3PerMin: 112 });
    expect(restOf(hard)).toMatchObject({ restMinutes: 45, after: { nextShare: 1 - 1 / 3 } });
    const next = hard.when(passes(45 * minute), inside('o1', 'w1'));
    expect(limitOf(next)).toMatchObject({ minutes: 40, kind: 'earlier-entries' });
  });

  it('severe symptoms, or far too warm: held, and the safety officer is told, as with a vital sign out of bounds', () => {
    const ill = checkedWith({ severeSymptoms: true });
    expect(ill.alerts()).toEqual(['vitals-out-of-bounds:w1 medium safety-officer']);
    expect(ill.worker('w1').place).toEqual({ 'post-check': 'held' });
    expect(checkedWith({ oralTemperatureC: 39.4 }).worker('w1').place).toEqual({ 'post-check': 'held' });
    expect(checkedWith({ massBeforeKg: 80, massAfterKg: 78.7 }).alerts()).toEqual([]);
  });

  it('counts for the next entry and not for the one after it', () => {
    const hard = given(withHeat, onDuty('o1'), trip('o1', 'w1', 'l1', minute), passes(settings.rest.minutes * minute));
    expect(workerOf(hard.world.state, 'w1').after).toBeUndefined();
    const cut = checkedWith({ pulseP1PerMin: 118, pulseP3PerMin: 112 });
    const after = cut.when(passes(45 * minute), trip('o1', 'w1', 'l2', minute));
    expect(workerOf(after.state, 'w1').after).toBeUndefined();
  });

  it('1.5 % of the body mass lost: not again today, until occupational health clears it through the safety officer', () => {
    const lost = checkedWith({ massBeforeKg: 80, massAfterKg: 78.7 });
    const rested = lost.when(passes(60 * minute));
    rested.when(called('w1')).thenRefused('worker/not-again-today');
    rested.when(reports('c1', 'allow-again', { ...w1, reason: 'seen' })).thenRefused('rights/not-yours');
    const allowed = rested.when(reports('s1', 'allow-again', { ...w1, reason: 'weighed again, typed wrong' }));
    allowed.then('again-allowed').when(called('w1')).then('worker-called');
    rested
      .when(passes(24 * 60 * minute))
      .when(called('w1'))
      .then('worker-called');
  });

  it('the strain index needs all four measurements; absurd ones are refused and nothing is lost', () => {
    const whole = {
      coreTemperatureStartC: 37,
      pulseStartPerMin: 70,
      coreTemperatureC: 39,
      pulseAtRestStartPerMin: 160,
    };
    expect(restOf(checkedWith(whole)).after?.barredUntil).toBeGreaterThan(openedAt);
    checkedWith({ ...whole, coreTemperatureStartC: 40 })
      .thenRefused('measurement/absurd')
      .thenNothingKept();
  });

  it('no measurement is in the open part, nor which rule applied', () => {
    const lost = checkedWith({ massBeforeKg: 80, massAfterKg: 78.7 });
    const open = JSON.stringify({ ...lost.fact('post-check-recorded'), confidential: undefined });
    expect(open).not.toMatch(/mass|78\.7|ACGIH/i);
    expect(lost.fact('post-check-recorded').confidential?.strain).toEqual({ massBeforeKg: 80, massAfterKg: 78.7 });
  });

  it('without a heat section measurements are kept and judged by nobody', () => {
    const plain = given(
      onDuty('o1'),
      inside('o1', 'w1'),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
      doffed('o1', 'w1'),
    );
    const strain = { massBeforeKg: 80, massAfterKg: 70 };
    const then = plain
      .when(reports('o1', 'record-post-check', { ...w1, vitals, strain }))
      .then('worker-released', 'post-check-recorded');
    expect(then.fact('post-check-recorded').data.after).toBeUndefined();
  });
});

it('the settings of the fixture are those of a unit file', () => {
  expect(heat.afterEntry).toEqual({ longerRestMinutes: 45 });
});
