import { describe, expect, it } from 'vitest';
import type { Fetch } from '../../client/heat/ask.ts';
import { isLate, rangeOf } from '../../client/heat/plot-options.ts';
import {
  askStrain,
  curveWords,
  figureOf,
  outsideWords,
  strainOf,
  strainView,
  tableRows,
  valueAt,
  type WorkerStrain,
} from '../../client/heat/strain.ts';
import {
  askWhatIf,
  cautionsOf,
  comparedWords,
  screeningWords,
  whatIfNow,
  type WhatIfAnswer,
} from '../../client/heat/what-if.ts';
import type { EntryId, UnitId } from '../../machines/wire/ids.ts';
import { heat, heatOpening, senses } from '../support/heat-fixture.ts';
import { inside, minute, onDuty, openedUnit, play, reports, trip } from '../support/unit-fixture.ts';
import { id } from './safety-fixture.ts';

const unit = 'small' as UnitId;
const donnedAt = Date.parse('2026-03-02T08:00:00Z');
/** A straight line from 36.8 °C that comes to 38 °C after 48 min, and water that never comes to its limit. */
const one: WorkerStrain = {
  worker: id('w1'),
  entry: 'E1' as EntryId,
  donnedAt,
  minute: 20,
  points: Array.from({ length: 13 }, (_, index) => ({
    minute: index * 5,
    rectalTemperatureC: 36.8 + index * 0.125,
    waterLossG: index * 50,
  })),
  limitRectalTemperatureC: 38,
  limitWaterLossG: 2250,
  reachedMin: 48,
  indicative: true,
  outsideRange: ['permeabilityIndex', 'metabolicRateW', 'metabolicRateWm2', 'something-new'],
};
const answering =
  (body: unknown, status = 200): Fetch =>
  () =>
    Promise.resolve(new Response(typeof body === 'string' ? body : JSON.stringify(body), { status }));

describe('a question to the server', () => {
  it('is answered when the answer has the shape that was agreed', async () => {
    const asked = await askStrain(unit, answering({ at: donnedAt, workers: [one], more: 'is ignored' }));
    if (asked.is !== 'answered') throw new Error(asked.is);
    expect(strainOf(asked.answer, id('w1'))?.points).toEqual(one.points);
    expect(strainOf(asked.answer, id('w2'))).toBeUndefined();
  });

  it.each([
    ['is no JSON', answering('<html>')],
    ['has another shape', answering({ at: donnedAt, workers: [{ worker: 'w1' }] })],
    ['is a page that is not there', answering({ code: 'not-found', sentence: 'No such page.' }, 404)],
    ['is a fault inside', answering({ code: 'server/fault', sentence: 'Sorry.' }, 500)],
    ['never comes', (() => Promise.reject(new Error('offline'))) as Fetch],
  ])('fails, and never throws, when the answer %s', async (_, fetched) => {
    expect(await askStrain(unit, fetched)).toEqual({ is: 'failed' });
  });

  it('passes on the sentence of a refusal, and fails without one', async () => {
    const question = { procedure: 'gown' as never, climate: heat.climate, work: 'light' as const };
    const refused = answering({ code: 'what-if/no-heat', sentence: 'Says nothing about its clothing.' }, 409);
    expect(await askWhatIf(unit, question, undefined, refused)).toEqual({
      is: 'refused',
      sentence: 'Says nothing about its clothing.',
    });
    expect(await askWhatIf(unit, question, undefined, answering({}, 400))).toEqual({ is: 'failed' });
  });

  it('goes to the unit as JSON', async () => {
    const sent: [string, RequestInit | undefined][] = [];
    const question = { procedure: 'gown' as never, climate: heat.climate, work: 'heavy' as const };
    await askWhatIf(unit, question, undefined, (path, init) => {
      sent.push([path, init]);
      return answering({})(path);
    });
    expect(sent).toHaveLength(1);
    expect(sent[0]![0]).toBe('/api/units/small/what-if');
    expect(JSON.parse(sent[0]![1]!.body as string)).toEqual(question);
  });
});

