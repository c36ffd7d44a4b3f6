import { describe, expect, it } from 'vitest';
import { foldAll } from '../../machines/unit/fold.ts';
import { standingOf, type PlannedTrip, type Rotation } from '../../machines/unit/rotation.ts';
import type { RoomId } from '../../machines/wire/ids.ts';
import { advised } from '../support/heat-fixture.ts';
import {
  atThreshold,
  called,
  doffed,
  donned,
  enters,
  given,
  inside,
  minute,
  onDuty,
  openedAt,
  passes,
  reports,
  taken,
  workerOf,
  type Then,
} from '../support/unit-fixture.ts';

const w1 = { worker: 'w1' };
const at = (minutes: number) => openedAt + minutes * minute;
const trip = (id: string, worker: string, fromMinute: number, change: Partial<PlannedTrip> = {}): PlannedTrip => ({
  id,
  worker: worker as PlannedTrip['worker'],
  room: 'r1' as RoomId,
  procedure: 'gown' as PlannedTrip['procedure'],
  donningAt: at(fromMinute),
  donningMinutes: 20,
  insideMinutes: 40,
  doffingMinutes: 20,
  ...change,
});
const plan = (...trips: PlannedTrip[]): Rotation => ({ startAt: at(0), endAt: at(240), trips, breaks: [] });
const adopts = (rotation: Rotation) => reports('c1', 'adopt-rotation', { rotation });
const two = plan(trip('a', 'w1', 0), trip('b', 'w2', 50));
const real = ({ state }: Pick<Then, 'state'>) => state.rotation?.real;

describe('a rotation', () => {
  it('is adopted by the coordinator, is in the log whole, and is dropped with a reason', () => {
    const adopted = given().when(adopts(two)).then('rotation-adopted');
    expect(adopted.state.rotation).toMatchObject({ ...two, adoptedAt: openedAt, real: {} });
    expect(foldAll(undefined, adopted.outcome.world.log)).toEqual(adopted.state);
    const dropped = adopted.when(reports('c1', 'drop-rotation', { reason: 'too few people' })).then('rotation-dropped');
    expect(dropped.state.rotation).toBeUndefined();
    given()
      .when(reports('c1', 'drop-rotation', { reason: 'none' }))
      .then();
    given()
      .when(reports('o1', 'adopt-rotation', { rotation: two }))
      .thenRefused('rights/not-yours');
  });

  it('that speaks of what the unit has not, or of one person twice at once, is refused whole', () => {
    const refused = (rotation: Rotation, code: Parameters<Then['thenRefused']>[0]) =>
      given().when(adopts(rotation)).thenRefused(code).thenNothingKept();
    refused(plan(trip('a', 'nobody', 0)), 'worker/unknown');
    refused(plan(trip('a', 'o1', 0)), 'worker/unknown');
    refused(plan(trip('a', 'w1', 0, { room: 'r9' as RoomId })), 'room/unknown');
    refused(plan(trip('a', 'w1', 0, { procedure: 'none' as PlannedTrip['procedure'] })), 'procedure/unknown');
    refused(plan(trip('a', 'w1', 0, { lane: 'l9' as NonNullable<PlannedTrip['lane']> })), 'lane/unknown');
    refused(plan(trip('a', 'w1', 0, { observerDoffing: 'w2' as PlannedTrip['worker'] })), 'observer/unknown');
    refused(plan(trip('a', 'w1', 0), trip('a', 'w2', 0)), 'rotation/not-sound');
    refused(plan(trip('a', 'w1', 0), trip('b', 'w1', 79)), 'rotation/not-sound');
    refused({ ...two, endAt: at(0) }, 'rotation/not-sound');
    given()
      .when(adopts(plan(trip('a', 'w1', 0), trip('b', 'w1', 80))))
      .then('rotation-adopted');
  });

  it('keeps what happened beside each trip, from the call to the last step', () => {
    const story = given(adopts(two), onDuty('o1'), passes(2 * minute), inside('o1', 'w1'), passes(38 * minute));
    expect(real(story.world)?.['a']).toEqual({ entry: 'E5', calledAt: at(2), donnedAt: at(2) });
    const out = story.when(atThreshold('o1', 'w1'), passes(minute), enters('o1', 'w1', 'l1'), doffed('o1', 'w1'));
    expect(real(out)?.['a']).toMatchObject({ leftAt: at(40), doffedAt: at(41) });
    expect(Object.keys(real(out) ?? {})).toEqual(['a']);
  });

  it('a call that is hours from the plan belongs to no trip, and one that comes to nothing frees it again', () => {
    const early = given(adopts(plan(trip('late', 'w1', 120)))).when(called('w1'));
    expect(real(early)).toEqual({});
    const story = given(adopts(two)).when(called('w1'));
    expect(Object.keys(real(story) ?? {})).toEqual(['a']);
    expect(real(story.when(reports('c1', 'cancel-entry', { ...w1, reason: 'no need' })))).toEqual({});
  });

  it('made anew keeps what has happened, and finds whoever is in already', () => {
    const story = given(onDuty('o1'), donned('o1', 'w1'), passes(5 * minute)).when(adopts(two));
    expect(real(story)?.['a']).toMatchObject({ donnedAt: at(0) });
    const again = story.when(adopts(plan(trip('a', 'w1', 0), trip('c', 'w3', 60))));
    expect(Object.keys(real(again) ?? {})).toEqual(['a']);
    const other = story.when(adopts(plan(trip('a', 'w2', 0))));
    expect(real(other)).toEqual({});
  });

  it('says of each trip how it stands', () => {
    const { rotation } = given(adopts(two)).world.state;
    const standing = (minutes: number, is = rotation!) => standingOf(is, is.trips[1]!, at(minutes));
    expect([standing(49), standing(50), standing(55)]).toEqual(['ahead', 'due', 'late']);
    const became = { entry: 'E9' as never, calledAt: at(50) };
    const called_ = { ...rotation!, real: { b: became } };
    expect([standing(60, called_), standing(116, called_)]).toEqual(['under-way', 'over-time']);
    expect(standing(116, { ...rotation!, real: { b: { ...became, leftAt: at(110) } } })).toBe('under-way');
    expect(standing(116, { ...rotation!, real: { b: { ...became, doffedAt: at(115) } } })).toBe('done');
  });
});

