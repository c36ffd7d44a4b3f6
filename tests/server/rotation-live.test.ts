import { describe, expect, it } from 'vitest';
import { fold } from '../../machines/unit/fold.ts';
import { rotationSettings } from '../../machines/unit/rotation-settings.ts';
import { rotation as rotationSchema } from '../../machines/unit/rotation.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { RoomId } from '../../machines/wire/ids.ts';
import { readInstance } from '../../server/rotation/read-instance.ts';
import { instanceOf, rotationOf, type RotationAsk } from '../../server/rotation/live/instance-of.ts';
import { searchPlan } from '../../server/rotation/search.ts';
import { firstCoverOf, withoutFirst } from '../../server/rotation/live/first-cover.ts';
import { checkPlan, uncoveredMinutesOf } from '../support/plan-check.ts';
import {
  atThreshold,
  called,
  enters,
  given,
  gown,
  inside,
  minute,
  onDuty,
  openedAt,
  passes,
  reports,
  settings as unit,
  trip,
} from '../support/unit-fixture.ts';

const settings = rotationSettings.parse({
  insideMinutes: [20, 30, 40, 50],
  handoverMinutes: 5,
  postCheckMinutes: 5,
  observerBreak: { minutes: 15, everyMinutes: 120 },
  maxOverrunMinutes: 30,
  source: 'invented for tests',
});

const ask: RotationAsk = {
  hours: 4,
  procedure: gown,
  staffInside: { ['r1' as RoomId]: 1 } as RotationAsk['staffInside'],
  observers: 'roster',
};

const problemAt = (state: UnitState, now: number, change: Partial<RotationAsk> = {}) =>
  instanceOf(state, settings, { ...ask, ...change }, now);

/** The planner's clock is the number of times it asks, so that the test does not depend on the machine. */
function counting(): () => number {
  let asked = 0;
  return () => (asked += 1);
}

describe('the unit as a rotation problem', () => {
  it('is one that the planner takes, with people who are qualified, and stays that leave time for doffing', () => {
    const { state, now } = given(onDuty('o1')).world;
    const { instance, frame } = problemAt(state, now);
    expect(readInstance(JSON.parse(JSON.stringify(instance)))).toMatchObject({ ok: true });
    expect(instance.workers.map(({ id }) => id)).toEqual(['w1', 'w2', 'w3', 'both']);
    expect(instance.insideMinutesAllowed).toEqual([20, 30, 40]);
    expect(instance.rooms).toEqual([
      { id: 'r1', staffInside: 1 },
      { id: 'r2', staffInside: 0 },
    ]);
    expect(frame).toMatchObject({ startAt: openedAt, lanes: ['l1', 'l2'], observers: ['o1', 'o2', 'o3', 'both'] });
    expect(problemAt(state, now, { observers: 'on-duty' }).frame.observers).toEqual(['o1']);
  });

  it('starts at a whole slot, never before now', () => {
    const { state } = given().world;
    expect(problemAt(state, openedAt + 1).frame.startAt).toBe(openedAt + 5 * minute);
  });

  it('knows who is inside and since when, who rests, and what the day has cost them', () => {
    const story = given(
      onDuty('o1', 'o2'),
      trip('o1', 'w1', 'l1', 30 * minute),
      inside('o2', 'w2'),
      passes(12 * minute),
    );
    const { instance } = problemAt(story.world.state, story.world.now);
    expect(instance.inside).toEqual([{ worker: 'w2', room: 'r1', sinceMinute: -15 }]);
    const w1 = instance.workers.find(({ id }) => id === 'w1');
    expect(w1).toMatchObject({ minutesInEquipmentSoFar: 30, entriesSoFar: 1, busyUntilMinute: 20 });
  });

  it('leaves out closed lanes, and keeps whoever is doffing busy until their rest is over', () => {
    const story = given(
      reports('c1', 'close-lane', { lane: 'l2', reason: 'spill' }),
      onDuty('o1'),
      inside('o1', 'w1'),
      passes(20 * minute),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
    );
    const { instance, frame } = problemAt(story.world.state, story.world.now);
    expect(frame.lanes).toEqual(['l1']);
    expect(instance.inside).toEqual([]);
    // 10 min of doffing, 5 of post-check, 30 of rest.
    expect(instance.workers[0]?.busyUntilMinute).toBe(10 + 5 + unit.rest.minutes - (unit.rest.minutes % 5) + 5);
  });

  it('lets everybody out who is overdue at once, though they wait for each other at one lane', () => {
    const story = given(
      reports('c1', 'close-lane', { lane: 'l2', reason: 'spill' }),
      onDuty('o1', 'o2', 'o3'),
      inside('o1', 'w1'),
      inside('o2', 'w2'),
      inside('o3', 'w3', 'gown', 'r2'),
      passes(80 * minute),
    );
    const { instance, lanesAway } = problemAt(story.world.state, story.world.now);
    expect(readInstance(JSON.parse(JSON.stringify(instance)))).toMatchObject({ ok: true });
    expect(instance.inside).toHaveLength(3);
    const { plan, cost } = searchPlan(instance, { seed: 1, budgetMs: 200, now: counting(), lanesAway });
    expect(checkPlan(instance, plan)).toEqual([]);
    expect(plan.entries.filter(({ ongoing }) => ongoing)).toHaveLength(3);
    expect(cost.overrunSlots).toBeGreaterThan(0);
    // That long nobody stays to cover a room.
    expect(instance.weights.overrunSlot).toBeGreaterThan(instance.weights.uncoveredSlot);
  });

  it('allows nobody more than the unit does where all can be out in time, and asks no handover of who goes in first', () => {
    const story = given(onDuty('o1', 'o2'), inside('o1', 'w1'));
    const { instance } = problemAt(story.world.state, story.world.now);
    expect(instance.maxOverrunMinutes).toBe(settings.maxOverrunMinutes);
    expect(instance.weights).toEqual(settings.weights);
    expect(instance.inside).toEqual([{ worker: 'w1', room: 'r1', sinceMinute: -settings.handoverMinutes }]);
  });

  it('what if: an observer less, a lane more, longer doffing', () => {
    const { state, now } = given().world;
    const whatIf = { observersLess: 1, lanesMore: 1, doffingLongerPct: 50 };
    const { instance } = problemAt(state, now, { whatIf });
    expect(instance).toMatchObject({ observers: 3, lanes: 3, durations: { doffing: 15 } });
  });
});

