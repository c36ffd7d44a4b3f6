import { describe, expect, it } from 'vitest';
import { acceptTime } from '../../machines/unit/accept.ts';
import { deadlines } from '../../machines/unit/deadlines.ts';
import { foldAll } from '../../machines/unit/fold.ts';
import type { AlertId } from '../../machines/wire/ids.ts';
import {
  atThreshold,
  called,
  doffed,
  donned,
  enters,
  given,
  inside,
  laneOf,
  leaving,
  minute,
  onDuty,
  openAlerts,
  openedAt,
  passes,
  reports,
  second,
  trip,
  unwatched,
  vitals,
  workerOf,
  type Given,
  type Then,
} from '../support/unit-fixture.ts';

const w1 = { worker: 'w1' };
const day = 24 * 60 * minute;
const onlyAlert = (then: Then) => Object.values(then.state.alerts)[0]!.context;

describe('the limit', () => {
  const working = given(onDuty('o1'), inside('o1', 'w1'));

  it('approaching, call-out, reached: each takes the place of the milder one, at its own time', () => {
    const near = working.when(passes(35 * minute)).then('alert-raised');
    expect(near.alerts()).toEqual(['limit-approaching:w1 low observer']);
    const call = near.when(passes(10 * minute)).then('alert-cleared', 'alert-raised');
    expect(call.alerts()).toEqual(['call-out:w1 medium coordinator']);
    expect(call.fact('alert-cleared').data.reason).toBe('a worse alert took its place: call-out');
    const reached = call.when(passes(15 * minute));
    reached.then('alert-cleared', 'alert-raised');
    expect(reached.alerts()).toEqual(['limit-reached:w1 high coordinator']);
    expect(onlyAlert(reached).since).toBe(openedAt + 60 * minute);
    expect(onlyAlert(reached).because).toMatch(/60 min is reached \(the rule for this ensemble\)/);
  });

  it('is ahead one deadline at a time, to the millisecond', () => {
    const next = ({ world }: Given) => deadlines(world.state)[0];
    expect(next(working)).toEqual({ at: openedAt + 35 * minute, what: 'limit-approaching', subject: 'w1' });
    expect(acceptTime(working.world.state, openedAt + 35 * minute - 1).facts).toEqual([]);
    const near = given(onDuty('o1'), inside('o1', 'w1'), passes(35 * minute));
    expect(next(near)).toMatchObject({ at: openedAt + 45 * minute, what: 'call-out' });
  });

  it('somebody on the way out needs no more calling, but the limit still counts', () => {
    const out = working.when(passes(45 * minute), reports('c1', 'call-out', w1)).then('called-out', 'alert-cleared');
    expect(out.fact('alert-cleared').data.reason).toBe('its cause is over');
    expect(deadlines(out.state)).toEqual([{ at: openedAt + 60 * minute, what: 'limit-reached', subject: 'w1' }]);
    expect(out.when(passes(15 * minute)).alerts()).toEqual(['limit-reached:w1 high coordinator']);
  });

  it('reached in the lane is high until the last step is done', () => {
    const late = given(
      onDuty('o1'),
      inside('o1', 'w1'),
      passes(50 * minute),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
    );
    const reached = late.when(passes(10 * minute)).then('alert-raised');
    reached.when(doffed('o1', 'w1')).then('step-verified', 'lane-left', 'alert-cleared');
  });

  it('counts from the inspection, waiting at the door included', () => {
    expect(
      given(onDuty('o1'), donned('o1', 'w1'))
        .when(passes(60 * minute))
        .alerts(),
    ).toEqual(['limit-reached:w1 high coordinator']);
  });

  it('on record late counts from when it was seen: what is overdue is raised at once', () => {
    const all = donned('o1', 'w1');
    const late = given(onDuty('o1'), all.slice(0, -1), unwatched(50 * minute)).when(
      reports('o1', 'pass-inspection', w1, { agoMs: 50 * minute }),
    );
    late.then('inspection-passed', 'limit-set', 'alert-raised');
    expect(late.alerts()).toEqual(['call-out:w1 medium coordinator']);
  });
});

