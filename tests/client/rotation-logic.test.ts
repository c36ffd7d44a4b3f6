import { describe, expect, it } from 'vitest';
import type { PlannedTrip, Rotation } from '../../machines/unit/rotation.ts';
import { lanePlan } from '../../client/board/lane-view.ts';
import { withPlanned } from '../../client/rotation/expected-spans.ts';
import { floorNames } from '../../client/board/floor-names.ts';
import type { PlanAnswer } from '../../client/rotation/answers.ts';
import { clashesOf, clashWords } from '../../client/rotation/clashes.ts';
import { gapsOf } from '../../client/rotation/coverage.ts';
import {
  edited,
  mayMove,
  movedTo,
  noEdits,
  slotsOfKey,
  stayingTrips,
  withLock,
  withMove,
  withoutMove,
} from '../../client/rotation/editing.ts';
import { nextWords } from '../../client/rotation/next.ts';
import { readTyped, typedAtFirst } from '../../client/rotation/question.ts';
import { changeWords, departureWords, qualityWords, standingWords } from '../../client/rotation/said.ts';
import { timelineOf } from '../../client/rotation/timeline.ts';
import { timesOf } from '../../client/rotation/times.ts';
import { wallClock } from '../../client/board/clock.ts';
import { plannedFor, rotationRules } from '../support/rotation-fixture.ts';
import { given, minute, onDuty, openedAt, opening, passes, reports, unitChanges } from '../support/unit-fixture.ts';

const at = (minutes: number) => openedAt + minutes * minute;
const clock = (minutes: number) => wallClock(at(minutes));
const l2 = { lane: 'l2' } as Partial<PlannedTrip>;
const rotation: Rotation = {
  ...{ startAt: openedAt, endAt: at(240), breaks: [] },
  trips: [plannedFor('w1', 0), plannedFor('w2', 35, l2), plannedFor('w3', 80)],
  staffInside: { r1: 1 } as Rotation['staffInside'],
  quality: { objective: 10, lowerBound: 9, gapPct: 10 },
};
const opened = opening((unit) => ({ ...unit, rules: { ...unit.rules, rotation: rotationRules } }));
const story = (...acts: Parameters<typeof given>) =>
  given(
    unitChanges(() => opened),
    onDuty('o1'),
    ...acts,
  ).world;
const adopts = reports('c1', 'adopt-rotation', { rotation });
const { rules } = story().state;
const times = timesOf(rules);
const names = floorNames(rules, (id) => `Name of ${id}`);
const second = rotation.trips[1]!;

describe('the timeline', () => {
  const timeline = timelineOf(rotation, rules, times);
  it('has a row for everybody who has a trip, whoever goes first on top, and every stage in its place', () => {
    expect(timeline.workers.map(({ id }) => id)).toEqual(['w1', 'w2', 'w3']);
    const [first] = timeline.workers[0]!.trips;
    expect(first?.stages.map(({ kind }) => kind)).toEqual(['donning', 'inside', 'doffing', 'check', 'rest']);
    expect(first?.start).toBe(0);
    expect(first?.stages.reduce((sum, { length }) => sum + length, 0)).toBeCloseTo(1, 5);
  });
  it('has every lane with its turnover, and who watches whom', () => {
    expect(timeline.lanes.map(({ id, bars }) => [id, bars.map(({ kind }) => kind)])).toEqual([
      ['l1', ['doffing', 'turnover', 'doffing', 'turnover']],
      ['l2', ['doffing', 'turnover']],
    ]);
    expect(timeline.observers.map(({ id, bars }) => [id, bars.length])).toEqual([['o1', 6]]);
  });
  it('leaves out what lies outside', () => {
    const late = { ...rotation, trips: [plannedFor('w1', 300)] };
    expect(timelineOf(late, rules, times).workers[0]?.trips).toEqual([]);
  });
});

