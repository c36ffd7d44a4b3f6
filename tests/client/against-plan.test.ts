import { describe, expect, it } from 'vitest';
import { planLine, planSentence } from '../../client/board/against-plan-words.ts';
import { againstPlan, withALine, type AgainstPlan } from '../../client/board/against-plan.ts';
import { callable, neverCallable } from '../../client/board/call-choice.ts';
import { wallClock } from '../../client/board/clock.ts';
import type { Desk } from '../../client/board/desk.ts';
import { refusalOf } from '../../client/board/dry-run.ts';
import { floorNames } from '../../client/board/floor-names.ts';
import { standings } from '../../client/board/standing.ts';
import type { Forecast, ForecastPerson } from '../../client/forecast/forecast.ts';
import type { Rotation } from '../../machines/unit/rotation.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { DeviceId, PersonId, ProcedureId, RoomId } from '../../machines/wire/ids.ts';
import { plannedFor } from '../support/rotation-fixture.ts';
import {
  atThreshold,
  called,
  doffed,
  enters,
  given,
  inside,
  minute,
  onDuty,
  openedAt,
  passes,
  reports,
  vitals,
  type World,
} from '../support/unit-fixture.ts';

const at = (minutes: number) => openedAt + minutes * minute;
const clock = (minutes: number) => wallClock(at(minutes));
const id = (text: string) => text as PersonId;
const w1 = id('w1');
/** w1 is called at 0, inside from 5, out at 45, doffed at 55; w2 is called at 30. */
const rotation: Rotation = {
  ...{ startAt: openedAt, endAt: at(240), breaks: [] },
  trips: [plannedFor('w1', 0), plannedFor('w2', 30)],
};
const adopts = reports('c1', 'adopt-rotation', { rotation });
const story = (...acts: Parameters<typeof given>) => given(onDuty('o1', 'o2'), adopts, ...acts).world;

const all = ({ state, now }: Pick<World, 'state' | 'now'>, forecast?: Forecast) =>
  againstPlan(state, standings(state), forecast, now);
const of = (world: Pick<World, 'state' | 'now'>, worker = w1, forecast?: Forecast) => all(world, forecast).get(worker);
const later = ({ state, now }: World, minutes: number) => ({ state, now: now + minutes * minute });

/** What the server would have said, as far as it is looked at here. */
const comes = (worker: PersonId, comesAt: number): Forecast => ({
  ...{ number: 1, at: openedAt, horizonMinutes: 240, runs: 2000, waitQuantile: 0.9, chanceHalfWidth95: 0.02 },
  ...{ lanes: [], observers: [], clashes: [], moves: [] },
  people: [{ worker, stage: 'inside', comesAt } as ForecastPerson],
});

describe('somebody on the cold side', () => {
  it('has the time of the call, then how late it is, and says nothing once the call is too late to be that trip', () => {
    const world = story();
    const line = (minutes: number) => of(later(world, minutes), id('w2'));
    expect(line(0)).toEqual({ is: 'to-be-called', plannedAt: at(30), minutes: 0 });
    expect(line(33)).toEqual({ is: 'to-be-called', plannedAt: at(30), minutes: 3 });
    expect(line(42)).toEqual({ is: 'to-be-called', plannedAt: at(30), minutes: 12 });
    expect(line(121)).toEqual({ is: 'not-in-plan' });
  });

  it('who is stood down, barred, or still resting then, can’t go, and the line says so at once', () => {
    const down = story(reports('c1', 'stand-down', { worker: 'w2', reason: 'asked to' }));
    expect(of(down, id('w2'))).toEqual({ is: 'cannot-go', plannedAt: at(30), because: 'stood-down', minutes: 0 });
    const again = { ...rotation, trips: [plannedFor('w1', 0), plannedFor('w1', 70, { id: 'again' })] };
    const back = given(
      onDuty('o1'),
      reports('c1', 'adopt-rotation', { rotation: again }),
      inside('o1', 'w1'),
      passes(40 * minute),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
      passes(15 * minute),
      doffed('o1', 'w1'),
      reports('o1', 'record-post-check', { worker: 'w1', vitals }),
    ).world;
    expect(of(back)).toMatchObject({ is: 'cannot-go', plannedAt: at(70), because: 'resting' });
    expect(of(later(back, 31))).toMatchObject({ is: 'to-be-called', minutes: 16 });
  });

  it('who is not in the plan has no line on the tile; whoever is in an entry has', () => {
    const world = story(passes(minute), called('w3'));
    const people = standings(world.state);
    const lines = withALine(all(world), people);
    expect(of(world, id('w3'))).toEqual({ is: 'not-in-plan' });
    expect([...lines.keys()].sort()).toEqual(['w1', 'w2', 'w3']);
    expect([...all(world).keys()]).toContain('w-untrained');
  });
});

