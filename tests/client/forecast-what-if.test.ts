import { describe, expect, it } from 'vitest';
import { floorNames } from '../../client/board/floor-names.ts';
import {
  askForecastWhatIf,
  longerSteps,
  lanesMost,
  nothingChosen,
  observersToLose,
  questionOf,
  questionWords,
  whatIfRows,
  whatIfTogether,
  type WhatIfAnswer,
  type WhatIfQuestion,
} from '../../client/forecast/what-if.ts';
import type { PersonId, UnitId } from '../../machines/wire/ids.ts';
import { scenarioOf } from '../../server/rotation/forecast/scenario-of.ts';
import { changedScenario, forecastQuestion, whatIfFigures } from '../../server/rotation/live/forecast-what-if.ts';
import { playWork } from '../../server/rotation/live/forecast-work.ts';
import { liveOptions } from '../../server/rotation/live/live-options.ts';
import { fallsSilent, given, inside, minute, onDuty, passes, reports, type World } from '../support/unit-fixture.ts';

/** Two who will want out at the same time, one lane open, three observers on duty. The answers are the server's own. */
const clash = given(
  onDuty('o1', 'o2', 'o3'),
  reports('c1', 'close-lane', { lane: 'l2', reason: 'spill' }),
  inside('o1', 'w1'),
  inside('o2', 'w2'),
).world;
const names = floorNames(clash.state.rules, (id) => id.toUpperCase());
const id = (text: string) => text as PersonId;

/** As the route answers it, read as the screen reads it. */
async function answered({ state, now }: World, question: WhatIfQuestion): Promise<WhatIfAnswer> {
  const asked = await askForecastWhatIf('small' as UnitId, question, (path, init) => {
    expect(path).toBe('/api/units/small/forecast/what-if');
    const scenario = scenarioOf(state, now, liveOptions(state, { runs: 400, source: 'invented' }));
    const changed = changedScenario(scenario, forecastQuestion.parse(JSON.parse(init?.body as string)));
    if (!changed.ok) return Promise.resolve(Response.json(changed, { status: 400 }));
    const worked = playWork({ kind: 'compare', before: scenario, after: changed.scenario });
    if (worked.kind !== 'compare') throw new Error('another answer');
    const { before, after } = worked;
    const { horizonMinutes, runs, waitQuantile, chanceHalfWidth95 } = before;
    const about = { number: state.number, at: now, horizonMinutes, runs, waitQuantile, chanceHalfWidth95 };
    return Promise.resolve(Response.json({ ...about, before: whatIfFigures(before), after: whatIfFigures(after) }));
  });
  if (asked.is !== 'answered') throw new Error(asked.is === 'refused' ? asked.sentence : asked.is);
  return asked.answer;
}

describe('the question', () => {
  it('is asked only when something would be otherwise, and has nothing but that', () => {
    expect(questionOf(nothingChosen)).toBeUndefined();
    expect(questionOf({ ...nothingChosen, lanes: 2 })).toEqual({ addsLanes: 2 });
    expect(questionOf({ observer: id('o1'), lanes: 0, longerPct: 25 })).toEqual({
      losesObserver: 'o1',
      doffingLongerPct: 25,
    });
  });
  it('is one that the server takes, whatever can be chosen', () => {
    for (const longerPct of longerSteps)
      for (const lanes of [0, 1, lanesMost]) {
        const question = questionOf({ observer: id('o1'), lanes, longerPct });
        expect(forecastQuestion.safeParse(question).success).toBe(true);
      }
  });
  it('offers just the observers whom the forecast counts on', async () => {
    const silent = given(onDuty('o1', 'o2'), inside('o1', 'w1'), fallsSilent('o1')).world;
    expect(observersToLose(silent.state)).toEqual(['o2']);
    const all = observersToLose(clash.state);
    expect([...all].sort()).toEqual(['o1', 'o2', 'o3']);
    for (const observer of all) await answered(clash, { losesObserver: observer });
    await expect(answered(silent, { losesObserver: id('o1') })).rejects.toThrow('can be counted on');
  });
  it('stands in words above its answer', () => {
    expect(questionWords({ losesObserver: id('o1'), addsLanes: 1, doffingLongerPct: 25 }, names)).toBe(
      'without O1, one lane more, doffing 25 % longer',
    );
  });
});

describe('the answer', () => {
  it('has every figure before and after: a lane more takes most of the waiting away', async () => {
    const answer = await answered(clash, { addsLanes: 1 });
    const { wait } = whatIfTogether(answer);
    expect(Number.parseInt(wait.after)).toBeLessThan(Number.parseInt(wait.before));
    const rows = whatIfRows(answer, names);
    expect(rows.map(({ name }) => name).sort()).toEqual(['W1', 'W2']);
    for (const row of rows) {
      expect(row.waits.before).toMatch(/^[<>]?\d+ %$/);
      expect(row.wait.after).toMatch(/^\d+ min$/);
      expect(row.overLimit).toBeDefined();
    }
    expect(rows.some(({ waits }) => !waits.isSame)).toBe(true);
  });
  it('longer doffing never shortens the waiting of all', async () => {
    const { before, after } = await answered(clash, { doffingLongerPct: 50 });
    expect(after.waitMinutes).toBeGreaterThan(before.waitMinutes);
  });
  it('puts those on top whom it changes most, and tells later entries of one person apart', () => {
    const one = (entry: string, worker: string, waitMinutesMean: number) => ({
      ...{ entry, worker: id(worker), chanceOfWaiting: 0.2, waitMinutesAtQuantile: 3, waitMinutesMean },
    });
    const side = {
      waitMinutes: 1,
      overLimit: 0.04,
      people: [one('e1', 'w1', 1), one('e2', 'w2', 1), one('e3', 'w1', 1)],
    };
    const answer: WhatIfAnswer = {
      ...{ at: clash.now, horizonMinutes: 240, runs: 400, waitQuantile: 0.9, chanceHalfWidth95: 0.05, before: side },
      after: { ...side, people: [one('e1', 'w1', 2), one('e2', 'w2', 1), one('e3', 'w1', 9)] },
    };
    const rows = whatIfRows(answer, names);
    expect(rows.map(({ name }) => name)).toEqual(['W1, a later entry', 'W1', 'W2']);
    expect(rows[0]?.overLimit).toBeUndefined();
    expect(whatIfTogether(answer).overLimit).toEqual({ before: '0.0', after: '0.0', isSame: true });
  });
  it('of a unit with nobody in an entry has nobody in it', async () => {
    const empty = given(onDuty('o1'), passes(minute)).world;
    expect((await answered(empty, { addsLanes: 1 })).before.people).toEqual([]);
  });
});
