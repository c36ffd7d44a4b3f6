import { describe, expect, it } from 'vitest';
import { accountOf, subjectOf } from '../../client/safety/account.ts';
import { guidanceOf } from '../../client/safety/guidance.ts';
import { clockTime, lengthOf } from '../../client/safety/times.ts';
import { trailOf } from '../../client/safety/trail.ts';
import { whereaboutsOf, whereWords, withWords } from '../../client/safety/whereabouts.ts';
import { alertKinds, type AlertKind } from '../../machines/wire/fact.ts';
import {
  atThreshold,
  called,
  dressed,
  enters,
  fallsSilent,
  feverish,
  given,
  Given,
  gown,
  inside,
  isHeard,
  leaving,
  minute,
  nameOf,
  onDuty,
  openedUnit,
  passes,
  play,
  readied,
  reports,
  second,
  settings,
  taken,
  trip,
  vitals,
  type Then,
} from '../support/unit-fixture.ts';
import { advised, everyTwenty, heatOpening } from '../support/heat-fixture.ts';
import { alertOf, id, namesIn } from './safety-fixture.ts';

const held = [
  called('w1'),
  taken('o1', 'w1'),
  reports('o1', 'record-screening', { worker: 'w1', points: ['drank', 'toilet'], vitals: feverish }),
];
const notReady = [
  called('w1'),
  taken('o1', 'w1'),
  reports('o1', 'record-screening', { worker: 'w1', points: [], vitals }),
];
const deviates = reports('o1', 'note-deviation', { worker: 'w1', step: 'gown-off', deviationKind: 'torn' });
const inLane = [...inside('o1', 'w1'), ...atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1')];

/** For every kind of alert, a story at whose end exactly one of it is open. */
const stories: Record<AlertKind, () => Then> = {
  'limit-approaching': () => given(onDuty('o1'), inside('o1', 'w1')).when(passes(35 * minute)),
  'call-out': () => given(onDuty('o1'), inside('o1', 'w1')).when(passes(45 * minute)),
  'limit-reached': () => given(onDuty('o1'), inside('o1', 'w1')).when(passes(63 * minute)),
  deviation: () => given(onDuty('o1'), inLane).when(deviates),
  'no-observer': () => given(onDuty('o1'), inLane).when(fallsSilent('o1')),
  'tablet-silent': () => given(onDuty('o1'), readied('o1', 'w1')).when(fallsSilent('o1')),
  'lane-clash': () =>
    given(onDuty('o1'), reports('c1', 'close-lane', { lane: 'l1', reason: 'spill' }), inside('o1', 'w1')).when(
      reports('c1', 'close-lane', { lane: 'l2', reason: 'spill' }),
      leaving('o1', 'w1'),
    ),
  breach: () =>
    given(onDuty('o1'), inside('o1', 'w1')).when(
      reports('o1', 'declare-breach', { worker: 'w1', breachKind: 'splash' }),
    ),
  'emergency-exit': () =>
    given(onDuty('o1'), inside('o1', 'w1')).when(reports('o1', 'declare-emergency', { worker: 'w1' })),
  'vitals-out-of-bounds': () => given(onDuty('o1')).when(held),
  'not-ready': () => given(onDuty('o1')).when(notReady),
  'check-due': () =>
    new Given(
      play(openedUnit(heatOpening), [...onDuty('o1'), ...inside('o1', 'w1'), advised('w1', { check: everyTwenty })]),
    ).when(passes(20 * minute)),
  'rest-too-short': () =>
    given(onDuty('o1'), trip('o1', 'w1', 'l1', 10 * minute)).when(
      reports('c1', 'call-worker', { worker: 'w1', room: 'r1', procedure: 'gown', despiteRest: 'nobody else' }),
    ),
};

describe.each(alertKinds)('a message about %s', (kind) => {
  const { state, outcome } = stories[kind]();
  const alert = alertOf(state, kind);

  it('says what happened, with names and without ids', () => {
    const account = accountOf(state, alert.context, namesIn(state), outcome.world.now).join(' ');
    const about = alert.context.worker ?? alert.context.observer;
    expect(account).toContain(nameOf(about!));
    expect(account).not.toMatch(/\b(r1|l1|gown-off|E\d+|[DB][0-9a-z]{13})\b/);
    expect(account).not.toContain('undefined');
    expect(subjectOf(alert.context, namesIn(state))).toBe(nameOf(about!));
  });

  it('says what the unit has laid down, from the unit’s own words', () => {
    const guidance = guidanceOf(state, alert.context);
    const expected: Partial<Record<AlertKind, unknown>> = {
      breach: { from: 'breach', now: ['Stop.', 'Go to the door.'], then: ['Wash.'], leaveRoom: true },
      deviation: { from: 'step', now: [gown.steps.find((step) => step.id === 'gown-off')?.whenWrong] },
      'vitals-out-of-bounds': { from: 'pre-check', source: settings.preCheck.source },
      'rest-too-short': { from: 'rest', source: settings.rest.source },
      'check-due': { from: 'check', now: [alert.context.because], source: everyTwenty.source },
      'limit-reached': { from: 'limit', source: gown.limit.source },
      'call-out': { from: 'limit', source: gown.limit.source },
      'limit-approaching': { from: 'limit', source: gown.limit.source },
    };
    expect(guidance).toMatchObject(expected[kind] ?? { from: 'alert', now: [alert.context.because] });
  });

  it('says who was told, and when it climbs next', () => {
    const trail = trailOf(state.rules, alert);
    expect(trail.marks.map((mark) => mark.what)).toContain('raised');
    expect(trail.marks.map((mark) => mark.at)).toEqual(trail.marks.map((mark) => mark.at).sort((a, b) => a - b));
    if (trail.next) expect(trail.next.at).toBeGreaterThan(outcome.world.now);
  });
});

describe('an alert whose cause is no longer in the state', () => {
  it('is told in the words it was raised with', () => {
    const story = stories.breach();
    const { context } = alertOf(story.state, 'breach');
    const { state } = story.when(reports('s1', 'clear-alert', { alert: context.id, reason: 'seen' }));
    expect(accountOf(state, context, namesIn(state), state.at)).toEqual([context.because]);
  });

  it('at the post-check is told as held after doffing', () => {
    const { state } = given(onDuty('o1'), inLane, gownOff()).when(
      reports('o1', 'record-post-check', { worker: 'w1', vitals: { ...vitals, pulsePerMin: 140 } }),
    );
    const { context } = alertOf(state, 'vitals-out-of-bounds');
    expect(accountOf(state, context, namesIn(state), state.at)[0]).toMatch(/held after doffing/);
    expect(guidanceOf(state, context)).toMatchObject({ from: 'post-check', source: settings.postCheck.source });
  });
});

function gownOff() {
  return gown.steps
    .filter((step) => step.phase === 'doffing')
    .map((step) => reports('o1', 'verify-step', { worker: 'w1', step: step.id, tookSeconds: 60 }));
}

describe('the trail of an alert', () => {
  const silent = given(onDuty('o1'), readied('o1', 'w1')).when(fallsSilent('o1'));
  const { raisedAt, id: alert } = alertOf(silent.state, 'tablet-silent').context;

  it('counts the first time somebody was shown it, on whichever screen', () => {
    const tell = (device: string) => reports('c1', 'tell-alert', { alert }, { device });
    const { state } = silent.when(passes(2 * second), tell('board'), passes(2 * second), tell('board-2'));
    const told = trailOf(state.rules, alertOf(state, 'tablet-silent')).marks.filter((mark) => mark.what === 'told');
    expect(told).toEqual([{ what: 'told', at: raisedAt + 2 * second, person: 'c1', device: 'board' }]);
  });

  it('says to whom it has climbed, and stops climbing when somebody acts', () => {
    const climbed = silent.when(passes(60 * second));
    const trail = trailOf(climbed.state.rules, alertOf(climbed.state, 'tablet-silent'));
    expect(trail.marks.at(-1)).toEqual({ what: 'climbed', at: raisedAt + 60 * second, level: 'safety-officer' });
    expect(trail.next).toEqual({ at: raisedAt + 180 * second, level: 'everyone' });
    const { state } = climbed.when(reports('s1', 'acknowledge-alert', { alert }));
    const answered = trailOf(state.rules, alertOf(state, 'tablet-silent'));
    expect(answered.marks.at(-1)).toEqual({ what: 'acknowledged', at: raisedAt + 60 * second, person: 's1' });
    expect(answered.next).toBeUndefined();
  });

  it('tells apart when it began and when it became known', () => {
    const late = given(onDuty('o1'), inside('o1', 'w1')).when(
      reports('o1', 'declare-breach', { worker: 'w1', breachKind: 'splash' }),
    );
    const now = alertOf(late.state, 'breach');
    const known = { ...now, context: { ...now.context, since: now.context.raisedAt - 90 * second } };
    expect(trailOf(late.state.rules, known).marks.slice(0, 2)).toEqual([
      { what: 'began', at: known.context.since },
      { what: 'raised', at: known.context.raisedAt },
    ]);
  });
});

describe('where somebody is', () => {
  const place = ({ world }: Given | { world: Given['world'] }, worker = 'w1') => {
    const one = whereaboutsOf(world.state, id(worker), world.now);
    return { ...one, words: whereWords(one.stand, namesIn(world.state)) };
  };

  it('says the place, the minutes, the limit, and who else is in the room', () => {
    const story = given(onDuty('o1', 'o2'), inside('o1', 'w1'), inside('o2', 'w2'), passes(12 * minute + 59 * second));
    expect(place(story)).toMatchObject({
      words: 'in Room 1',
      worn: { minutes: 12, toLimit: { left: 48 } },
      roommates: ['w2'],
      watch: { by: 'expected', observer: 'o1' },
    });
    const over = given(onDuty('o1'), inside('o1', 'w1'), passes(64 * minute));
    expect(place(over).worn).toMatchObject({ minutes: 64, toLimit: { over: 4 } });
  });

  it('says the call-out time only while calling out still means anything', () => {
    expect(place(given(onDuty('o1'), inside('o1', 'w1'))).worn?.callOutAt).toBeDefined();
    expect(place(given(onDuty('o1'), inside('o1', 'w1'), leaving('o1', 'w1'))).worn?.callOutAt).toBeUndefined();
  });

  it('says who watches, and that nobody does when somebody must', () => {
    const said = (story: Given, needed: boolean) => {
      const { watch, assistant } = place(story);
      return withWords(watch!, assistant, needed, namesIn(story.world.state));
    };
    expect(said(given(onDuty('o1'), inLane), true)).toBe(`${nameOf('o1')} watches`);
    expect(said(given(onDuty('o1'), inLane, fallsSilent('o1')), true)).toMatch(/tablet is silent/);
    expect(said(given(onDuty('o1'), inLane, fallsSilent('o1'), isHeard('o1')), true)).toBe(`${nameOf('o1')} watches`);
    const alone = given(onDuty('o1'), inside('o1', 'w1'), reports('s1', 'declare-emergency', { worker: 'w1' }));
    expect(said(alone, true)).toMatch(/^nobody watches; .* is expected to$/);
    const inRoom = given(onDuty('o1'), inside('o1', 'w1'));
    expect(said(inRoom, false)).toBe(`${nameOf('o1')} is expected to watch`);
    expect(said(given(called('w1')), true)).toBe('nobody watches');
  });

  it('has words for every place on the way', () => {
    const words = [
      given(),
      given(onDuty('o1'), called('w1')),
      given(onDuty('o1'), held),
      given(onDuty('o1'), readied('o1', 'w1')),
      given(onDuty('o1'), dressed('o1', 'w1')),
      given(onDuty('o1'), dressed('o1', 'w1'), reports('o1', 'pass-inspection', { worker: 'w1' })),
      given(onDuty('o1'), inside('o1', 'w1')),
      given(onDuty('o1'), inside('o1', 'w1'), leaving('o1', 'w1')),
      given(onDuty('o1'), inside('o1', 'w1'), atThreshold('o1', 'w1')),
      given(onDuty('o1'), inLane),
      given(onDuty('o1'), inLane, deviates),
      given(onDuty('o1'), trip('o1', 'w1', 'l1', minute)),
      given(reports('c1', 'stand-down', { worker: 'w1', reason: 'unwell' })),
    ].map((story) => place(story).words);
    expect(new Set(words).size).toBe(words.length);
    expect(words.filter((text) => text.includes('undefined') || text === '')).toEqual([]);
  });
});

describe('times', () => {
  it('are wall clock to the second', () => {
    expect(clockTime(Date.parse('2026-03-02T23:04:09.900Z'), 'UTC')).toBe('23:04:09');
    expect(clockTime(Date.parse('2026-03-02T00:00:00Z'), 'UTC')).toBe('00:00:00');
  });

  it('are seconds at first, then minutes, then hours and minutes, and never negative', () => {
    expect(lengthOf(-5_000)).toEqual({ in: 'seconds', seconds: 0 });
    expect(lengthOf(119_999)).toEqual({ in: 'seconds', seconds: 119 });
    expect(lengthOf(120_000)).toEqual({ in: 'minutes', minutes: 2 });
    expect(lengthOf(119 * minute)).toEqual({ in: 'minutes', minutes: 119 });
    expect(lengthOf(135 * minute)).toEqual({ in: 'hours', hours: 2, minutes: 15 });
  });
});
