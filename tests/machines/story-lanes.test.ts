import { describe, expect, it } from 'vitest';
import { waitingForLane } from '../../machines/unit/questions.ts';
import {
  atThreshold,
  doffed,
  enters,
  given,
  inside,
  laneOf,
  leaving,
  minute,
  onDuty,
  openedAt,
  passes,
  reports,
  second,
  type Act,
} from '../support/unit-fixture.ts';

const hold = (lane: string, worker: string): Act => reports('c1', 'hold-lane', { lane, worker });
const close = (lane: string): Act => reports('c1', 'close-lane', { lane, reason: 'a spill' });
const clear = (lane: string): Act => reports('c1', 'clear-lane', { lane });
const twoInside = [...onDuty('o1', 'o2'), ...inside('o1', 'w1'), ...inside('o2', 'w2', 'gown', 'r2')];

describe('holding a lane', () => {
  const two = given(twoInside);

  it('is for workers in equipment without a lane', () => {
    two.when(hold('l1', 'w1')).then('lane-held');
    two.when(hold('l1', 'w3')).thenRefused('worker/elsewhere');
    two.when(atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1'), hold('l2', 'w1')).thenRefused('worker/elsewhere');
    two.when(hold('l9', 'w1')).thenRefused('lane/unknown');
  });

  it('keeps others out', () => {
    const held = two.when(hold('l1', 'w1'));
    held.when(hold('l1', 'w2')).thenRefused('lane/not-free', /held/);
    held
      .when(atThreshold('o2', 'w2'), enters('o2', 'w2', 'l1'))
      .thenRefused('lane/not-free', /Lane "l2" may be entered/);
  });

  it('nobody holds two lanes: a second hold gives the first back', () => {
    const moved = two.when(hold('l1', 'w1'), hold('l2', 'w1')).then('lane-hold-released', 'lane-held');
    expect([laneOf(moved.state, 'l1').value, laneOf(moved.state, 'l2').value]).toEqual(['free', 'held']);
    two.when(hold('l1', 'w1'), hold('l1', 'w1')).then();
  });

  it('is given back when the worker steps into another lane', () => {
    two
      .when(hold('l1', 'w1'), atThreshold('o1', 'w1'), enters('o1', 'w1', 'l2'))
      .then('lane-hold-released', 'lane-entered');
  });

  it('may be released, and only a hold can be', () => {
    two.when(hold('l1', 'w1'), reports('c1', 'release-lane-hold', { lane: 'l1' })).then('lane-hold-released');
    two.when(reports('c1', 'release-lane-hold', { lane: 'l1' })).thenRefused('lane/not-free');
    two.when(reports('c1', 'release-lane-hold', { lane: 'l9' })).thenRefused('lane/unknown');
  });

  it('ends when the lane is closed', () => {
    const closed = two.when(hold('l1', 'w1'), close('l1')).then('lane-closed');
    expect(laneOf(closed.state, 'l1').context.worker).toBeUndefined();
  });
});

describe('turnover', () => {
  const after = given(twoInside, atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1'), doffed('o1', 'w1'));

  it('has its contact time, and is declared clear by a person, never by the clock', () => {
    after.when(passes(10 * minute - second), clear('l1')).thenRefused('lane/contact-time', /1 min to go/);
    const waited = after.when(passes(60 * minute));
    expect(laneOf(waited.state, 'l1').value).toBe('turnover');
    after.when(passes(10 * minute), clear('l1')).then('lane-cleared');
  });

  it('keeps everybody out meanwhile', () => {
    after.when(atThreshold('o2', 'w2'), enters('o2', 'w2', 'l1')).thenRefused('lane/not-free', /turnover/);
  });

  it('is whole milliseconds, whatever the settings say', () => {
    const other = given(twoInside, atThreshold('o1', 'w1'), enters('o1', 'w1', 'l2')).when(doffed('o1', 'w1'));
    expect(other.fact('lane-left').data.turnoverUntil).toBe(openedAt + 450_001);
  });

  it('an observer may declare it clear too', () => {
    after.when(passes(10 * minute), reports('o2', 'clear-lane', { lane: 'l1' })).then('lane-cleared');
  });
});

describe('closing and reopening', () => {
  it('a reopened lane is cleaned before anybody uses it', () => {
    const reopened = given(onDuty('o1'), close('l1')).when(reports('c1', 'reopen-lane', { lane: 'l1' }));
    reopened.then('lane-reopened');
    reopened.when(clear('l1')).thenRefused('lane/contact-time');
    reopened.when(passes(10 * minute), clear('l1')).then('lane-cleared');
  });

  it('nobody closes a lane over the head of whoever is in it', () => {
    given(twoInside, atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1'))
      .when(close('l1'))
      .thenRefused('lane/not-free', /occupied/);
  });

  it('a closed lane is closed once, an open one reopened never', () => {
    given(close('l1')).when(close('l1')).thenRefused('lane/not-free');
    given()
      .when(reports('c1', 'reopen-lane', { lane: 'l1' }))
      .thenRefused('lane/not-free');
  });
});

describe('the queue for a lane', () => {
  it('is emergencies first, then who stands at the threshold, then who is leaving, each by time', () => {
    const exits = [
      ...leaving('o1', 'w1'),
      passes(second),
      ...atThreshold('o2', 'w2'),
      passes(second),
      ...onDuty('o3'),
      ...inside('o3', 'w3'),
      reports('s1', 'declare-emergency', { worker: 'w3' }),
    ];
    const queue = (acts: Act[]) =>
      waitingForLane(given(twoInside, close('l1'), close('l2'), acts).world.state).map(([id]) => id);
    expect(queue(exits.slice(0, 3))).toEqual(['w1']);
    expect(queue(exits.slice(0, -1))).toEqual(['w2', 'w1']);
    expect(queue(exits)).toEqual(['w3', 'w2', 'w1']);
    expect(
      queue([reports('c1', 'call-out', { worker: 'w2' }), passes(second), reports('c1', 'call-out', { worker: 'w1' })]),
    ).toEqual(['w2', 'w1']);
  });

  it('leaves out whoever has a lane held', () => {
    expect(waitingForLane(given(twoInside, leaving('o1', 'w1'), hold('l1', 'w1')).world.state)).toEqual([]);
  });
});

describe('a clash of exits', () => {
  const oneLane = given(twoInside, close('l2'));

  it('is raised when more are on their way out than lanes are free', () => {
    oneLane.when(leaving('o1', 'w1')).then('worker-taken');
    const clash = oneLane.when(leaving('o1', 'w1'), reports('c1', 'call-out', { worker: 'w2' }));
    clash.then('called-out', 'alert-raised');
    expect(clash.fact('alert-raised').data).toMatchObject({
      subject: 'lanes',
      priority: 'medium',
      worker: 'w2',
      because: '2 on the way out, 1 of 2 lanes free. Clear or reopen a lane, or hold somebody in the room.',
    });
  });

  it('becomes high when somebody waits hot at the threshold, and ends with the cause', () => {
    const both = [...leaving('o1', 'w1'), ...leaving('o2', 'w2')];
    const clash = oneLane.when(both);
    expect(clash.alerts()).toEqual(['lane-clash:lanes medium coordinator']);
    const hot = clash.when(atThreshold('o1', 'w1').slice(2));
    hot.then('room-left', 'alert-cleared', 'alert-raised');
    expect(hot.fact('alert-cleared').data.reason).toBe('it is worse now');
    expect(hot.alerts()).toEqual(['lane-clash:lanes high coordinator']);
    // One steps in: the other is still in the room and has nowhere to go, which is a milder clash and says so.
    const milder = hot.when(enters('o1', 'w1', 'l1')).then('lane-entered', 'alert-cleared', 'alert-raised');
    expect(milder.alerts()).toEqual(['lane-clash:lanes medium coordinator']);
    const over = milder
      .when(doffed('o1', 'w1'), passes(10 * minute), clear('l1'))
      .then('lane-cleared', 'alert-cleared');
    expect(over.alerts().filter((one) => one.startsWith('lane-clash'))).toEqual([]);
  });

  it('ends when a lane is held for whoever waits, and counts that lane as gone for the others', () => {
    const both = [...leaving('o1', 'w1'), ...leaving('o2', 'w2')];
    const held = oneLane.when(both, hold('l1', 'w1'));
    expect(held.alerts()).toEqual(['lane-clash:lanes medium coordinator']);
    expect(Object.values(held.state.alerts)[0]?.context.worker).toBe('w2');
  });

  it('names who waits now: an alert about somebody who is through is replaced', () => {
    const none = given(twoInside, close('l1'), close('l2'), leaving('o1', 'w1'), leaving('o2', 'w2'));
    const worker = () => Object.values(none.world.state.alerts)[0]?.context.worker;
    expect(worker()).toBe('w1');
    const through = none.when(reports('c1', 'reopen-lane', { lane: 'l1' }), passes(10 * minute), clear('l1'));
    through.then('lane-cleared', 'alert-cleared', 'alert-raised');
    expect(through.fact('alert-cleared').data.reason).toBe('it is about somebody else now');
    expect(through.fact('alert-raised').data.worker).toBe('w2');
  });
});
