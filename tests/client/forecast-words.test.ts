import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { wallClock } from '../../client/board/clock.ts';
import { floorNames } from '../../client/board/floor-names.ts';
import { clashWords } from '../../client/forecast/clash-words.ts';
import { comesOutWords } from '../../client/forecast/comes-out.ts';
import { callOutMade } from '../../client/forecast/call-out-made.ts';
import { aboutPercent, errorPoints, percent } from '../../client/forecast/figures.ts';
import { askForecast, personIn, type Forecast, type ForecastMove } from '../../client/forecast/forecast.ts';
import { forecastPlan, observerLines } from '../../client/forecast/lane-forecast.ts';
import { effectWords, isDone, keyOf, movesLeft, moveWords, orderOf } from '../../client/forecast/moves.ts';
import { refusalOf } from '../../client/board/dry-run.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { DeviceId, LaneId, PersonId, UnitId } from '../../machines/wire/ids.ts';
import { forecastView } from '../../server/rotation/live/forecast-view.ts';
import { playWork } from '../../server/rotation/live/forecast-work.ts';
import { liveOptions } from '../../server/rotation/live/live-options.ts';
import { withoutWaits } from '../../server/rotation/live/call-out-waits.ts';
import { scenarioOf } from '../../server/rotation/forecast/scenario-of.ts';
import { given, inside, minute, onDuty, play, reports, workerOf, type World } from '../support/unit-fixture.ts';

/** Two who will want out at the same time, one lane open. The forecast is the server's own, read as a screen reads it. */
const clash = given(
  onDuty('o1', 'o2'),
  reports('c1', 'close-lane', { lane: 'l2', reason: 'spill' }),
  inside('o1', 'w1'),
  inside('o2', 'w2'),
).world;

async function forecastOf({ state, now }: World): Promise<Forecast> {
  const options = liveOptions(state, { runs: 400, source: 'invented' });
  const scenario = scenarioOf(state, now, options);
  const worked = playWork({ kind: 'look', scenario, unmoved: scenarioOf(withoutWaits(state), now, options) });
  if (worked.kind !== 'look') throw new Error('another answer');
  const view = forecastView({ number: state.number, at: now, state, scenario, ...worked });
  const asked = await askForecast('small' as UnitId, () => Promise.resolve(Response.json(view)));
  if (asked.is !== 'answered') throw new Error(asked.is);
  return asked.answer;
}

const names = floorNames(clash.state.rules, (id) => id.toUpperCase());
const w1 = 'w1' as PersonId;
const board = { device: 'board' as DeviceId, role: 'coordinator' as const, person: 'c1' as PersonId };
const effect = { before: { waitMinutes: 20, overLimit: 0 }, after: { waitMinutes: 5, overLimit: 0 }, people: [] };

describe('figures of the forecast', () => {
  it.each([
    [0, 'under 5 %', '<5 %'],
    [0.024, 'under 5 %', '<5 %'],
    [0.026, 'about 5 %', '5 %'],
    [0.62, 'about 60 %', '60 %'],
    [0.63, 'about 65 %', '65 %'],
    [0.974, 'about 95 %', '95 %'],
    [0.976, 'over 95 %', '>95 %'],
    [1, 'over 95 %', '>95 %'],
  ])('a chance of %s is "%s"', (chance, about, short) => {
    expect(aboutPercent(chance)).toBe(about);
    expect(percent(chance)).toBe(short);
  });

  it('never say that something is certain or impossible, and always a step of five', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 1, noNaN: true }), (chance) => {
        const points = Number(/\d+/.exec(percent(chance))?.[0]);
        expect(points % 5).toBe(0);
        expect(points).toBeGreaterThan(0);
        expect(points).toBeLessThan(100);
      }),
    );
  });

  it('have a sampling error that is rounded up', () => {
    expect(errorPoints(0.0219)).toBe(3);
    expect(errorPoints(0.02)).toBe(2);
    expect(errorPoints(0.001)).toBe(1);
  });
});

describe('a clash in words', () => {
  it('says when, how many want what, how likely somebody waits, how long, and who meet', async () => {
    const forecast = await forecastOf(clash);
    const [first] = forecast.clashes;
    const said = clashWords(first!, forecast, clash.state, names);
    expect(said).toContain(`${wallClock(first!.from)}–${wallClock(first!.to)}: 2 exits, one lane: `);
    expect(said).toContain('over 95 % that somebody waits, up to');
    expect(said).toContain('W1');
    expect(said).toContain('W2');
  });
});