describe('a call-out brought forward', () => {
  const working = given(onDuty('o1'), inside('o1', 'w1'));
  const plansAt = (minutes: number | undefined) =>
    reports('c1', 'plan-call-out', {
      ...w1,
      ...(minutes !== undefined && { callOutAt: at(minutes) }),
      reason: 'two exits at once',
    });
  const limitOf = (then: Then) => workerOf(then.state, 'w1').entry?.limit;

  it('moves the call-out and the warning, and not the limit; the observer sees why', () => {
    const moved = working.when(plansAt(30)).then('call-out-planned', 'limit-set');
    expect(limitOf(moved)).toMatchObject({ limitAt: at(60), callOutAt: at(30), warnAt: at(20) });
    expect(workerOf(moved.state, 'w1').callOutPlan).toEqual({ callOutAt: at(30), reason: 'two exits at once' });
    expect(moved.when(passes(30 * minute)).alerts()).toEqual(['call-out:w1 medium coordinator']);
  });

  it('goes back to what the limit says when it is taken back, and ends with the entry', () => {
    const back = working.when(plansAt(30), plansAt(undefined)).then('call-out-planned', 'limit-set');
    expect(limitOf(back)?.callOutAt).toBe(at(45));
    expect(workerOf(back.state, 'w1').callOutPlan).toBeUndefined();
  });

  it('is never later than the limit allows, and stands against later calculations', () => {
    working.when(plansAt(46)).thenRefused('call-out/after-limit');
    const moved = working.when(plansAt(30));
    moved.when(advised('w1', { waitMinutes: 4 })).then();
    const hot = moved.when(advised('w1', { minutes: 35 })).then('limit-set');
    expect(limitOf(hot)?.callOutAt).toBe(at(20));
  });

  it('is for somebody whose call-out is still ahead', () => {
    const early = given(onDuty('o1'), called('w1'), taken('o1', 'w1'));
    early.when(plansAt(30)).thenRefused('worker/elsewhere');
    working.when(reports('c1', 'call-out', w1), plansAt(30)).thenRefused('worker/elsewhere');
  });
});
