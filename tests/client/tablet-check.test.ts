import { describe, expect, it } from 'vitest';
import { checkAfterSending, checkPage, checkReport, emptyCheck, type CheckDraft } from '../../client/observer/check.ts';
import { questionOf, readTyped, typed, verdictOf, vitalFields, type PadKey } from '../../client/observer/vitals.ts';
import { tabletWords } from '../../client/words/tablet.ts';
import { checkVitals } from '../../machines/unit/vitals.ts';
import type { Vitals } from '../../machines/unit/settings.ts';
import type { PointId } from '../../machines/wire/ids.ts';
import { called, given, gown, onDuty, reports, settings, taken, workerOf } from '../support/unit-fixture.ts';

const questions = { points: gown.readiness, bounds: settings.preCheck.bounds };
const drank = 'drank' as PointId;
const toilet = 'toilet' as PointId;
const typing = (keys: string) => [...keys].reduce((window, key) => typed(window, key as PadKey), '');

describe('a check asks one thing at a time', () => {
  const asked = (draft: CheckDraft) => {
    const page = checkPage(questions, draft);
    switch (page.ask) {
      case 'point':
        return `${page.point.id} ${page.number}/${page.total}`;
      case 'vital':
        return `${page.field.name} ${page.number}/${page.total}`;
      default:
        return page.missing ? 'send, something missing' : 'send';
    }
  };

  it('points first, then the vital signs the unit has a bound for, then everything once more', () => {
    const answers: CheckDraft['answers'] = { [drank]: 'yes' };
    const both: CheckDraft['answers'] = { ...answers, [toilet]: 'not-yet' };
    expect(asked(emptyCheck)).toBe('drank 1/4');
    expect(asked({ ...emptyCheck, answers })).toBe('toilet 2/4');
    expect(asked({ ...emptyCheck, answers: both })).toBe('temperatureC 3/4');
    expect(asked({ ...emptyCheck, answers: both, vitals: { temperatureC: 36.6 } })).toBe('pulsePerMin 4/4');
    expect(asked({ ...emptyCheck, answers: both, vitals: { temperatureC: 36.6, pulsePerMin: 70 } })).toBe(
      'send, something missing',
    );
  });

  it('asks one answer again from the list at the end, without losing the others', () => {
    const full: CheckDraft = {
      ...emptyCheck,
      answers: { [drank]: 'yes', [toilet]: 'yes' },
      vitals: { temperatureC: 36.6, pulsePerMin: 70 },
    };
    expect(asked(full)).toBe('send');
    expect(asked({ ...full, again: toilet })).toBe('toilet 2/4');
    expect(asked({ ...full, again: 'pulsePerMin' })).toBe('pulsePerMin 4/4');
  });

  it('says what is missing, and leaves it out of the report, so that the unit holds the worker', () => {
    const draft: CheckDraft = {
      ...emptyCheck,
      answers: { [drank]: 'yes', [toilet]: 'yes' },
      vitals: { temperatureC: 36.6, pulsePerMin: 'not-measured' },
    };
    const page = checkPage(questions, draft);
    expect(page.ask === 'send' && page.vitals.map((one) => one.verdict)).toEqual(['within', 'not-measured']);
    expect(asked(draft)).toBe('send, something missing');
    const sent = checkReport(draft);
    expect(sent).toEqual({ points: ['drank', 'toilet'], vitals: { temperatureC: 36.6 } });
    const { state } = given(onDuty('o1'), called('w1'), taken('o1', 'w1')).when(
      reports('o1', 'record-screening', { worker: 'w1', ...sent }),
    );
    expect(workerOf(state, 'w1').place).toEqual({ 'pre-check': 'held' });
  });

  it('after a hold asks again what was not yet so, and measures everything anew', () => {
    const draft: CheckDraft = {
      answers: { [drank]: 'yes', [toilet]: 'not-yet' },
      vitals: { temperatureC: 38.4, pulsePerMin: 70 },
      begun: true,
    };
    const next = checkAfterSending(draft);
    expect(next.begun).toBe(false);
    expect(asked(next)).toBe('toilet 2/4');
    expect(asked({ ...next, answers: { ...next.answers, [toilet]: 'yes' } })).toBe('temperatureC 3/4');
  });
});

