import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { acceptReport } from '../../machines/unit/accept.ts';
import { fold } from '../../machines/unit/fold.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import type { DeviceId, LaneId, PersonId, ProcedureId, ReportId } from '../../machines/wire/ids.ts';
import { wireVersion, type Report } from '../../machines/wire/report.ts';
import { scenarioOf } from '../../server/rotation/forecast/scenario-of.ts';
import { steadyWait, withoutWaits } from '../../server/rotation/live/call-out-waits.ts';
import { forecastView } from '../../server/rotation/live/forecast-view.ts';
import { playWork } from '../../server/rotation/live/forecast-work.ts';
import { enoughEntries } from '../../machines/procedure/own-times.ts';
import { liveOptions, spreadFrom } from '../../server/rotation/live/live-options.ts';
import { demoFolder } from '../support/demo-unit.ts';

const facts = readFileSync(`${demoFolder}logs/same-lane.jsonl`, 'utf8')
  .trimEnd()
  .split('\n')
  .map((line) => JSON.parse(line) as Fact);
const stateAfter = (number: number): UnitState =>
  facts.slice(0, number).reduce<UnitState | undefined>(fold, undefined)!;
const numberOf = (is: (fact: Fact) => boolean): number => facts.find(is)!.number;

function lookAt(state: UnitState, at: number) {
  const options = liveOptions(state, { runs: 1000, source: 'invented for tests' });
  const scenario = scenarioOf(state, at, options);
  const unmoved = scenarioOf(withoutWaits(state), at, options);
  const worked = playWork({ kind: 'look', scenario, unmoved });
  if (worked.kind !== 'look') throw new Error('another answer');
  const { waits } = worked;
  return { view: forecastView({ number: state.number, at, state, scenario, ...worked }), waits };
}

/** What the coordinator's press on "reopen" leads to. */
function reopened(state: UnitState, lane: LaneId, at: number): UnitState {
  const report = {
    ...{ v: wireVersion, id: 'board.900' as ReportId, unit: state.unit, device: 'board' as DeviceId, sequence: 900 },
    ...{ person: 'p-17' as PersonId, observedAt: at, kind: 'reopen-lane', data: { lane } },
  } as Report;
  const accepted = acceptReport(state, {
    report,
    role: 'coordinator',
    receivedAt: at,
    salt: 'a-salt-for-tests-only-0',
  });
  if ('refusal' in accepted) throw new Error(accepted.refusal.sentence);
  return accepted.state;
}

describe('the recorded shift in which two want the same lane', () => {
  const closed = numberOf((fact) => fact.kind === 'lane-closed');
  const calledOut = closed + 2;
  const at = facts[calledOut - 1]!.at;
  const waited = (worker: string) => {
    const left = facts.find((fact) => fact.kind === 'room-left' && fact.data.worker === worker)!;
    return (facts.find((fact) => fact.kind === 'lane-entered' && fact.data.worker === worker)!.at - left.at) / 60_000;
  };

  it('is seen before the alert about it, and before anybody has come to the door', () => {
    expect(calledOut).toBeLessThan(numberOf((f) => f.kind === 'alert-raised' && f.data.alertKind === 'lane-clash'));
    expect(calledOut).toBeLessThan(numberOf((fact) => fact.kind === 'room-left'));
    const { view } = lookAt(stateAfter(calledOut), at);
    const going = view.people.filter(({ stage }) => stage === 'leaving');
    expect(going.map(({ worker }) => worker).sort()).toEqual(['p-09', 'p-11']);
    // Each of two who come at once waits in about half of the runs, and one of them in nearly all.
    const clash = view.clashes.find(({ workers }) => workers.includes('p-09') && workers.includes('p-11'))!;
    expect(clash.what).toBe('lane');
    expect(clash.chance).toBeGreaterThan(0.9);
    expect(clash.chance).toBeGreaterThan(Math.max(...going.map((one) => one.chanceOfWaiting.either)));
    // One of the two really waited, for about as long as was to be expected.
    const really = Math.max(waited('p-09'), waited('p-11'));
    expect(really).toBeGreaterThan(10);
    expect(Math.max(...going.map((one) => one.waitMinutes.atQuantile))).toBeGreaterThan(really * 0.8);
  });

  it('the first move lessens it, and once it is done it is no longer offered', () => {
    const state = stateAfter(calledOut);
    const { view } = lookAt(state, at);
    const [first] = view.moves;
    expect(first).toMatchObject({ kind: 'reopen-lane', lane: 'lane-2' });
    expect(first!.after.waitMinutes).toBeLessThan(first!.before.waitMinutes * 0.7);
    const after = lookAt(reopened(state, 'lane-2' as LaneId, at), at).view;
    expect(after.moves.map(({ kind }) => kind)).not.toContain('reopen-lane');
    const sum = (people: typeof view.people) => people.reduce((all, one) => all + one.waitMinutes.mean, 0);
    expect(sum(after.people)).toBeLessThan(sum(view.people) * 0.7);
    expect(sum(after.people)).toBeCloseTo(first!.after.waitMinutes, -1);
  });

  it('the waits that move call-outs are the same whatever they have moved already', () => {
    const state = stateAfter(closed);
    const before = lookAt(state, facts[closed - 1]!.at);
    const moved = withEveryWait(state, 13);
    const after = lookAt(moved, facts[closed - 1]!.at);
    expect(after.waits).toEqual(before.waits);
    expect(after.view.people).not.toEqual(before.view.people);
  });
});