describe('escalation', () => {
  const reached = given(
    onDuty('o1'),
    inside('o1', 'w1'),
    passes(35 * minute),
    passes(10 * minute),
    passes(15 * minute),
  );
  const level = ({ state }: Then) => onlyAlert({ state } as Then).level;

  it('an unanswered high alert climbs on the timetable: coordinator, safety officer, everyone', () => {
    expect(openAlerts(reached.world.state)).toEqual(['limit-reached:w1 high coordinator']);
    reached.when(passes(59 * second)).then();
    const officer = reached.when(passes(60 * second)).then('alert-escalated');
    expect(level(officer)).toBe('safety-officer');
    const everyone = officer.when(passes(120 * second)).then('alert-escalated');
    expect(level(everyone)).toBe('everyone');
    everyone.when(passes(60 * minute)).then();
  });

  it('starts with the observer after 10 seconds, and a medium one ends at the safety officer', () => {
    const medium = given(
      onDuty('o1'),
      inside('o1', 'w1'),
      leaving('o1', 'w1'),
      reports('o1', 'note-deviation', { ...w1, step: 'wipe-gloves', deviationKind: 'missed' }),
    );
    medium.when(passes(9 * second)).then();
    const then = medium.when(passes(10 * second)).then('alert-escalated');
    expect(level(then)).toBe('coordinator');
    expect(level(then.when(passes(50 * second)).then('alert-escalated'))).toBe('safety-officer');
    then.when(passes(50 * second), passes(30 * minute)).then();
  });

  it('a low alert does not climb', () => {
    const low = given(onDuty('o1'), inside('o1', 'w1')).when(passes(35 * minute));
    low.when(passes(9 * minute)).then();
  });

  it('an answer stops the climb; the alert stays until its cause is over', () => {
    const id = Object.keys(reached.world.state.alerts)[0] as AlertId;
    const answered = reached.when(reports('c1', 'acknowledge-alert', { alert: id })).then('alert-acknowledged');
    answered.when(reports('s1', 'acknowledge-alert', { alert: id })).thenRefused('alert/answered');
    const later = answered.when(passes(10 * minute)).then();
    expect(later.alerts()).toEqual(['limit-reached:w1 high coordinator']);
    expect(onlyAlert(later)).toMatchObject({ acknowledgedBy: 'c1', acknowledgedAt: openedAt + 60 * minute });
  });

  it('an answered alert that becomes worse asks again', () => {
    const call = given(onDuty('o1'), inside('o1', 'w1'), passes(45 * minute));
    const id = Object.keys(call.world.state.alerts)[0] as AlertId;
    const worse = call.when(reports('c1', 'acknowledge-alert', { alert: id }), passes(15 * minute));
    worse.then('alert-cleared', 'alert-raised');
    expect(Object.values(worse.state.alerts)[0]?.value).toBe('unanswered');
  });

  it('is told once per screen', () => {
    const alert = Object.keys(reached.world.state.alerts)[0] as AlertId;
    const told = reached.when(reports('c1', 'tell-alert', { alert })).then('alert-told');
    told.when(reports('c1', 'tell-alert', { alert })).then();
    told.when(reports('o1', 'tell-alert', { alert })).then('alert-told');
  });

  it('a restart finds the same: settling twice is settling once, and a long silence is made up for step by step', () => {
    const asleep = given(onDuty('o1'), inside('o1', 'w1'), unwatched(61 * minute));
    const woken = asleep.when(passes(0));
    woken.then('alert-raised');
    const later = woken.when(unwatched(4 * minute), passes(0)).then('alert-escalated', 'alert-escalated');
    expect(later.outcome.facts.map((fact) => fact.at - openedAt - 61 * minute)).toEqual([minute, 3 * minute]);
    later.when(passes(0)).then();
    expect(foldAll(undefined, later.outcome.world.log)).toEqual(later.state);
  });

  it('a report that changes nothing writes nothing: what is due is left to the watch', () => {
    given(onDuty('o1'), inside('o1', 'w1'), reports('c1', 'call-out', w1), unwatched(60 * minute))
      .when(reports('s1', 'call-out', w1))
      .then();
  });

  it('what is due comes before the report that arrives with it', () => {
    const asleep = given(onDuty('o1'), inside('o1', 'w1'), unwatched(45 * minute));
    asleep.when(reports('c1', 'call-out', w1)).then('alert-raised', 'called-out', 'alert-cleared');
    const alert = Object.keys(
      given(onDuty('o1'), inside('o1', 'w1'), passes(45 * minute)).world.state.alerts,
    )[0] as AlertId;
    given(onDuty('o1'), inside('o1', 'w1'), passes(45 * minute), unwatched(15 * minute))
      .when(reports('s1', 'clear-alert', { alert, reason: 'enough' }))
      .thenRefused('alert/unknown', /a worse one took its place/);
  });
});

