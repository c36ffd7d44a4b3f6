import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { fold } from '../../machines/unit/fold.ts';
import { entriesOf, type UnitState } from '../../machines/unit/state.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import { forecast, waitForExit } from '../../server/rotation/forecast/forecast.ts';
import { scenarioOf } from '../../server/rotation/forecast/scenario-of.ts';
import type { ScenarioOptions } from '../../server/rotation/forecast/scenario-options.ts';
import { readScenario, type Scenario } from '../../server/rotation/forecast/scenario.ts';
import { demoFolder } from '../support/demo-unit.ts';
import { minute, openedAt, openedUnit } from '../support/unit-fixture.ts';

const factsOf = (name: string): Fact[] =>
  readFileSync(`${demoFolder}logs/${name}.jsonl`, 'utf8')
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line) as Fact);

/** Every moment of a recorded shift: the state after each fact, and when it was. */
function moments(name: string): { state: UnitState; now: number; fact: Fact }[] {
  let state: UnitState | undefined;
  return factsOf(name).map((fact) => {
    state = fold(state, fact);
    return { state, now: fact.receivedAt, fact };
  });
}

const logs = ['clean-shift', 'breach-and-emergency', 'same-lane'];
const few: ScenarioOptions = { runs: 40, horizonMinutes: 120 };
const momentOf = (log: string, kind: Fact['kind']) => moments(log).find(({ fact }) => fact.kind === kind)!;
const personOf = (scenario: Scenario, worker: string) => scenario.people.find((one) => one.worker === worker);

describe.each(logs)('at every moment of %s', (log) => {
  const all = moments(log);

  it('the scenario is one that a reader accepts, with everybody who is in an entry and not out yet', () => {
    for (const { state, now } of all) {
      const scenario = scenarioOf(state, now, few);
      const read = readScenario(JSON.parse(JSON.stringify(scenario)));
      expect(read.ok ? '' : `${state.number}: ${read.refusal.message}`).toBe('');
      const workers = entriesOf(state.workers)
        .filter(([, { machine }]) => !['rest', 'post-check'].includes(Object.keys(machine.value)[0]!))
        .filter(([, { machine }]) => machine.context.entry)
        .map(([id]) => id);
      expect(scenario.people.map((one) => one.worker).sort()).toEqual([...workers].sort());
    }
  });

  it('stages follow the chain: each entry goes through them in order', () => {
    const order = ['expected', 'donning', 'inside', 'leaving', 'waiting', 'doffing'];
    const seen = new Map<string, number>();
    for (const { state, now } of all) {
      for (const one of scenarioOf(state, now, few).people) {
        const stage = order.indexOf(one.stage);
        expect(stage, `${one.id} at ${state.number}`).toBeGreaterThanOrEqual(seen.get(one.id) ?? 0);
        seen.set(one.id, stage);
      }
    }
    expect(seen.size).toBeGreaterThan(2);
    expect([...seen.values()].every((last) => last === order.indexOf('doffing'))).toBe(true);
  });
});

describe('what the state knows', () => {
  it('somebody inside has their limit and call-out time, counted from now', () => {
    const { state, now, fact } = momentOf('clean-shift', 'room-entered');
    const worker = (fact.data as { worker: string }).worker;
    const limit = entriesOf(state.workers).find(([id]) => id === worker)![1].machine.context.entry!.limit!;
    expect(personOf(scenarioOf(state, now), worker)).toMatchObject({
      stage: 'inside',
      elapsedMinutes: (now - fact.at) / minute,
      limitInMinutes: (limit.limitAt - now) / minute,
      callOutInMinutes: (limit.callOutAt - now) / minute,
    });
    const later = scenarioOf(state, now + 30 * minute);
    expect(personOf(later, worker)).toMatchObject({
      elapsedMinutes: (now + 30 * minute - fact.at) / minute,
      callOutInMinutes: (limit.callOutAt - now - 30 * minute) / minute,
    });
  });

  it('somebody in a lane is in it with the observer who is guiding them, and the lane takes nobody else', () => {
    const { state, now, fact } = momentOf('clean-shift', 'lane-entered');
    const { worker, lane } = fact.data as { worker: string; lane: string };
    const scenario = scenarioOf(state, now + 4 * minute, few);
    const one = personOf(scenario, worker)!;
    expect(one).toMatchObject({ stage: 'doffing', lane, elapsedMinutes: 4 + (now - fact.at) / minute });
    expect(scenario.observers.map(({ id }) => id)).toContain((one as { guidedBy?: string }).guidedBy);
    const used = forecast(scenario).lanes.find(({ id }) => id === lane)!.uses[0];
    expect(used).toMatchObject({ person: one.id, chance: 1, startMinute: 0 });
  });

  it('a lane in turnover is free when its time and the clearing are over', () => {
    const { state, now, fact } = momentOf('clean-shift', 'lane-left');
    const { lane, turnoverUntil } = fact.data as { lane: string; turnoverUntil: number };
    const found = scenarioOf(state, now, { clearingMinutes: 3 }).lanes.find(({ id }) => id === lane);
    expect(found?.freeInMinutes).toBeCloseTo((turnoverUntil - now) / minute + 3, 9);
    const rule = state.rules.lanes.find(({ id }) => id === lane)!;
    expect(found?.turnoverMinutes).toBe(rule.turnoverMinutes + 3);
  });

  it('an emergency is one, and goes before all', () => {
    const { state, now, fact } = momentOf('breach-and-emergency', 'emergency-declared');
    const scenario = scenarioOf(state, now, few);
    expect(personOf(scenario, (fact.data as { worker: string }).worker)?.emergency).toBe(true);
  });

  it('two who come to the same lane are seen coming: the recorded clash has a chance of waiting before it happens', () => {
    const all = moments('same-lane');
    const raised = all.findIndex(({ fact }) => fact.kind === 'alert-raised' && fact.data.alertKind === 'lane-clash');
    const before = all[raised - 1]!;
    const scenario = scenarioOf(before.state, before.now, { runs: 400 });
    const chances = forecast(scenario).people.map((one) => one.chanceOfWaiting.lane);
    expect(Math.max(...chances)).toBeGreaterThan(0.2);
  });

  it('an observer on a break is away for what is left of it; off shift and silent ones are not counted on', () => {
    for (const { state, now } of moments('breach-and-emergency')) {
      const scenario = scenarioOf(state, now, { breakMinutes: 30 });
      for (const [id, observer] of entriesOf(state.observers)) {
        const found = scenario.observers.find((one) => one.id === id);
        if (observer.value === 'off-shift' || observer.value === 'unreachable') expect(found).toBeUndefined();
        if (observer.value === 'break') expect(found!.availableInMinutes).toBeGreaterThanOrEqual(1);
        if (observer.value === 'available') expect(found?.availableInMinutes).toBe(0);
      }
    }
  });

  it('a unit where nothing has happened is empty', () => {
    const { state } = openedUnit();
    const scenario = scenarioOf(state, openedAt);
    expect(scenario.people).toEqual([]);
    expect(scenario.observers).toEqual([]);
    expect(scenario.lanes.map(({ id }) => id)).toEqual(['l1', 'l2']);
    expect(forecast(scenario).people).toEqual([]);
  });

  it('asking changes nothing: same state, same moment, same scenario and forecast', () => {
    const { state, now } = moments('same-lane')[200]!;
    const before = JSON.stringify(state);
    expect(scenarioOf(state, now)).toEqual(scenarioOf(state, now));
    expect(JSON.stringify(state)).toBe(before);
  });
});