describe('bounds', () => {
  it('are those of the unit, in words', () => {
    const words = vitalFields(settings.preCheck.bounds).map((one) => tabletWords.bounds(one.low, one.high));
    expect(words).toEqual(['at most 37.5', '45 to 100']);
  });

  it('judge every value the way the unit will', () => {
    const bounds = { ...settings.preCheck.bounds, saturationPct: { low: 94 } };
    for (const value of [30, 36.1, 37.5, 37.6, 44.9, 45, 93.9, 94, 100, 100.1])
      for (const field of vitalFields(bounds)) {
        const only = { [field.name]: bounds[field.name as keyof typeof bounds] };
        const within = checkVitals(only, { [field.name]: value }).findings.length === 0;
        expect([field.name, value, verdictOf(field, value) === 'within']).toEqual([field.name, value, within]);
      }
  });
});

describe('the number pad', () => {
  it('takes four digits and one decimal place, and erases', () => {
    expect(typing('36.54')).toBe('36.5');
    expect(typing('12345')).toBe('1234');
    expect(typing('.5')).toBe('5');
    expect(typing('3.6.')).toBe('3.6');
    expect(typing('07')).toBe('7');
    expect(typed('36.', 'erase')).toBe('36');
    expect(typed('', 'erase')).toBe('');
  });

  it('reads what stands in the window', () => {
    expect([readTyped(''), readTyped('36.'), readTyped('36.5')]).toEqual([undefined, 36, 36.5]);
  });
});

describe('an obvious slip is questioned, never corrected silently', () => {
  it('lets believable values pass, in or out of bounds', () => {
    for (const [name, value] of [
      ['temperatureC', 36.5],
      ['temperatureC', 39.8],
      ['pulsePerMin', 44],
      ['saturationPct', 88],
    ] as const)
      expect(questionOf(name, value, {})).toBeUndefined();
  });

  it('asks about a forgotten point, a lost digit and degrees Fahrenheit', () => {
    expect(questionOf('temperatureC', 365, {})).toEqual({ about: 'unlikely', perhaps: 36.5, mayStand: false });
    expect(questionOf('systolicMmHg', 12, {})).toEqual({ about: 'unlikely', perhaps: 120, mayStand: false });
    expect(questionOf('pulsePerMin', 720, {})).toEqual({ about: 'unlikely', perhaps: 72, mayStand: false });
    expect(questionOf('temperatureC', 98.6, {})).toEqual({ about: 'fahrenheit', perhaps: 37, mayStand: false });
  });

  it('lets the observer insist on what is rare but possible, and on nothing a report could not carry', () => {
    expect(questionOf('pulsePerMin', 220, {})).toMatchObject({ mayStand: true });
    expect(questionOf('saturationPct', 101, {})).toMatchObject({ mayStand: false });
    for (const name of ['temperatureC', 'pulsePerMin', 'systolicMmHg', 'diastolicMmHg'] as const)
      expect(questionOf(name, 401, {})).toMatchObject({ mayStand: false });
  });

  it('asks when the lower blood pressure is not below the upper, whichever was typed last', () => {
    const upper: Vitals = { systolicMmHg: 78 };
    expect(questionOf('diastolicMmHg', 122, upper)).toEqual({ about: 'diastolic-above-systolic', mayStand: true });
    expect(questionOf('systolicMmHg', 78, { diastolicMmHg: 122 })).toMatchObject({ about: 'diastolic-above-systolic' });
    expect(questionOf('diastolicMmHg', 60, upper)).toBeUndefined();
    expect(questionOf('pulsePerMin', 72, { systolicMmHg: 78, diastolicMmHg: 122 })).toBeUndefined();
  });
});
