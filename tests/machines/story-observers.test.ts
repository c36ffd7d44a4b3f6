import { describe, expect, it } from 'vitest';
import { acceptJoin, silenceAllowedMs } from '../../machines/unit/accept.ts';
import { guideOf, holderOf } from '../../machines/unit/questions.ts';
import type { DeviceId, PersonId } from '../../machines/wire/ids.ts';
import {
  atThreshold,
  called,
  donned,
  enters,
  fallsSilent,
  given,
  inside,
  isHeard,
  joins,
  leaving,
  observerOf,
  onDuty,
  openedAt,
  passes,
  readied,
  reports,
  second,
  signsOff,
  taken,
  verified,
  type Given,
} from '../support/unit-fixture.ts';

const w1 = { worker: 'w1' };
const [tabletOfO1] = ['tablet-o1'] as DeviceId[] as [DeviceId];

describe('duty', () => {
  it('starts at a tablet, pauses, and ends', () => {
    const on = given(onDuty('o1'));
    on.when(reports('o1', 'start-break', {}))
      .then('break-started')
      .when(reports('o1', 'end-break', {}))
      .then('break-ended');
    on.when(reports('o1', 'end-duty', {})).then('duty-ended');
    expect(on.when(reports('o1', 'end-duty', {})).state.observers['o1' as PersonId]?.value).toBe('off-shift');
  });

  it('nobody acts as an observer before it, or in a break', () => {
    const idle = given(joins('o1'), called('w1'));
    idle.when(taken('o1', 'w1')).thenRefused('observer/not-on-duty');
    idle.when(reports('o1', 'start-break', {})).thenRefused('observer/not-on-duty');
    given(onDuty('o1'), called('w1'), reports('o1', 'start-break', {}))
      .when(taken('o1', 'w1'))
      .thenRefused('observer/not-free');
  });

  it('does not end while guiding somebody, nor pause', () => {
    const guiding = given(onDuty('o1'), called('w1'), taken('o1', 'w1'));
    for (const kind of ['end-duty', 'start-break'] as const)
      guiding.when(reports('o1', kind, {})).thenRefused('observer/not-free', /guiding a worker/);
    guiding.when(reports('o1', 'end-break', {})).thenRefused('observer/not-free');
  });

  it('started again at another tablet, even from a break, moves the observer there', () => {
    for (const before of [[], [reports('o1', 'start-break', {})], [called('w1'), taken('o1', 'w1')]]) {
      const other = given(onDuty('o1'), before, joins('o1', 'observer', 'tablet-spare'));
      const moved = other.when(reports('o1', 'start-duty', {}, { device: 'tablet-spare' })).then('duty-started');
      expect(observerOf(moved.state, 'o1').context.device).toBe('tablet-spare');
      expect(observerOf(moved.state, 'o1').value).toEqual(observerOf(other.world.state, 'o1').value);
    }
  });

  it('is for observers, and for nobody who is in an entry themselves', () => {
    given()
      .when(reports('w1', 'start-duty', {}))
      .thenRefused('session/role-not-held');
    given(called('both'))
      .when(reports('both', 'start-duty', {}))
      .thenRefused('observer/in-an-entry');
    given(onDuty('both'))
      .when(called('both'))
      .thenRefused('worker/guiding-somebody', /end their duty/);
  });
});

