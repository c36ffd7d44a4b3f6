import { describe, expect, it } from 'vitest';
import {
  atThreshold,
  called,
  doffed,
  donned,
  dressed,
  enters,
  fallsSilent,
  given,
  inside,
  joins,
  laneOf,
  leaving,
  minute,
  observerOf,
  onDuty,
  openedAt,
  passes,
  reports,
  taken,
  verified,
  type Act,
} from '../support/unit-fixture.ts';

const w1 = { worker: 'w1' };
const emergency = (who: string, worker = 'w1'): Act => reports(who, 'declare-emergency', { worker });

describe('the way out', () => {
  const working = given(onDuty('o1', 'o2'), inside('o1', 'w1'));

  it('is opened by a call-out, from whoever has a screen', () => {
    for (const who of ['c1', 'o2', 's1']) {
      const then = working.when(reports(who, 'call-out', { ...w1, reason: 'time' })).then('called-out');
      expect(then.worker('w1').place).toEqual({ inside: 'leaving' });
    }
  });

  it('is opened once: a second call-out is heard and changes nothing', () => {
    working.when(reports('c1', 'call-out', w1), reports('s1', 'call-out', w1)).then();
  });

  it('leads over the steps at the door', () => {
    working.when(reports('o1', 'leave-room', w1)).thenRefused('worker/elsewhere', /called out/);
    working
      .when(leaving('o1', 'w1'), reports('o1', 'leave-room', w1))
      .thenRefused('step/out-of-order', /emergency exit/);
    working
      .when(leaving('o1', 'w1'), verified('o1', 'w1', 'wipe-gloves'), reports('o1', 'leave-room', w1))
      .then('room-left');
  });

  it('may skip a step at the door if the safety officer says so, with a reason', () => {
    const override = reports('s1', 'override-step', { ...w1, step: 'wipe-gloves', reason: 'the dispenser is empty' });
    working.when(leaving('o1', 'w1'), override, reports('o1', 'leave-room', w1)).then('room-left');
  });

  it('a deviation at the door goes along into the lane, and is put right there before the first step', () => {
    const noted = working.when(
      atThreshold('o1', 'w1').slice(0, -1),
      reports('o1', 'note-deviation', { ...w1, step: 'wipe-gloves', deviationKind: 'too-short' }),
    );
    const { deviation } = noted.fact('deviation-noted').data;
    const correct = reports('o1', 'correct-deviation', { ...w1, deviation });
    noted.when(reports('o1', 'leave-room', w1), correct).thenRefused('worker/elsewhere', /at the doffing threshold/);
    const inLane = noted.when(reports('o1', 'leave-room', w1), enters('o1', 'w1', 'l1'));
    expect(inLane.worker('w1').place).toEqual({ doffing: 'corrective' });
    inLane.when(verified('o1', 'w1', 'clean-gloves')).thenRefused('step/correct-first');
    inLane.when(correct, verified('o1', 'w1', 'clean-gloves')).then('step-verified');
  });

  it('out of the room without a guide is a high alert at once, and ends when somebody takes the worker', () => {
    const alone = working.when(
      reports('c1', 'call-out', w1),
      reports('s1', 'override-step', { ...w1, step: 'wipe-gloves', reason: 'in a hurry' }),
      reports('o2', 'leave-room', w1),
    );
    alone.then('room-left', 'alert-raised');
    expect(alone.alerts()).toEqual(['no-observer:w1 high coordinator']);
    alone.when(taken('o1', 'w1')).then('worker-taken', 'alert-cleared');
  });

  it('frees the place in the room', () => {
    const full = given(onDuty('o1', 'o2'), called('w1'), called('w2'));
    full.when(called('w3')).thenRefused('room/full', /All 2 places of Room 1/);
    full.when(reports('c1', 'cancel-entry', { worker: 'w2', reason: 'not now' }), called('w3')).then('worker-called');
    given(onDuty('o1'), inside('o1', 'w1', 'gown', 'r2'), atThreshold('o1', 'w1'))
      .when(called('w2', 'gown', 'r2'))
      .then('worker-called');
  });
});

describe('turned back at the door', () => {
  it('a worker in equipment goes out through a lane, guided by whoever guided the donning', () => {
    const back = given(onDuty('o1'), donned('o1', 'w1')).when(reports('o1', 'leave-room', w1));
    back.then('worker-released', 'worker-taken', 'room-left');
    expect(back.worker('w1')).toMatchObject({ place: { doffing: 'at-threshold' }, entry: { leftRoomAt: openedAt } });
    expect(observerOf(back.state, 'o1').value).toEqual({ guiding: 'doffing' });
    back.when(enters('o1', 'w1', 'l1'), doffed('o1', 'w1')).then('step-verified', 'lane-left');
  });

  it('an entry can no longer be cancelled once the clock runs', () => {
    given(onDuty('o1'), donned('o1', 'w1'))
      .when(reports('c1', 'cancel-entry', { ...w1, reason: 'not needed' }))
      .thenRefused('worker/elsewhere', /the way out is a lane/);
  });
});