describe('coverage', () => {
  it('counts somebody once the handover is over, and says how many are missing when', () => {
    const gaps = gapsOf(rotation, 'r1' as never, times);
    // w1 covers 10 to 45, w2 45 to 80, w3 90 to 125.
    expect(
      gaps.map(({ from, to, missing }) => [(from - openedAt) / minute, (to - openedAt) / minute, missing]),
    ).toEqual([
      [0, 10, 1],
      [80, 90, 1],
      [125, 240, 1],
    ]);
    expect(gapsOf(rotation, 'r2' as never, times)).toEqual([]);
  });
});

describe('moving a trip', () => {
  it('goes by slots, stays inside the rotation and after now, and can be taken back', () => {
    expect(movedTo(rotation, at(42), at(0))).toBe(at(40));
    expect(movedTo(rotation, at(-60), at(12))).toBe(at(15));
    expect(movedTo(rotation, at(900), at(0))).toBe(at(235));
    const moved = withMove(noEdits, rotation, second.id, at(40));
    expect(edited(rotation, moved).trips[1]?.donningAt).toBe(at(40));
    expect(withMove(moved, rotation, second.id, at(35))).toEqual(noEdits);
    expect(withoutMove(moved, second.id)).toEqual(noEdits);
    expect(['ArrowLeft', 'ArrowRight', 'Tab'].map(slotsOfKey)).toEqual([-1, 1, 0]);
  });
  it('is for what is ahead and not locked', () => {
    expect(mayMove(second, {}, at(0))).toEqual({ may: true });
    expect(mayMove(second, {}, at(36))).toEqual({ may: false, because: 'begun' });
    expect(mayMove({ ...second, locked: true }, {}, at(0))).toEqual({ may: false, because: 'stays' });
  });
  it('makes what was proven about the plan no longer proven; locking does not', () => {
    expect(edited(rotation, withMove(noEdits, rotation, second.id, at(40))).quality).toBeUndefined();
    const locked = withLock(noEdits, second.id, true);
    expect(edited(rotation, locked)).toEqual({
      ...rotation,
      trips: rotation.trips.map((trip) => (trip === second ? { ...trip, locked: true } : trip)),
    });
    expect(edited(edited(rotation, locked), withLock(noEdits, second.id, false))).toEqual(rotation);
  });
  it('what is locked or was moved is planned around, as long as it is ahead', () => {
    const edits = withLock(withMove(noEdits, rotation, second.id, at(40)), 'w3-80', true);
    const shown = edited(rotation, edits);
    const ids = (minutes: number) =>
      stayingTrips(shown, edits, 'gown', at(minutes)).map(({ id, locked }) => [id, locked]);
    expect(ids(0)).toEqual([
      ['w2-35', true],
      ['w3-80', true],
    ]);
    expect(ids(50)).toEqual([['w3-80', true]]);
    expect(stayingTrips(shown, edits, 'hood', at(0))).toEqual([]);
  });
});

describe('what a trip gets in the way of', () => {
  const said = (trip: PlannedTrip, others: PlannedTrip[], breaks: Rotation['breaks'] = []) =>
    clashesOf(trip, { ...rotation, trips: [trip, ...others], breaks }, times, rules).map((one) =>
      clashWords(one, trip, names),
    );

  it('nothing, where it fits', () => {
    expect(said(plannedFor('w1', 0), [plannedFor('w2', 35, l2)])).toEqual([]);
  });
  it('its own worker, the lane, the observer, a break and a full room, each in words', () => {
    const own = plannedFor('w1', 0);
    const o2 = { observerDonning: 'o2', observerDoffing: 'o2' } as Partial<PlannedTrip>;
    expect(said(own, [plannedFor('w1', 70, { ...l2, ...o2 })])).toHaveLength(1);
    expect(said(own, [plannedFor('w2', 10, o2)])).toEqual([
      `Lane 1 is taken by Name of w2 ${clock(55)} to ${clock(75)}`,
    ]);
    expect(said(own, [plannedFor('w2', 0, { ...l2, insideMinutes: 20, observerDoffing: 'o2' as never })])).toEqual([
      `Name of o1 watches Name of w2 ${clock(0)} to ${clock(5)}`,
    ]);
    expect(said(own, [], [{ observer: 'o1' as never, at: at(50), minutes: 20 }])).toEqual([
      `Name of o1 has a break ${clock(50)} to ${clock(70)}`,
    ]);
    const inRoom2 = { room: 'r2' as never };
    const crowd = [plannedFor('w2', 10, { ...inRoom2, ...l2, ...o2, insideMinutes: 50 })];
    expect(said({ ...own, ...inRoom2 }, crowd)).toEqual([`Room 2 would be too full ${clock(15)} to ${clock(45)}`]);
  });
});