describe('a predicted curve', () => {
  const view = strainView(one, donnedAt + 20 * minute);
  const [core, water] = view.curves;

  it('says what it is now, between the points', () => {
    expect(valueAt([0, 10, 20], [0, 100, 300], 15)).toBe(200);
    expect(valueAt([0, 10, 20], [5, 100, 300], -3)).toBe(5);
    expect(valueAt([0, 10, 20], [0, 100, 300], 99)).toBe(300);
    expect(core.now).toBeCloseTo(37.3, 6);
    expect(view.minuteNow).toBe(20);
  });

  it('reaches its limit at the minute the server says, else where the line crosses', () => {
    expect(core.reachedAt).toBe(48);
    const { reachedMin: _said, ...unsaid } = one;
    expect(strainView(unsaid, donnedAt).curves[0].reachedAt).toBe(48);
    expect(strainView({ ...one, reachedMin: 12 }, donnedAt).curves[0].reachedAt).toBe(48);
    expect(water.reachedAt).toBeUndefined();
  });

  it('is told in a sentence for whoever does not see the drawing', () => {
    expect(curveWords(core, view)).toMatch(/^Now about 37\.3 °C\. Reaches its limit at 48 min, at \d\d:\d\d\.$/);
    expect(curveWords(water, view)).toBe('Now about 200 g. Stays below its limit for the 60 min looked at.');
    const later = strainView(one, donnedAt + 55 * minute);
    expect(curveWords(later.curves[0], later)).toBe('Now about 38.2 °C. Reached its limit at 48 min.');
  });

  it('has a row in the table for each quarter of an hour and the last point', () => {
    expect(tableRows(view).map((row) => row.minute)).toEqual([0, 15, 30, 45, 60]);
    expect(tableRows(view).at(-1)).toMatchObject({ core: '38.3', water: '600' });
  });

  it('never shows a temperature that no body has as if it meant something', () => {
    expect(figureOf('core', 52.5)).toBe('over 42');
    expect(figureOf('core', 37.96)).toBe('38.0');
  });

  it('always has its limit in the picture, and does not run far past it', () => {
    for (const curve of [core, water, { ...core, values: [36.8, 52] }]) {
      const [low, high] = rangeOf(curve);
      expect(low).toBeLessThan(curve.limit);
      expect(high).toBeGreaterThan(curve.limit);
    }
    expect(rangeOf({ ...core, values: [36.8, 52] })[1]).toBeLessThan(40);
  });

  it('names its limit where the curve is not', () => {
    const reaching = (reachedAt: number | undefined) => isLate({ ...core, reachedAt }, { ...view, minuteLast: 100 });
    expect([undefined, 90, 10].map(reaching)).toEqual([true, true, false]);
  });

  it('names what lies outside the method in plain words, once, and an unknown name as it came', () => {
    expect(outsideWords(one.outsideRange)).toBe(
      'Outside what the method was validated for: how the clothing breathes, work rate, something-new.',
    );
    expect(outsideWords([])).toBeUndefined();
  });
});

describe('what if', () => {
  const answer = (minutes: number): WhatIfAnswer => ({
    governing: { minutes, reason: 'r', source: 's', caution: 'Watch the person.' },
    screening: {
      wbgtC: 23.34,
      effectiveWbgtC: 30.7,
      ralC: 24.71,
      relC: 28,
      over: true,
      firstCheckMin: 15,
      caution: '',
    },
    caution: 'Watch the person.',
  });

  it('begins with the air of the room, the work that is set and the minutes of earlier entries', () => {
    const climate = { airTemperatureC: 30, relativeHumidityPct: 70 };
    const world = play(openedUnit(heatOpening), [
      ...onDuty('o1'),
      ...inside('o1', 'w1'),
      senses('r1', climate),
      reports('o1', 'set-work', { worker: 'w1', work: 'light' }),
    ]);
    expect(whatIfNow(world.state, { worker: id('w1') }, world.now)).toEqual({
      procedure: 'gown',
      climate,
      work: 'light',
    });
    const again = play(openedUnit(heatOpening), [...onDuty('o1'), ...trip('o1', 'w1', 'l1', 30 * minute)]);
    expect(whatIfNow(again.state, { worker: id('w1') }, again.now)?.minutesSoFar).toBeGreaterThanOrEqual(30);
  });

  it('takes the unit’s usual air where nobody has measured, and is not offered without a heat section', () => {
    const { state, now } = openedUnit(heatOpening);
    expect(whatIfNow(state, { room: 'r1' as never }, now)).toMatchObject({ climate: heat.climate, work: 'moderate' });
    expect(whatIfNow(openedUnit().state, {}, now)).toBeUndefined();
  });

  it('says how many minutes longer or shorter it is', () => {
    expect(comparedWords(answer(39), answer(20))).toBe('19 min shorter than now');
    expect(comparedWords(answer(39), answer(60))).toBe('21 min longer than now');
    expect(comparedWords(answer(39.2), answer(38.9))).toBe('the same minutes as now');
  });

  it('says every caution once, and the screening index by the limit for the unit’s people', () => {
    expect(cautionsOf(answer(39))).toEqual(['Watch the person.']);
    expect(screeningWords(answer(39), false).join(' ')).toBe(
      '23.3 °C in the room, 30.7 °C with the clothing; the screening limit is 24.7 °C. Over the screening limit: monitor the person. It stops nobody. First check after 15 min of work.',
    );
    expect(screeningWords(answer(39), true)[0]).toContain('28.0 °C');
  });
});