describe('the hour with a forecast', () => {
  it('has everybody on the lane they most likely get, and hatches the time they wait', async () => {
    const forecast = await forecastOf(clash);
    const { lines } = forecastPlan(forecast, clash.state, clash.now);
    expect(lines.map((line) => [line.lane, line.closed, line.spans.map((span) => span.worker).sort()])).toEqual([
      ['l1', false, ['w1', 'w2']],
      ['l2', true, []],
    ]);
    const spans = lines[0]!.spans;
    for (const span of spans) {
      expect(span.to).toBeGreaterThan(span.from);
      expect(span.limitAt).toBe(workerOf(clash.state, span.worker).entry!.limit!.limitAt);
    }
    expect(spans.some((span) => span.from - span.wanted > minute)).toBe(true);
  });

  it('has a line for each observer who is likely to guide somebody, and no more than there is room for', async () => {
    const forecast = await forecastOf(clash);
    const lines = observerLines(forecast, clash.now + 120 * minute, 4);
    expect(lines.map(({ observer }) => observer).sort()).toEqual(['o1', 'o2']);
    expect(observerLines(forecast, clash.now + 120 * minute, 1)).toHaveLength(1);
    expect(observerLines(forecast, clash.now, 4)).toEqual([]);
  });

  it('knows a person by the entry under way', async () => {
    expect(personIn(await forecastOf(clash), w1)).toMatchObject({ worker: 'w1', stage: 'inside' });
    expect(personIn(await forecastOf(clash), 'w3' as PersonId)).toBeUndefined();
  });
});

describe('a move', () => {
  it('is one press that the unit would take, and is gone when its fact has come', async () => {
    const forecast = await forecastOf(clash);
    const kinds = forecast.moves.map(({ kind }) => kind);
    expect(kinds).toContain('reopen-lane');
    expect(kinds).toContain('call-out');
    for (const move of forecast.moves) {
      const order = orderOf(move);
      if (!order) continue;
      const { kind, data } = order;
      expect(refusalOf(clash.state, board, kind, data, clash.now)).toBeUndefined();
      expect(isDone(move, clash.state)).toBe(false);
      const after = play(clash, [reports('c1', kind, data as never)]).state;
      expect(isDone(move, after), keyOf(move)).toBe(true);
      expect(movesLeft(forecast.moves, after)).not.toContain(move);
    }
  });

  it('says what to do, and what it comes to for all together and for whom it changes most', async () => {
    const forecast = await forecastOf(clash);
    const reopen = forecast.moves.find(({ kind }) => kind === 'reopen-lane')!;
    expect(moveWords(reopen, names)).toBe('Reopen Lane 2. It is free after its turnover.');
    const [together, ...others] = effectWords(reopen, names);
    const { before, after } = reopen;
    expect(together).toBe(
      `Waiting of all together: ${Math.round(before.waitMinutes)} → ${Math.round(after.waitMinutes)} min`,
    );
    expect(others.some((line) => line.includes(': waits '))).toBe(true);
  });

  it('that is about a break, or about whoever is free, can only be said', () => {
    const [o1, o2] = ['o1', 'o2'] as PersonId[] as [PersonId, PersonId];
    const said: ForecastMove[] = [
      { kind: 'swap-breaks', observers: [o1, o2], ...effect },
      { kind: 'shift-break', observer: o1, minutes: -15, ...effect },
      { kind: 'assign-observer', worker: w1, ...effect },
    ];
    expect(said.map((move) => orderOf(move))).toEqual([undefined, undefined, undefined]);
    expect(said.map((move) => moveWords(move, names))).toEqual([
      'Ask O1 and O2 to swap their next breaks.',
      'Ask O1 to take the next break 15 min earlier.',
      'Let whoever is free observe W1.',
    ]);
  });

  it('names the time of a call-out', () => {
    const callOutAt = clash.now + 10 * minute;
    const move: ForecastMove = { kind: 'call-out', worker: w1, minutes: -15, callOutAt, ...effect };
    expect(moveWords(move, names)).toBe(`Call W1 out 15 min earlier, at ${wallClock(callOutAt)}.`);
    const lane: ForecastMove = { kind: 'reopen-lane', lane: 'l2' as LaneId, ...effect };
    expect(keyOf(move)).not.toBe(keyOf(lane));
  });
});

describe('a call-out time', () => {
  const limitIn = (state: UnitState) => workerOf(state, 'w1').entry!.limit!;

  it('says what it is made of', () => {
    const limit = { ...limitIn(clash.state), waitMinutes: 7 };
    expect(callOutMade(limit)).toBe(
      `limit ${wallClock(limit.limitAt)} − 10 min doffing − 7 min waiting − 5 min margin`,
    );
    const { waitMinutes: _wait, ...old } = limit;
    expect(callOutMade(old)).toBeUndefined();
  });

  it('that was brought forward says so on the tablet, with the reason', () => {
    const callOutAt = limitIn(clash.state).callOutAt - 12 * minute;
    const brought = reports('c1', 'plan-call-out', { worker: 'w1', callOutAt, reason: 'Two exits at once' });
    const { state } = play(clash, [brought]);
    const time = wallClock(callOutAt);
    expect(limitIn(state).callOutAt).toBe(callOutAt);
    expect(comesOutWords(state, w1, callOutAt)).toBe(`Comes out at ${time} (brought forward: two exits at once)`);
    expect(comesOutWords(clash.state, w1, callOutAt)).toBe(`call out at ${time}`);
  });
});