describe('in words', () => {
  const plan: PlanAnswer = { id: 'p', status: 'finished', seconds: 10, secondsSoFar: 10, whatIf: false, notKept: [] };
  it('how good a plan is: never better than it is', () => {
    expect(qualityWords({ ...plan, gapPct: 0 })).toBe('proven best');
    expect(qualityWords({ ...plan, gapPct: 0.51 })).toBe('within 0.6 % of the best possible');
    expect(qualityWords({ ...plan, gapPct: 0.6 })).toBe('within 0.6 % of the best possible');
    expect(qualityWords({ ...plan, gapPct: 99 })).toBe('how close it is to the best possible is not proven');
    expect(qualityWords({ ...plan, status: 'planning', gapPct: 12, boundSource: 'closed form' })).toBe('bound pending');
    expect(qualityWords({ ...plan, status: 'planning' })).toBe('no plan yet');
  });
  it('a change and why', () => {
    const after = { ...second, donningAt: at(45) };
    expect(changeWords({ trip: second.id, what: 'moved', before: second, after }, names)).toBe(
      `Name of w2 moves from ${clock(35)} to ${clock(45)}`,
    );
    expect(departureWords({ kind: 'lane-closed', lane: 'l1' as never }, names)).toBe('Lane 1 is closed');
  });
  it('a lane of the hour ahead has what is planned beside who is there', () => {
    const { state } = story(adopts);
    const spans = withPlanned(lanePlan(state, at(0)), state, at(0)).lines.map(({ lane, spans: all }) => [
      lane,
      all.map((span) => [span.worker, span.planned, (span.from - openedAt) / minute, span.from - span.wanted]),
    ]);
    expect(spans).toEqual([
      [
        'l1',
        [
          ['w1', true, 45, 0],
          ['w3', true, 125, 0],
        ],
      ],
      ['l2', [['w2', true, 80, 0]]],
    ]);
    const plain = story().state;
    expect(withPlanned(lanePlan(plain, at(0)), plain, at(0))).toEqual(lanePlan(plain, at(0)));
  });
  it('reality against the plan, and who is next', () => {
    const { state } = story(adopts);
    const standing = (minutes: number) => standingWords(state.rotation!, state.rotation!.trips[1]!, at(minutes));
    expect([standing(0), standing(36), standing(47)]).toEqual([`ahead, ${clock(35)}`, 'due now', 'late by 12 min']);
    expect(nextWords(state, names.person, at(0))?.said).toBe(`next: Name of w1 ${clock(0)}`);
    expect(nextWords(story().state, names.person, at(0))).toBeUndefined();
    expect(
      nextWords(
        story(adopts, passes(minute), reports('c1', 'drop-rotation', { reason: 'new plan' })).state,
        names.person,
        at(1),
      ),
    ).toBeUndefined();
  });
});

describe('the question', () => {
  const typed = typedAtFirst(story().state);
  it('begins with one person in each room, and is asked as typed', () => {
    expect(readTyped(typed)).toEqual({
      ok: true,
      question: { hours: 8, seconds: 10, procedure: 'gown', observers: 'roster', staffInside: { r1: 1, r2: 1 } },
    });
    const whatIf = { observersLess: 1, lanesMore: 0, doffingLongerPct: 20 };
    expect(readTyped({ ...typed, observersLess: '1', doffingLongerPct: '20' })).toMatchObject({
      ok: true,
      question: { whatIf },
    });
  });
  it('names what will not do', () => {
    expect(readTyped({ ...typed, hours: '3', seconds: 'x' })).toEqual({
      ok: false,
      wrong: ['hours', 'seconds'],
      nobody: false,
    });
    expect(readTyped({ ...typed, staff: {} })).toEqual({ ok: false, wrong: [], nobody: true });
  });
});