/** As if this wait had been left room for, for everybody. */
function withEveryWait(state: UnitState, waitMinutes: number): UnitState {
  const workers = Object.entries(state.workers).map(([id, worker]) => {
    const { entry } = worker.machine.context;
    if (!entry?.limit) return [id, worker];
    const limit = { ...entry.limit, waitMinutes, callOutAt: entry.limit.callOutAt - waitMinutes * 60_000 };
    const machine = { ...worker.machine, context: { ...worker.machine.context, entry: { ...entry, limit } } };
    return [id, { ...worker, machine }];
  });
  return { ...state, workers: Object.fromEntries(workers) as UnitState['workers'] };
}

describe('a wait that is left room for', () => {
  it.each([
    [0, undefined, 0],
    [7, undefined, 7],
    [0, [1.4, 1.4], 0],
    [0, [2, 2], 2],
    [0, [0, 40], 0],
    [0, [38, 40], 38],
    [10, [11.4, 30], 10],
    [10, [12.2, 30], 12],
    [10, [6, 6], 10],
    [10, [0, 12], 10],
    [10, [0, 5.2], 5],
    [10, [0, 0], 0],
    [3, [0, 0], 3],
  ] as const)('of %s min, with %j forecast in the last minute, becomes %s', (now, forecast, next) => {
    expect(steadyWait(now, forecast && { least: forecast[0], most: forecast[1] })).toBe(next);
  });
});

describe('the unit’s own record', () => {
  it('counts once there are ten doffings, by the middle and the scatter of what they took', () => {
    const times = Array.from({ length: enoughEntries }, (_, index) => 20 + index);
    expect(spreadFrom(times.slice(1))).toBeUndefined();
    const { median, sigma } = spreadFrom(times)!;
    expect(median).toBeGreaterThan(23.5);
    expect(median).toBeLessThan(24.5);
    expect(sigma).toBeGreaterThan(0.1);
    expect(sigma).toBeLessThan(0.16);
  });

  it('is in the options for its procedure alone, with the unit’s settings and its plan', () => {
    const state = stateAfter(facts.length);
    const gown = 'respirator-gown' as ProcedureId;
    const doffings: UnitState['doffings'] = { [gown]: Array.from({ length: 12 }, () => 31) };
    const options = liveOptions({ ...state, doffings }, { waitQuantile: 0.8, source: 'invented' });
    expect(options).toMatchObject({
      waitQuantile: 0.8,
      history: { 'respirator-gown': { doffing: spreadFrom(doffings[gown]!) } },
    });
    expect(Object.keys(options.history!)).toEqual(['respirator-gown']);
    expect(options).not.toHaveProperty('source');
    expect(options).not.toHaveProperty('plan');
  });
});
