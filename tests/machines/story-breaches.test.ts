import { describe, expect, it } from 'vitest';
import type { AlertId } from '../../machines/wire/ids.ts';
import {
  atThreshold,
  called,
  doffed,
  donned,
  dressed,
  enters,
  feverish,
  given,
  inside,
  leaving,
  minute,
  onDuty,
  passes,
  readied,
  reports,
  second,
  taken,
  trip,
  vitals,
  workerOf,
  type Act,
} from '../support/unit-fixture.ts';

const w1 = { worker: 'w1' };
const breach = (who: string, breachKind = 'splash'): Act => reports(who, 'declare-breach', { ...w1, breachKind });
const exit = [...inside('o1', 'w1'), ...atThreshold('o1', 'w1')];
const out = trip('o1', 'w1', 'l1', 20 * minute).slice(0, -1);

const everywhere: Record<string, Act[]> = {
  ready: [],
  'at the screening': [called('w1'), taken('o1', 'w1')],
  'held before donning': [
    called('w1'),
    taken('o1', 'w1'),
    reports('o1', 'record-screening', { ...w1, points: [], vitals: feverish }),
  ],
  'at the kit check': readied('o1', 'w1').slice(0, -1),
  donning: readied('o1', 'w1'),
  'at the inspection': dressed('o1', 'w1'),
  'at the door': donned('o1', 'w1'),
  inside: inside('o1', 'w1'),
  leaving: [...inside('o1', 'w1'), ...leaving('o1', 'w1')],
  'at the threshold': exit,
  'in the lane': [...exit, enters('o1', 'w1', 'l1')],
  'putting a deviation right': [
    ...exit,
    enters('o1', 'w1', 'l1'),
    reports('o1', 'note-deviation', { ...w1, step: 'gown-off', deviationKind: 'torn' }),
  ],
  'at the post-check': out,
  'held after doffing': [...out, reports('o1', 'record-post-check', { ...w1, vitals: feverish })],
  resting: trip('o1', 'w1', 'l1', 20 * minute),
  'stood down': [reports('c1', 'stand-down', { ...w1, reason: 'unwell' })],
};