describe('rest', () => {
  const resting = given(onDuty('o1'), trip('o1', 'w1', 'l1', 20 * minute));
  const again = (despiteRest?: string) =>
    reports('c1', 'call-worker', { ...w1, room: 'r1', procedure: 'gown', ...(despiteRest && { despiteRest }) });

  it('is not cut short by accident', () => {
    resting.when(passes(12 * minute), again()).thenRefused('worker/resting', /The rest has 19 min to go/);
  });

  it('may be cut short with a reason, which the safety officer is alerted to until they have seen to it', () => {
    const cut = resting
      .when(passes(12 * minute), again('nobody else is trained'))
      .then('worker-called', 'alert-raised');
    expect(cut.fact('worker-called').data.restCutShort).toEqual({ minutesLeft: 19, reason: 'nobody else is trained' });
    expect(cut.alerts()).toEqual(['rest-too-short:w1 medium safety-officer']);
    const alert = onlyAlert(cut).id;
    const settled = cut.when(reports('s1', 'clear-alert', { alert, reason: 'spoke with them' })).then('alert-cleared');
    settled.when(passes(minute)).then();
    expect(settled.state.settled).toEqual(['rest-too-short:w1']);
    // Settled for this entry, not for the next.
    expect(settled.when(reports('c1', 'cancel-entry', { ...w1, reason: 'no' })).state.settled).toEqual([]);
  });

  it('goes on after a cancelled call: calling and cancelling gives no rest away', () => {
    const cancelled = resting.when(
      passes(12 * minute),
      again('in a hurry'),
      reports('c1', 'cancel-entry', { ...w1, reason: 'not needed' }),
    );
    cancelled.then('entry-cancelled', 'alert-cleared');
    expect(cancelled.worker('w1').place).toEqual({ rest: 'recovering' });
    cancelled.when(again()).thenRefused('worker/resting', /19 min to go/);
    cancelled.when(passes(19 * minute), again()).then('worker-called');
  });

  it('that ran out during a cancelled call is over, and no fact goes back in time', () => {
    const cancelled = resting.when(
      passes(29 * minute),
      again('in a hurry'),
      passes(10 * minute),
      reports('c1', 'cancel-entry', { ...w1, reason: 'not needed' }),
    );
    cancelled.then('entry-cancelled', 'rest-ended', 'alert-cleared').when(again()).then('worker-called');
    expect(cancelled.fact('rest-ended').at).toBe(cancelled.fact('entry-cancelled').at);
  });

  it('is over when its time is, whether or not anybody has looked', () => {
    resting.when(unwatched(31 * minute), again()).then('rest-ended', 'worker-called');
    expect(
      resting.when(unwatched(31 * minute), again('why not')).fact('worker-called').data.restCutShort,
    ).toBeUndefined();
    resting.when(passes(30 * minute)).then();
    resting.when(passes(30 * minute + 1)).then('rest-ended');
    const noted = resting.when(
      unwatched(31 * minute),
      reports('c1', 'declare-breach', { ...w1, breachKind: 'splash' }),
    );
    noted.then('rest-ended', 'breach-declared', 'alert-raised');
    expect(noted.fact('rest-ended').at).toBeLessThan(noted.fact('breach-declared').at);
  });
});

describe('the day', () => {
  const trips = (count: number, minutes: number) =>
    Array.from({ length: count }, () => [
      ...trip('o1', 'w1', 'l1', minutes * minute),
      passes(61 * minute),
      reports('c1', 'clear-lane', { lane: 'l1' }),
    ]);

  it('allows so many entries', () => {
    const full = given(onDuty('o1'), trips(3, 20));
    full.when(called('w1')).thenRefused('worker/day-is-full', /3 entries and 60 min .* allows 3 and 150 min/);
    full.when(passes(day), called('w1')).then('worker-called');
  });

  it('allows so many minutes, and what is left of them is the limit if it is less', () => {
    const tired = given(onDuty('o1'), trips(2, 58));
    const limit = tired.when(donned('o1', 'w1')).fact('limit-set');
    expect(limit.data).toMatchObject({ minutes: 34, reason: "34 min are left of today's 150 min in PPE" });
    given(onDuty('o1'), trips(2, 75)).when(called('w1')).thenRefused('worker/day-is-full');
  });

  it('a limit too short for doffing calls out at once, and never before the clock', () => {
    const short = given(onDuty('o1'), trips(2, 70)).when(donned('o1', 'w1'));
    const { limitAt, callOutAt, warnAt, minutes } = short.fact('limit-set').data;
    const at = short.fact('inspection-passed').at;
    expect([minutes, limitAt - at, callOutAt - at, warnAt - at]).toEqual([10, 10 * minute, 0, 0]);
    expect(short.alerts()).toEqual(['call-out:w1 medium coordinator']);
  });
});