describe('emergency exit', () => {
  const inPpe: Record<string, Act[]> = {
    'at the door': donned('o1', 'w1'),
    inside: inside('o1', 'w1'),
    'leaving, steps at the door not done': [...inside('o1', 'w1'), ...leaving('o1', 'w1')],
    'at the threshold': [...inside('o1', 'w1'), ...atThreshold('o1', 'w1')],
    'in the lane': [...inside('o1', 'w1'), ...atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1')],
    'in the lane with a deviation open': [
      ...inside('o1', 'w1'),
      ...atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
      reports('o1', 'note-deviation', { ...w1, step: 'gown-off', deviationKind: 'torn' }),
    ],
  };

  it.each(Object.entries(inPpe))('%s: one press, by anybody with a screen, and a high alert', (_, acts) => {
    for (const who of ['c1', 'o2', 's1']) {
      const then = given(onDuty('o1', 'o2'), acts).when(emergency(who));
      expect(then.outcome.refusal).toBeUndefined();
      expect(then.worker('w1').entry).toMatchObject({ emergency: true });
      expect(Object.keys(then.worker('w1').place)).toEqual(['doffing']);
      expect(then.alerts()).toContain('emergency-exit:w1 high safety-officer');
      then.when(emergency('s1')).then();
    }
  });

  it.each(['c1', 's1'])('%s presses and nobody is guiding: high alert until somebody watches', (who) => {
    const then = given(onDuty('o1', 'o2'), inside('o1', 'w1')).when(emergency(who));
    then.then('emergency-declared', 'lane-held', 'alert-raised', 'alert-raised');
    expect(then.alerts()).toEqual(['emergency-exit:w1 high safety-officer', 'no-observer:w1 high coordinator']);
    then.when(taken('o2', 'w1')).then('worker-taken', 'alert-cleared');
  });

  it('a free observer who presses has the worker at once', () => {
    const then = given(onDuty('o1', 'o2'), inside('o1', 'w1')).when(emergency('o2'));
    then.then('emergency-declared', 'worker-taken', 'lane-held', 'alert-raised');
    expect(observerOf(then.state, 'o2')).toMatchObject({ value: { guiding: 'doffing' }, context: { worker: 'w1' } });
    expect(then.alerts()).toEqual(['emergency-exit:w1 high safety-officer']);
  });

  it('whoever guided the donning goes on guiding the doffing', () => {
    const then = given(onDuty('o1', 'o2'), donned('o1', 'w1')).when(emergency('o2'));
    then.then('emergency-declared', 'worker-released', 'worker-taken', 'lane-held', 'alert-raised');
    expect(observerOf(then.state, 'o1').value).toEqual({ guiding: 'doffing' });
    expect(observerOf(then.state, 'o2').value).toBe('available');
  });

  it('a guide who does not answer is relieved by the free observer who presses', () => {
    const then = given(onDuty('o1', 'o2'), donned('o1', 'w1'), fallsSilent('o1')).when(emergency('o2'));
    expect(observerOf(then.state, 'o2').context.worker).toBe('w1');
    expect(observerOf(then.state, 'o1').context.worker).toBeUndefined();
    expect(then.alerts()).toEqual(['emergency-exit:w1 high safety-officer', 'tablet-silent:o1 low coordinator']);
  });

  it('an observer who guides, or assists, somebody else keeps them', () => {
    const busy = given(onDuty('o1', 'o2'), inside('o1', 'w1'), donned('o2', 'w2'));
    expect(observerOf(busy.when(emergency('o2')).state, 'o2').context.worker).toBe('w2');
    const assisting = given(
      onDuty('o1', 'o2', 'o3'),
      inside('o1', 'w1'),
      inside('o2', 'w2', 'hood', 'r2'),
      atThreshold('o2', 'w2', 'hood'),
      enters('o2', 'w2', 'l1', 'hood', 'o3'),
    );
    const then = assisting.when(emergency('o3'));
    expect(observerOf(then.state, 'o3').context.worker).toBeUndefined();
    expect(then.alerts()).toContain('no-observer:w1 high coordinator');
  });

  it('takes a lane from somebody who only holds it, who is told by a clash', () => {
    const held = given(
      onDuty('o1', 'o2'),
      inside('o1', 'w1'),
      inside('o2', 'w2', 'gown', 'r2'),
      reports('c1', 'close-lane', { lane: 'l2', reason: 'a spill' }),
      leaving('o2', 'w2'),
      reports('c1', 'hold-lane', { lane: 'l1', worker: 'w2' }),
    );
    const then = held.when(emergency('o1'));
    then.then('emergency-declared', 'worker-taken', 'lane-hold-released', 'lane-held', 'alert-raised', 'alert-raised');
    expect(laneOf(then.state, 'l1').context.worker).toBe('w1');
    expect(then.alerts()).toContain('lane-clash:lanes medium coordinator');
  });

  it('does not take the lane of another emergency', () => {
    const two = given(
      onDuty('o1', 'o2'),
      inside('o1', 'w1'),
      inside('o2', 'w2', 'gown', 'r2'),
      reports('c1', 'close-lane', { lane: 'l2', reason: 'a spill' }),
      emergency('o1', 'w1'),
    );
    const then = two.when(emergency('o2', 'w2'));
    then.then('emergency-declared', 'worker-taken', 'alert-raised', 'alert-raised');
    expect(laneOf(then.state, 'l1').context.worker).toBe('w1');
    expect(then.alerts()).toContain('lane-clash:lanes high coordinator');
  });

  it('may step into any lane that nobody is in, ready or not: turnover and closed ones too', () => {
    const two = given(
      onDuty('o1', 'o2'),
      inside('o1', 'w1'),
      inside('o2', 'w2', 'gown', 'r2'),
      atThreshold('o2', 'w2'),
      enters('o2', 'w2', 'l1'),
      reports('c1', 'close-lane', { lane: 'l2', reason: 'a spill' }),
      emergency('o1', 'w1'),
    );
    const into = (lane: string) => reports('o1', 'enter-lane', { ...w1, lane, confirmed: [] });
    two.when(into('l1')).thenRefused('lane/not-free', /occupied/);
    two.when(into('l9')).thenRefused('lane/unknown');
    two.when(into('l2')).then('lane-entered', 'alert-cleared');
    two.when(doffed('o2', 'w2'), into('l1')).then('lane-entered', 'alert-cleared');
  });

  it('without it, turnover and closed lanes stay shut', () => {
    const two = given(
      onDuty('o1', 'o2'),
      inside('o1', 'w1'),
      atThreshold('o1', 'w1'),
      reports('c1', 'close-lane', { lane: 'l2', reason: 'a spill' }),
      reports('c1', 'close-lane', { lane: 'l1', reason: 'a spill' }),
      reports('c1', 'reopen-lane', { lane: 'l1' }),
    );
    two.when(enters('o1', 'w1', 'l1')).thenRefused('lane/not-free', /turnover/);
    two.when(enters('o1', 'w1', 'l2')).thenRefused('lane/not-free', /closed/);
  });

  it('of an ensemble that needs an assistant needs none', () => {
    given(onDuty('o1'), inside('o1', 'w1', 'hood'), emergency('o1'))
      .when(reports('o1', 'enter-lane', { ...w1, lane: 'l1', confirmed: [] }))
      .then('lane-entered');
  });

  it('still verifies every step, and is over with the last one', () => {
    const out = given(onDuty('o1'), inside('o1', 'w1'), emergency('o1'), enters('o1', 'w1', 'l1'));
    out.when(verified('o1', 'w1', 'gown-off')).thenRefused('step/out-of-order');
    const then = out.when(doffed('o1', 'w1')).then('step-verified', 'lane-left', 'alert-cleared');
    expect(then.alerts()).toEqual([]);
  });

  it('is for workers in equipment: before that the entry is cancelled', () => {
    given(onDuty('o1'), dressed('o1', 'w1'))
      .when(emergency('c1'))
      .thenRefused('worker/elsewhere', /cancel the entry/);
    given(onDuty('o1')).when(emergency('c1')).thenRefused('worker/elsewhere');
    given(onDuty('o1')).when(emergency('c1', 'nobody')).thenRefused('worker/unknown');
  });

  it('is not refused for a tablet whose clock runs ahead, nor for one that has seen what the log has lost', () => {
    const working = given(onDuty('o1'), inside('o1', 'w1'), passes(minute));
    const ahead = working.when(reports('c1', 'declare-emergency', w1, { agoMs: -10 * minute, basedOn: 9_999 }));
    const fact = ahead.fact('emergency-declared');
    expect([fact.at, fact.claimedAt]).toEqual([openedAt + minute, openedAt + 11 * minute]);
  });

  it('no role, no screen: a wall shows, and a person who is not on the roster is nobody', () => {
    const working = given(onDuty('o1'), inside('o1', 'w1'), joins('c1', 'wall', 'wall-1'));
    working.when(reports('c1', 'declare-emergency', w1, { role: 'wall' })).thenRefused('rights/not-yours');
    working.when(reports('nobody', 'declare-emergency', w1)).thenRefused('session/unknown-person');
    working.when(reports('w2', 'declare-emergency', w1, { role: 'coordinator' })).thenRefused('session/role-not-held');
  });
});