describe('taking and handing over', () => {
  const two = given(onDuty('o1', 'o2'), readied('o1', 'w1'));

  it('is one act: the worker is never without an observer in between', () => {
    const swap = two.when(taken('o2', 'w1')).then('worker-released', 'worker-taken');
    const [released, took] = swap.outcome.facts;
    expect([released?.report?.id, released?.number]).toEqual([took?.report?.id, took!.number - 1]);
    expect([observerOf(swap.state, 'o1').value, guideOf(swap.state, 'w1' as PersonId)]).toEqual(['available', 'o2']);
    swap.when(verified('o1', 'w1', 'rub-hands')).thenRefused('observer/not-with-worker');
    swap.when(verified('o2', 'w1', 'rub-hands')).then('step-verified');
  });

  it('works in the middle of doffing too, without an alert', () => {
    const doffing = given(onDuty('o1', 'o2'), inside('o1', 'w1'), atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1'));
    expect(doffing.when(taken('o2', 'w1')).then('worker-released', 'worker-taken').alerts()).toEqual([]);
  });

  it('an observer guides one worker at a time', () => {
    two.when(called('w2'), taken('o1', 'w2')).thenRefused('observer/not-free', /one worker at a time/);
    two.when(taken('o1', 'w1')).then();
  });

  it('nobody observes themselves, or is expected to', () => {
    given()
      .when(reports('c1', 'call-worker', { worker: 'both', room: 'r1', procedure: 'gown', observer: 'both' }))
      .thenRefused('observer/in-an-entry');
    given(called('both'))
      .when(reports('c1', 'assign-observer', { worker: 'both', observer: 'both' }))
      .thenRefused('observer/in-an-entry');
  });

  it('nobody is taken at work: they are called out first', () => {
    given(onDuty('o1'), inside('o1', 'w1'))
      .when(taken('o1', 'w1'))
      .thenRefused('worker/elsewhere', /called out/);
    given(onDuty('o1')).when(taken('o1', 'w1')).thenRefused('worker/elsewhere');
    given(onDuty('o1')).when(taken('o1', 'nobody')).thenRefused('worker/unknown');
  });

  it('a worker is let go by whoever has them, but never while doffing', () => {
    two.when(reports('o2', 'release-worker', w1)).thenRefused('observer/not-with-worker');
    two.when(reports('o1', 'release-worker', w1)).then('worker-released');
    given(onDuty('o1'), inside('o1', 'w1'), atThreshold('o1', 'w1'))
      .when(reports('o1', 'release-worker', w1))
      .thenRefused('observer/not-with-worker', /Nobody doffs unwatched/);
  });

  it('an expected observer is on duty, and becomes whoever takes the worker', () => {
    const assign = (observer: string) => reports('c1', 'assign-observer', { ...w1, observer });
    const waiting = given(onDuty('o1'), called('w1'));
    waiting.when(assign('o3')).thenRefused('observer/not-on-duty');
    waiting.when(assign('c1')).thenRefused('observer/unknown');
    const assigned = waiting.when(onDuty('o2'), assign('o2')).then('observer-assigned');
    expect(assigned.worker('w1').observer).toBe('o2');
    expect(assigned.when(taken('o1', 'w1')).worker('w1').observer).toBe('o1');
  });
});

describe('a tablet falls silent', () => {
  const story = (acts: Given) => acts.when(fallsSilent('o1'));

  it('while nobody is guided: a low alert to the coordinator', () => {
    const silent = story(given(onDuty('o1'))).then('device-silent', 'observer-unreachable', 'alert-raised');
    expect(silent.alerts()).toEqual(['tablet-silent:o1 low coordinator']);
  });

  it('while off duty: no alert at all', () => {
    expect(
      story(given(joins('o1')))
        .then('device-silent')
        .alerts(),
    ).toEqual([]);
  });

  it('during donning: a high alert about the tablet, and whose worker it is', () => {
    const silent = story(given(onDuty('o1'), readied('o1', 'w1')));
    expect(silent.alerts()).toEqual(['tablet-silent:o1 high coordinator']);
    const { data } = silent.fact('alert-raised');
    expect(data).toMatchObject({ observer: 'o1', worker: 'w1' });
    expect(data.because).toMatch(/while its observer was guiding somebody/);
  });

  it('on the way out: the same', () => {
    const silent = story(given(onDuty('o1'), inside('o1', 'w1'), leaving('o1', 'w1')));
    expect(silent.alerts()).toEqual(['tablet-silent:o1 high coordinator']);
  });

  it('promise 4: during doffing it is what it means, nobody is watching: a high alert about the worker', () => {
    const silent = story(given(onDuty('o1'), inside('o1', 'w1'), atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1')));
    silent.then('device-silent', 'observer-unreachable', 'alert-raised');
    expect(silent.alerts()).toEqual(['no-observer:w1 high coordinator']);
    const { data, at } = silent.fact('alert-raised');
    expect([data.observer, at]).toEqual(['o1', silent.fact('observer-unreachable').at]);
    expect(data.because).toMatch(/tablet of the observer is silent/);
  });

  it('and stays so over the threshold: the alert about the tablet gives way to the one about the worker', () => {
    const silent = given(
      onDuty('o1', 'o2'),
      inside('o1', 'w1'),
      leaving('o1', 'w1'),
      verified('o1', 'w1', 'wipe-gloves'),
      fallsSilent('o1'),
    );
    const out = silent.when(reports('o2', 'leave-room', w1)).then('room-left', 'alert-cleared', 'alert-raised');
    expect(out.fact('alert-cleared').data.reason).toBe('a worse alert took its place: no-observer');
    expect(out.alerts()).toEqual(['no-observer:w1 high coordinator']);
  });

  it('heard again, everybody is where they were and nothing is open', () => {
    const doffing = [onDuty('o1'), inside('o1', 'w1'), atThreshold('o1', 'w1')];
    const back = given(doffing, fallsSilent('o1')).when(isHeard('o1'));
    back.then('device-back', 'observer-reachable', 'alert-cleared');
    expect([observerOf(back.state, 'o1').value, back.alerts()]).toEqual([{ guiding: 'doffing' }, []]);
  });

  it('silent twice is silent once; heard twice is heard once', () => {
    const silent = given(onDuty('o1'), fallsSilent('o1'));
    silent.when(fallsSilent('o1')).then();
    silent.when(isHeard('o1'), isHeard('o1')).then();
  });

  it('another observer takes over: the high alert ends, and what stays is that a tablet does not answer', () => {
    const taken2 = given(onDuty('o1', 'o2'), readied('o1', 'w1'), fallsSilent('o1')).when(taken('o2', 'w1'));
    taken2.then('worker-released', 'worker-taken', 'alert-cleared', 'alert-raised');
    expect(taken2.fact('alert-cleared').data.reason).toBe('it is less urgent now');
    expect(taken2.alerts()).toEqual(['tablet-silent:o1 low coordinator']);
    const back = taken2.when(isHeard('o1'));
    expect([observerOf(back.state, 'o1').value, holderOf(back.state, 'w1' as PersonId)]).toEqual(['available', 'o2']);
    expect(back.alerts()).toEqual([]);
  });

  it('an observer goes on at another tablet: they are reached there, with the same worker', () => {
    const silent = given(onDuty('o1'), inside('o1', 'w1'), atThreshold('o1', 'w1'), fallsSilent('o1'));
    const moved = silent.when(
      joins('o1', 'observer', 'tablet-spare'),
      reports('o1', 'start-duty', {}, { device: 'tablet-spare' }),
    );
    moved.then('duty-started', 'observer-reachable', 'alert-cleared');
    expect(guideOf(moved.state, 'w1' as PersonId)).toBe('o1');
  });

  it('may be silent for less long while its observer guides somebody', () => {
    const allowed = ({ world }: Given) => silenceAllowedMs(world.state, tabletOfO1);
    expect(allowed(given(onDuty('o1')))).toBe(30 * second);
    expect(allowed(given(onDuty('o1'), readied('o1', 'w1')))).toBe(10 * second);
    expect(allowed(given(onDuty('o1'), inside('o1', 'w1')))).toBe(30 * second);
  });
});

describe('a tablet changes hands', () => {
  const doffing = given(onDuty('o1'), inside('o1', 'w1'), atThreshold('o1', 'w1'));

  it('somebody else at the tablet is nobody watching', () => {
    const other = doffing.when(joins('o2', 'observer', 'tablet-o1'));
    other.then('device-joined', 'observer-unreachable', 'alert-raised');
    expect(other.alerts()).toEqual(['no-observer:w1 high coordinator']);
    other.when(joins('o1')).then('device-joined', 'observer-reachable', 'alert-cleared');
  });

  it('somebody else at a tablet that was silent already changes nothing for whoever had it', () => {
    doffing.when(fallsSilent('o1'), joins('o2', 'observer', 'tablet-o1')).then('device-joined');
  });

  it('a join says who and what, and a wall is nobody', () => {
    const { by, data } = given().when(joins('o1')).fact('device-joined');
    expect(by).toEqual({ device: 'tablet-o1', role: 'observer', person: 'o1' });
    expect(data).toEqual({ device: 'tablet-o1', role: 'observer', person: 'o1' });
    const wall = acceptJoin(given().world.state, 'wall-1' as DeviceId, 'wall', undefined, openedAt).facts[0];
    expect([wall?.by, wall?.data]).toEqual([
      { device: 'wall-1', role: 'wall' },
      { device: 'wall-1', role: 'wall' },
    ]);
  });

  it('the same tablet as another screen is nobody watching', () => {
    doffing.when(joins('o1', 'coordinator', 'tablet-o1')).then('device-joined', 'observer-unreachable', 'alert-raised');
  });

  it('being heard does not bring back an observer who is not at the tablet any more', () => {
    const other = doffing.when(joins('o2', 'observer', 'tablet-o1'), fallsSilent('o1'), isHeard('o1'));
    other.then('device-back');
    expect(other.alerts()).toEqual(['no-observer:w1 high coordinator']);
  });

  it('a tablet that says hello again as before is only heard', () => {
    doffing.when(joins('o1')).then();
    doffing.when(fallsSilent('o1'), joins('o1')).then('device-back', 'observer-reachable', 'alert-cleared');
  });

  it('signing off while on duty counts as silence, off duty as leaving', () => {
    doffing.when(signsOff('o1')).then('device-silent', 'observer-unreachable', 'alert-raised');
    given(onDuty('o1'), reports('o1', 'end-duty', {}))
      .when(signsOff('o1'))
      .then('device-left');
    given(joins('o1'), signsOff('o1')).when(signsOff('o1')).then();
    given(joins('o1'), signsOff('o1')).when(joins('o1')).then('device-joined');
  });

  it('a tablet that nobody knows is neither silent nor heard nor signed off', () => {
    given().when(fallsSilent('o1')).then();
    given().when(isHeard('o1')).then();
    given().when(signsOff('o1')).then();
  });

  it('a silent guide of a worker who turned back is still their guide when heard again', () => {
    const silent = given(onDuty('o1', 'o2'), donned('o1', 'w1'), fallsSilent('o1'), reports('o2', 'leave-room', w1));
    const back = silent.when(passes(second), isHeard('o1'));
    expect([guideOf(back.state, 'w1' as PersonId), back.alerts()]).toEqual(['o1', []]);
  });
});