describe('an entry that is not in the plan', () => {
  const later = { ...rotation, trips: [plannedFor('w1', 120), plannedFor('w2', 30)] };
  const plan = reports('c1', 'adopt-rotation', { rotation: later });
  const names = floorNames(given().world.state.rules, (one) => one);
  it('and was begun before it was adopted is no departure from it: the next trip counts', () => {
    const world = given(onDuty('o1'), called('w1'), passes(minute), plan).world;
    expect(of(world)).toEqual({ is: 'not-in-plan', before: true, nextAt: at(120) });
    expect(planLine(of(world)!)).toEqual({ planned: `next planned ${clock(120)}`, off: '', hasLeft: false });
    expect(planSentence(of(world)!, names)).toContain(`begun before the rotation was adopted`);
  });
  it('and was begun against it is said to be none of it', () => {
    const world = given(onDuty('o1'), plan, passes(minute), called('w1')).world;
    expect(of(world)).toEqual({ is: 'not-in-plan', nextAt: at(120) });
    expect(planLine(of(world)!)).toMatchObject({ off: 'not in the plan', hasLeft: true });
  });
});

describe('somebody in an entry', () => {
  it('on the way in is late by the call, and later with every minute after they should be inside', () => {
    const world = story(passes(8 * minute), called('w1'));
    expect(of(world)).toEqual({ is: 'goes-in', plannedAt: at(5), minutes: 8 });
    expect(of(later(world, 20))).toEqual({ is: 'goes-in', plannedAt: at(5), minutes: 23 });
  });

  it('in the room is early or late by what the server expects, and never expected to have left already', () => {
    const world = story(passes(2 * minute), inside('o1', 'w1'));
    expect(of(world, w1, comes(w1, at(38)))).toEqual({
      ...{ is: 'comes-out', plannedAt: at(45), minutes: -7, by: 'forecast' },
    });
    expect(of(world, w1, comes(w1, at(57)))).toMatchObject({ minutes: 12, by: 'forecast' });
    // The forecast is older than the minute: still inside, so it is now at the earliest.
    expect(of(later(world, 40), w1, comes(w1, at(38)))).toMatchObject({ minutes: -3, by: 'forecast' });
    expect(of(later(world, 50), w1, comes(w1, at(38)))).toMatchObject({ minutes: 7, by: 'clock' });
  });

  it('without a forecast goes by the limit only where that is earlier than the plan, then by the clock', () => {
    const long = { ...rotation, trips: [plannedFor('w1', 0, { insideMinutes: 90 })] };
    const world = given(onDuty('o1'), reports('c1', 'adopt-rotation', { rotation: long }), inside('o1', 'w1')).world;
    const limit = world.state.workers[w1]?.machine.context.entry?.limit;
    const early = Math.trunc(((limit?.callOutAt ?? 0) - at(95)) / minute);
    expect(early).toBeLessThan(-30);
    expect(of(world)).toEqual({ is: 'comes-out', plannedAt: at(95), minutes: early, by: 'call-out' });
    const short = story(inside('o1', 'w1'));
    expect(of(short)).toEqual({ is: 'comes-out', plannedAt: at(45), minutes: 0, by: 'clock' });
    expect(of(later(short, 53))).toMatchObject({ minutes: 8, by: 'clock' });
  });

  it('out of the room keeps what it came to, and so does the last doffing step', () => {
    const out = given(onDuty('o1', 'o2'), adopts, inside('o1', 'w1'), passes(33 * minute), atThreshold('o1', 'w1'));
    expect(of(out.world)).toEqual({ is: 'came-out', plannedAt: at(45), minutes: -12 });
    expect(of(later(out.world, 30))).toMatchObject({ minutes: -12 });
    const done = out.when(enters('o1', 'w1', 'l1'), passes(31 * minute), doffed('o1', 'w1')).outcome.world;
    expect(of(done)).toEqual({ is: 'doffed', plannedAt: at(55), minutes: 9 });
  });

  it('in another room than planned is told so', () => {
    const elsewhere = { ...rotation, trips: [plannedFor('w1', 0, { room: 'r2' as RoomId })] };
    const world = given(
      reports('c1', 'adopt-rotation', { rotation: elsewhere }),
      onDuty('o1'),
      inside('o1', 'w1'),
    ).world;
    expect(of(world)).toMatchObject({ is: 'comes-out', otherRoom: 'r2' });
    const names = floorNames(world.state.rules, (one) => one);
    expect(planSentence(of(world)!, names)).toContain('Planned for Room 2.');
  });

  it('whose call is taken back is ahead of it again', () => {
    const world = story(called('w1'), reports('c1', 'cancel-entry', { worker: 'w1', reason: 'plan changed' }));
    expect(of(world)).toMatchObject({ is: 'to-be-called', plannedAt: at(0) });
  });
});