describe('a plan, back in the unit', () => {
  const story = given(onDuty('o1'), inside('o1', 'w1'), passes(10 * minute));
  const { state, now } = story.world;
  const problem = problemAt(state, now);
  const { plan } = searchPlan(problem.instance, { seed: 1, budgetMs: 400, now: counting() });
  const rotation = rotationOf(state, problem, plan);

  it('passes the independent check, and is a rotation that the unit adopts', () => {
    expect(checkPlan(problem.instance, plan)).toEqual([]);
    expect(rotationSchema.parse(rotation)).toEqual(rotation);
    const adopted = story.when(reports('c1', 'adopt-rotation', { rotation })).then('rotation-adopted');
    expect(Object.values(adopted.state.rotation?.real ?? {}).map(({ entry }) => entry)).toEqual([
      state.workers['w1' as keyof typeof state.workers]?.machine.context.entry?.id,
    ]);
  });

  it('has names for every number, and no two trips of one name', () => {
    const ids = rotation.trips.map(({ id }) => id);
    expect(new Set(ids).size).toBe(ids.length);
    for (const one of rotation.trips) expect([one.lane, one.observerDoffing]).not.toContain(undefined);
  });

  it('planned again a little later, the same trip has the same name and what became of it', () => {
    const adopted = story.when(reports('c1', 'adopt-rotation', { rotation }));
    const next = rotation.trips.find(({ worker, donningAt }) => worker !== 'w1' && donningAt >= now);
    const waited = adopted.when(passes(Math.max(0, next!.donningAt - now)), called(next!.worker));
    const again = problemAt(waited.state, waited.outcome.world.now, { locked: rotation.trips });
    const kept = rotationOf(waited.state, again, { entries: again.keep, breaks: [] }, rotation.trips);
    const before = new Map(rotation.trips.map((one) => [one.id, one.donningAt]));
    expect(kept.trips.length).toBeGreaterThan(0);
    for (const one of kept.trips) expect([one.locked, before.get(one.id)]).toEqual([true, one.donningAt]);
  });
});

describe('at the start of a shift', () => {
  const empty = problemAt(given().world.state, openedAt);
  const { plan, cost } = searchPlan(empty.instance, { seed: 1, budgetMs: 400, now: counting() });

  it('what nobody can cover, because donning takes its time, is told apart and counts for nothing', () => {
    expect(firstCoverOf(empty.instance)).toEqual({ minutes: 10, fromMinute: 10 });
    const uncovered = uncoveredMinutesOf(empty.instance, plan);
    expect(uncovered).toBeGreaterThanOrEqual(10);
    const found = { objective: cost.objective, lowerBound: 2_000, uncoveredMinutes: uncovered };
    const without = withoutFirst(found, empty.instance);
    expect(without.uncoveredMinutes).toBe(uncovered - 10);
    expect(without.objective).toBeCloseTo(cost.objective - 2 * 1000, 9);
    expect(without.lowerBound).toBe(0);
  });

  it('is nothing where everybody who is needed is inside', () => {
    const working = given(onDuty('o1'), inside('o1', 'w1'));
    const { instance } = problemAt(working.world.state, working.world.now);
    expect(firstCoverOf(instance)).toEqual({ minutes: 0, fromMinute: undefined });
    const found = { objective: 50, lowerBound: 40, uncoveredMinutes: 5 };
    expect(withoutFirst(found, instance)).toEqual({ ...found, gapPct: 20 });
  });
});

it('the fold of the log alone finds the same rotation', () => {
  const { log, state } = given(
    reports('c1', 'adopt-rotation', { rotation: { startAt: 1, endAt: 2, trips: [], breaks: [] } }),
  ).world;
  expect(log.reduce<UnitState | undefined>(fold, undefined)?.rotation).toEqual(state.rotation);
});