describe('a breach', () => {
  it.each(Object.entries(everywhere))(
    'is noted %s, moves nobody, blocks nothing, and alerts the safety officer',
    (_, acts) => {
      const before = given(onDuty('o1'), acts);
      const then = before.when(breach('c1'));
      then.then('breach-declared', 'alert-raised');
      expect(then.worker('w1').place).toEqual(workerOf(before.world.state, 'w1').place);
      const { breach: id, now, leaveRoom, entry } = then.fact('breach-declared').data;
      expect([now, leaveRoom, entry]).toEqual([['Stop.', 'Go to the door.'], true, then.worker('w1').entry?.id]);
      expect(then.alerts()).toContain(`breach:w1/${id} high safety-officer`);
      expect(then.fact('alert-raised').data.because).toBe('Splash. Stop. Go to the door.');
    },
  );

  it('keeps what was said about it', () => {
    const note = 'left hand, at the wrist';
    expect(
      given()
        .when(reports('c1', 'declare-breach', { ...w1, breachKind: 'splash', note }))
        .fact('breach-declared').data.note,
    ).toBe(note);
    expect(given().when(breach('c1')).fact('breach-declared').data).not.toHaveProperty('note');
  });

  it('of the mildest class is a medium alert', () => {
    expect(given().when(breach('s1', 'glove-torn')).fact('alert-raised').data.priority).toBe('medium');
  });

  it('may be declared by everybody with hands on a screen, as the rules of the unit know it', () => {
    for (const who of ['c1', 'o1', 's1']) given().when(breach(who)).then('breach-declared', 'alert-raised');
    given()
      .when(breach('c1', 'dropped-pen'))
      .thenRefused('breach/unknown', /glove-torn, splash/);
    given()
      .when(reports('c1', 'declare-breach', { worker: 'nobody', breachKind: 'splash' }))
      .thenRefused('worker/unknown');
    given()
      .when(reports('c1', 'declare-breach', { worker: 'o1', breachKind: 'splash' }))
      .thenRefused('worker/unknown');
  });

  it('may happen twice: each is its own', () => {
    const twice = given().when(breach('c1'), breach('c1'));
    expect(new Set(twice.worker('w1').machine.context.breaches.map((one) => one.id)).size).toBe(2);
    expect(twice.alerts()).toHaveLength(2);
  });

  it('does not hold up the way out, and stays open after the entry until the safety officer signs it off', () => {
    const rested = given(onDuty('o1'), inside('o1', 'w1'), breach('o1'))
      .when(
        atThreshold('o1', 'w1'),
        enters('o1', 'w1', 'l1'),
        doffed('o1', 'w1'),
        reports('o1', 'record-post-check', { ...w1, vitals }),
        passes(60 * minute),
      )
      .then('rest-ended', 'alert-escalated');
    expect(rested.alerts().map((one) => one.split(':')[0])).toEqual(['breach']);
    const [open] = rested.worker('w1').machine.context.breaches;
    rested
      .when(reports('c1', 'clear-breach', { ...w1, breach: open!.id, reason: 'washed' }))
      .thenRefused('rights/not-yours');
    const signed = rested.when(reports('s1', 'clear-breach', { ...w1, breach: open!.id, reason: 'washed, seen' }));
    signed.then('breach-cleared', 'alert-cleared');
    expect(signed.alerts()).toEqual([]);
    signed
      .when(reports('s1', 'clear-breach', { ...w1, breach: open!.id, reason: 'again' }))
      .thenRefused('breach/unknown');
  });

  it('is signed off by ending its alert as well, and counts from no earlier than what is on record', () => {
    const declared = given(onDuty('o1'), passes(minute)).when(breach('c1'));
    const { alert } = declared.fact('alert-raised').data;
    const ended = declared.when(reports('s1', 'clear-alert', { alert, reason: 'seen to' }, { agoMs: 30 * second }));
    ended.then('breach-cleared', 'alert-cleared');
    expect(ended.fact('breach-cleared').at).toBe(declared.fact('breach-declared').at);
  });

  it('is not refused for a clock or a screen out of step', () => {
    given(passes(minute))
      .when(reports('c1', 'declare-breach', { ...w1, breachKind: 'splash' }, { agoMs: -10 * minute, basedOn: 9_999 }))
      .then('breach-declared', 'alert-raised');
  });

  it('with much to do still fits into its alert', () => {
    const long = given().world.state.rules.breaches[0]!;
    const now = Array.from({ length: 9 }, (_, index) => `${index} ${'a'.repeat(590)}`);
    const state = given().world;
    const rules = { ...state.state.rules, breaches: [{ ...long, now }] };
    const then = breach('c1', long.kind)({ ...state, state: { ...state.state, rules } });
    const raised = then.facts.find((fact) => fact.kind === 'alert-raised');
    const because = raised?.kind === 'alert-raised' ? raised.data.because : '';
    expect([because.length, because.at(-1)]).toEqual([600, '…']);
    expect(workerOf(then.world.state, 'w1').machine.context.breaches[0]?.now).toEqual(now);
  });
});

describe('ending alerts by hand', () => {
  it('is for what only a person can end: the rest goes with its cause', () => {
    const alone = given(onDuty('o1'), inside('o1', 'w1'), reports('c1', 'declare-emergency', w1));
    for (const alert of Object.keys(alone.world.state.alerts) as AlertId[])
      alone.when(reports('s1', 'clear-alert', { alert, reason: 'noise' })).thenRefused('alert/still-true');
    alone.when(reports('s1', 'clear-alert', { alert: 'A9999', reason: 'noise' })).thenRefused('alert/unknown');
  });

  it('a deviation that is put right says so, whatever else is open about the worker', () => {
    const both = given(
      onDuty('o1'),
      readied('o1', 'w1'),
      reports('o1', 'note-deviation', { ...w1, step: 'rub-hands', deviationKind: 'touched' }),
      breach('c1'),
    );
    const [deviation] = workerOf(both.world.state, 'w1').entry!.deviations;
    const corrected = both.when(reports('o1', 'correct-deviation', { ...w1, deviation: deviation!.id }));
    expect(corrected.fact('alert-cleared').data.reason).toBe('its cause is over');
  });
});