describe('what the caller adds', () => {
  const { state, now, fact } = momentOf('clean-shift', 'room-entered');
  const busy = (fact.data as { worker: string }).worker;
  const idle = entriesOf(state.workers).find(([, { machine }]) => !machine.context.entry)![0];
  const planned = (worker: string, inMinutes: number, insideMinutes = 50) => ({
    worker,
    room: 'room-1',
    donningStartAt: now + inMinutes * minute,
    insideMinutes,
  });
  const expectedOf = (plan: ScenarioOptions['plan'], options: ScenarioOptions = {}) =>
    scenarioOf(state, now, { ...options, plan }).people.filter(
      (one) => one.stage === 'expected' && / at /.test(one.id),
    );

  it('planned entries are expected, with their time inside and a limit of their procedure', () => {
    const [one, ...others] = expectedOf([planned(idle, 40)]);
    expect(others).toEqual([]);
    expect(one).toMatchObject({ worker: idle, startsInMinutes: 40, inside: { median: 50 } });
    const { callOutAfterMinutes, limitAfterMinutes } = one as {
      callOutAfterMinutes: number;
      limitAfterMinutes: number;
    };
    expect(callOutAfterMinutes).toBeLessThan(limitAfterMinutes);
  });

  it('what has begun, is long past, is beyond the horizon or is for a stranger is not expected', () => {
    expect(expectedOf([planned(busy, -20)])).toEqual([]);
    expect(expectedOf([planned(idle, -90)])).toEqual([]);
    expect(expectedOf([planned(idle, 300)])).toEqual([]);
    expect(expectedOf([planned(idle, 300)], { horizonMinutes: 360 })).toHaveLength(1);
    expect(expectedOf([planned('nobody', 40)])).toEqual([]);
    expect(expectedOf([planned(busy, -20), planned(busy, 150)]).map((one) => one.worker)).toEqual([busy]);
  });

  it('a planned start that is a little late is expected now', () => {
    expect(expectedOf([planned(idle, -10)])[0]).toMatchObject({ startsInMinutes: 0 });
  });

  it('the plan says how long somebody inside will be there, history how long doffing takes', () => {
    const plan = [{ ...planned(busy, -40), room: (fact.data as { room: string }).room }];
    const entry = entriesOf(state.workers).find(([id]) => id === busy)![1].machine.context.entry!;
    const history = { [entry.procedure]: { doffing: { median: 18, p90: 24 } } };
    expect(personOf(scenarioOf(state, now, { plan, history }), busy)).toMatchObject({
      inside: { median: 50 },
      doffing: { median: 18, p90: 24 },
    });
  });

  it('planned breaks and assigned observers are taken over', () => {
    const observer = scenarioOf(state, now).observers[0]!.id;
    const plannedBreaks = [{ observer, startAt: now + 25 * minute, minutes: 20 }];
    const found = scenarioOf(state, now, { plannedBreaks }).observers.find(({ id }) => id === observer);
    expect(found?.breaks).toEqual([{ startsInMinutes: 25, minutes: 20 }]);
  });

  it('the wait to leave room for is asked by worker or by entry', () => {
    const scenario = scenarioOf(state, now, few);
    const entry = personOf(scenario, busy)!.id;
    const found = forecast(scenario);
    expect(waitForExit(found, busy)).toBe(waitForExit(found, entry));
    expect(waitForExit(found, busy)).toBeGreaterThanOrEqual(0);
    expect(waitForExit(found, 'nobody')).toBeUndefined();
  });
});