describe('qualifications', () => {
  const call = (worker: string, procedure: string) => reports('c1', 'call-worker', { worker, room: 'r1', procedure });

  it('a tight-fitting respirator needs a fit test in date, a powered hood does not', () => {
    given()
      .when(call('w-old-fit', 'gown'))
      .thenRefused('qualification/fit-test', /older than 365 days/);
    given().when(call('w-old-fit', 'hood')).then('worker-called');
  });

  it('every procedure needs its own competency, in date', () => {
    given()
      .when(call('w-untrained', 'gown'))
      .thenRefused('qualification/competency', /older than 90 days/);
    given()
      .when(call('w-untrained', 'hood'))
      .thenRefused('qualification/competency', /No competency/);
  });

  it('run out while the unit is open', () => {
    // Both are of ten days before the opening, and dates begin at midnight: eight hours before the unit's first fact.
    const after = (days: number, ms: number) => unwatched((days - 10) * day - 8 * 60 * minute + ms);
    given().when(after(90, 0), call('w1', 'gown')).then('worker-called');
    given().when(after(90, 1), call('w1', 'gown')).thenRefused('qualification/competency');
    given().when(after(365, 0), call('w1', 'gown')).thenRefused('qualification/competency');
    given().when(after(365, 1), call('w1', 'gown')).thenRefused('qualification/fit-test');
  });

  it('rooms, procedures and people that are not there', () => {
    given().when(call('w1', 'none')).thenRefused('procedure/unknown');
    given()
      .when(called('w1', 'gown', 'r9'))
      .thenRefused('room/unknown');
    given().when(call('nobody', 'gown')).thenRefused('worker/unknown');
    given().when(call('o1', 'gown')).thenRefused('worker/not-a-worker');
    given()
      .when(reports('c1', 'call-worker', { ...w1, room: 'r1', procedure: 'gown', observer: 'c1' }))
      .thenRefused('observer/unknown');
  });

  it('a person can be stood down while resting or ready, not in the middle of an entry', () => {
    const down = (worker: string) => reports('c1', 'stand-down', { worker, reason: 'unwell' });
    given().when(down('w1')).then('stood-down').when(down('w1')).then();
    given(down('w1'))
      .when(called('w1'))
      .thenRefused('worker/stood-down', /unwell/);
    given(onDuty('o1'), trip('o1', 'w1', 'l1', minute), down('w1'))
      .when(called('w1'))
      .thenRefused('worker/stood-down', /unwell/);
    const lift = (worker: string) => reports('s1', 'lift-stand-down', { worker, reason: 'well again' });
    given().when(lift('nobody')).thenRefused('worker/unknown');
    given()
      .when(lift('w1'))
      .thenRefused('worker/elsewhere', /not stood down/);
    given().when(down('nobody')).thenRefused('worker/unknown');
    given(called('w1'))
      .when(down('w1'))
      .thenRefused('worker/elsewhere', /cancel the entry/);
    given(onDuty('o1'), inside('o1', 'w1')).when(down('w1')).thenRefused('worker/elsewhere');
    given(onDuty('o1'), trip('o1', 'w1', 'l1', minute).slice(0, -1))
      .when(down('w1'))
      .thenRefused('worker/elsewhere');
    given(onDuty('o1'), trip('o1', 'w1', 'l1', minute))
      .when(down('w1'))
      .then('stood-down');
  });
});

describe('a whole shift at one lane', () => {
  it('ends with nobody in it and nothing open', () => {
    const story = given(onDuty('o1', 'o2')).when(
      trip('o1', 'w1', 'l1', 30 * minute),
      trip('o2', 'w2', 'l2', 30 * minute),
      passes(10 * minute),
      ['l1', 'l2'].map((lane) => reports('c1', 'clear-lane', { lane })),
    );
    expect(['l1', 'l2'].map((lane) => laneOf(story.state, lane).value)).toEqual(['free', 'free']);
    expect([story.alerts(), workerOf(story.state, 'w2').entry, vitals]).toEqual([[], undefined, vitals]);
  });
});