describe('no plan', () => {
  it.each([
    ['where none is adopted', () => given(onDuty('o1')).world],
    ['where it was dropped', () => story(reports('c1', 'drop-rotation', { reason: 'withdrawn' }))],
    ['where it is over', () => ({ ...story(), now: at(240) })],
  ])('says nothing %s', (_where, world) => expect(all(world()).size).toBe(0));
});

describe('in words', () => {
  const names = floorNames(story().state.rules, (one) => one);
  const line = (against: AgainstPlan) => planLine(against);
  const plannedAt = at(45);
  it('a tile says what is off, or as planned within the slots of a plan', () => {
    const planned = `planned ${clock(45)}`;
    const out = { is: 'comes-out', plannedAt } as const;
    expect(line({ ...out, minutes: 4, by: 'forecast' })).toEqual({ planned, off: 'as planned', hasLeft: false });
    expect(line({ ...out, minutes: 5, by: 'forecast' })).toEqual({ planned, off: 'about 5 min late', hasLeft: true });
    expect(line({ ...out, minutes: -9, by: 'call-out' })).toEqual({ planned, off: '9 min early', hasLeft: true });
    expect(line({ is: 'came-out', plannedAt, minutes: 6 })).toEqual({ planned, off: '6 min late', hasLeft: true });
    expect(line({ is: 'to-be-called', plannedAt, minutes: 0 })).toEqual({ planned, off: '', hasLeft: false });
    expect(line({ is: 'to-be-called', plannedAt, minutes: 12 })).toMatchObject({ off: '12 min late', hasLeft: true });
    expect(line({ is: 'not-in-plan' })).toEqual({ planned: '', off: 'not in the plan', hasLeft: true });
    expect(line({ is: 'cannot-go', plannedAt, because: 'barred', minutes: 0 })).toMatchObject({ off: 'can’t go then' });
  });
  it('a sheet says it in a sentence', () => {
    const said = (against: AgainstPlan) => planSentence(against, names);
    expect(said({ is: 'to-be-called', plannedAt, minutes: 12 })).toBe(
      `The call was planned for ${clock(45)}: 12 min ago.`,
    );
    expect(said({ is: 'comes-out', plannedAt, minutes: 12, by: 'forecast' })).toBe(
      `Leaving the room is planned for ${clock(45)}: about 12 min late by the forecast.`,
    );
    expect(said({ is: 'cannot-go', plannedAt, because: 'resting', minutes: 0 })).toBe(
      `The call is planned for ${clock(45)}: still resting then.`,
    );
  });
});

describe('the press that calls somebody', () => {
  const deskAt = (state: UnitState, now: number): Desk => ({
    ...{ state, now, names: floorNames(state.rules, (one) => one), me: id('c1') },
    refusal: (kind, data) =>
      refusalOf(state, { device: 'board' as DeviceId, role: 'coordinator', person: id('c1') }, kind, data, now),
    send: () => undefined,
  });
  const desk = ({ state, now }: World) => deskAt(state, now);

  it('is not offered for somebody whom nothing lets in, and the unit’s own sentence says why', () => {
    const down = story(reports('c1', 'stand-down', { worker: 'w2', reason: 'asked to' }));
    expect(neverCallable(desk(down), id('w2'))).toMatchObject({ code: 'worker/stood-down' });
    expect(neverCallable(desk(down), id('w-untrained'))?.sentence.length).toBeGreaterThan(10);
  });
  it('is not offered to whoever is barred after the last entry, and their tile says that they can’t go', () => {
    const world = story();
    const after = { barredUntil: at(600), nextShare: 1, because: 'measured', source: 'invented for tests' };
    const worker = { ...world.state.workers[id('w2')]!, after };
    const state = { ...world.state, workers: { ...world.state.workers, [id('w2')]: worker } };
    expect(neverCallable(deskAt(state, world.now), id('w2'))).toMatchObject({ code: 'worker/not-again-today' });
    expect(of({ state, now: world.now }, id('w2'))).toMatchObject({ is: 'cannot-go', because: 'barred' });
  });
  it('is offered to whoever may go by one procedure, whoever is resting, and whoever only finds the rooms full', () => {
    const world = story();
    expect(callable(desk(world), id('w-old-fit'), 'r1' as RoomId, 'gown' as ProcedureId).refusal).toBeDefined();
    expect(neverCallable(desk(world), id('w-old-fit'))).toBeUndefined();
    expect(neverCallable(desk(world), w1)).toBeUndefined();
    const full = { ...world.state.rules, rooms: world.state.rules.rooms.map((one) => ({ ...one, places: 0 })) };
    expect(neverCallable(deskAt({ ...world.state, rules: full }, world.now), w1)).toBeUndefined();
  });
});
