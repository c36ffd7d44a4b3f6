import { describe, expect, it } from 'vitest';
import { contactTime } from '../../client/observer/contact-time.ts';
import { helpedFrom, unsentOf, watchedBy, type Me } from '../../client/observer/guided.ts';
import { latelyOf } from '../../client/observer/lately.ts';
import {
  isGuided,
  isOnAnotherTablet,
  tabletView,
  type Moment,
  type TabletView,
} from '../../client/observer/tablet-view.ts';
import { acceptReport } from '../../machines/unit/accept.ts';
import type { DeviceId, PersonId, StepId } from '../../machines/wire/ids.ts';
import { wireVersion, type Report } from '../../machines/wire/report.ts';
import {
  atThreshold,
  called,
  donned,
  doffed,
  dressed,
  enters,
  fallsSilent,
  given,
  inside,
  isHeard,
  leaving,
  minute,
  onDuty,
  openedAt,
  passes,
  readied,
  reports,
  salt,
  second,
  taken,
  verified,
  vitals,
  type Given,
  type World,
} from '../support/unit-fixture.ts';

const me: Me = { person: 'o1' as PersonId, device: 'tablet-o1' as DeviceId };
const w1 = 'w1' as PersonId;

/** What the tablet of o1 shows, opened long before anything happened unless a test says otherwise. */
function shows(world: World, moment: Partial<Moment> = {}, who: Me = me): TabletView {
  return tabletView(world.state, who, { now: world.now, openedAt: openedAt - minute, unsent: [], ...moment });
}
function showsAt<At extends TabletView['at']>(
  { world }: Given,
  at: At,
  moment: Partial<Moment> = {},
): Extract<TabletView, { at: At }> {
  const view = shows(world, moment);
  expect(view.at).toBe(at);
  return view as Extract<TabletView, { at: At }>;
}

describe('which page is open follows from the state alone', () => {
  it('starts off duty, and knows who is no observer and who is in an entry themselves', () => {
    expect(shows(given().world)).toEqual({ at: 'off-duty', inEntry: false });
    const worker = { ...me, person: 'w2' as PersonId };
    expect(shows(given().world, {}, worker)).toEqual({ at: 'not-an-observer' });
    const both = { ...me, person: 'both' as PersonId };
    expect(shows(given(called('both')).world, {}, both)).toEqual({ at: 'off-duty', inEntry: true });
  });

  it('walks one worker from the pre-check to the post-check', () => {
    const start = onDuty('o1');
    const stories: [TabletView['at'], Given][] = [
      ['free', given(start)],
      ['break', given(start, reports('o1', 'start-break', {}))],
      ['pre-check', given(start, called('w1'), taken('o1', 'w1'))],
      ['kit', given(start, readied('o1', 'w1').slice(0, -1))],
      ['step', given(start, readied('o1', 'w1'))],
      ['inspection', given(start, dressed('o1', 'w1'))],
      ['door', given(start, donned('o1', 'w1'))],
      ['free', given(start, inside('o1', 'w1'))],
      ['step', given(start, inside('o1', 'w1'), leaving('o1', 'w1'))],
      ['through-door', given(start, inside('o1', 'w1'), leaving('o1', 'w1'), verified('o1', 'w1', 'wipe-gloves'))],
      ['threshold', given(start, inside('o1', 'w1'), atThreshold('o1', 'w1'))],
      ['step', given(start, inside('o1', 'w1'), atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1'))],
      [
        'post-check',
        given(start, inside('o1', 'w1'), atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1'), doffed('o1', 'w1')),
      ],
    ];
    expect(stories.map(([, story]) => shows(story.world).at)).toEqual(stories.map(([at]) => at));
  });

  it('is the same page on another tablet of the same observer, which is told that it is not the one listened to', () => {
    const { world } = given(onDuty('o1'), readied('o1', 'w1'));
    const other = { ...me, device: 'tablet-other' as DeviceId };
    expect(shows(world, {}, other)).toEqual(shows(world));
    expect(isOnAnotherTablet(world.state, other)).toBe(true);
    expect(isOnAnotherTablet(world.state, me)).toBe(false);
  });

  it('stays where it was while the tablet is taken for silent, and afterwards', () => {
    const guiding = given(onDuty('o1'), readied('o1', 'w1'), fallsSilent('o1'));
    expect(shows(guiding.world).at).toBe('step');
    const resting = given(onDuty('o1'), reports('o1', 'start-break', {}), fallsSilent('o1'));
    expect(shows(resting.world).at).toBe('break');
    expect(shows(given(onDuty('o1'), fallsSilent('o1')).world).at).toBe('free');
  });

  it('says what a held worker is held for', () => {
    const screening = (points: string[], measured: object) =>
      given(
        onDuty('o1'),
        called('w1'),
        taken('o1', 'w1'),
        reports('o1', 'record-screening', { worker: 'w1', points, vitals: measured }),
      );
    const unready = screening(['drank'], vitals);
    expect(showsAt(unready, 'pre-check').held).toBe('not-ready');
    const hot = screening(['drank', 'toilet'], { ...vitals, temperatureC: 38.9 });
    expect(showsAt(hot, 'pre-check').held).toBe('vitals-out-of-bounds');
  });
});

describe('who needs an observer', () => {
  it('puts my own first, and before them an emergency that nobody watches', () => {
    const story = given(
      onDuty('o1', 'o2', 'o3'),
      inside('o2', 'w1'),
      passes(minute),
      called('w2', 'gown', 'r2'),
      called('w3'),
      reports('c1', 'assign-observer', { worker: 'w3', observer: 'o1' }),
    );
    const names = (given: Given) => showsAt(given, 'free').unwatched.map((one) => one.worker);
    expect(names(story)).toEqual(['w3', 'w2']);
    const emergency = given(
      onDuty('o1', 'o2', 'o3'),
      inside('o2', 'w1'),
      called('w3'),
      reports('c1', 'assign-observer', { worker: 'w3', observer: 'o1' }),
      reports('c1', 'declare-emergency', { worker: 'w1' }),
    );
    expect(names(emergency)).toEqual(['w1', 'w3']);
    expect(showsAt(emergency, 'free').unwatched[0]).toMatchObject({
      emergency: true,
      mine: false,
      place: 'at-threshold',
    });
  });

  it('lists workers of other observers for taking over, and as unwatched when that tablet is silent', () => {
    const story = given(onDuty('o1', 'o2'), called('w1'), taken('o2', 'w1'));
    expect(showsAt(story, 'free').withOthers).toMatchObject([
      { worker: 'w1', holder: { person: 'o2', silent: false } },
    ]);
    expect(showsAt(story, 'free').unwatched).toEqual([]);
    const silent = given(onDuty('o1', 'o2'), called('w1'), taken('o2', 'w1'), fallsSilent('o2'));
    expect(showsAt(silent, 'free').unwatched).toMatchObject([{ worker: 'w1', holder: { person: 'o2', silent: true } }]);
  });

  it('offers a lane for clearing only when its time is served', () => {
    const story = given(
      onDuty('o1'),
      inside('o1', 'w1'),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
      doffed('o1', 'w1'),
      reports('o1', 'record-post-check', { worker: 'w1', vitals }),
      passes(9 * minute + 59 * second),
    );
    expect(showsAt(story, 'free').turnovers).toMatchObject([{ lane: 'l1', served: false }]);
    const later = passes(second)(story.world).world;
    const view = shows(later);
    expect(view.at === 'free' && view.turnovers[0]?.served).toBe(true);
  });
});

describe('those inside whom I am expected to watch', () => {
  const story = given(onDuty('o1', 'o2'), inside('o1', 'w1'), passes(34 * minute));

  it('shows minutes and the call-out time', () => {
    const [one] = watchedBy(story.world.state, me.person, story.world.now);
    expect(one).toMatchObject({ worker: 'w1', roomName: 'Room 1', place: 'working' });
    // Limit 60, doffing 10, margin 5: called out at 45, warned from 35.
    expect(one?.wearing).toMatchObject({ minutes: 34, stage: 'early', limitMinutes: 60 });
    const at = (minutes: number) =>
      watchedBy(story.world.state, me.person, openedAt + minutes * minute)[0]?.wearing?.stage;
    expect([35, 45, 60].map(at)).toEqual(['soon', 'call-out', 'over']);
    expect(watchedBy(story.world.state, 'o2' as PersonId, story.world.now)).toEqual([]);
  });

  it('offers emergency exit for the worker I guide first, then for those I watch', () => {
    const guiding = given(onDuty('o1'), inside('o1', 'w1'), called('w2', 'gown', 'r2'), taken('o1', 'w2'));
    const view = showsAt(guiding, 'pre-check');
    const watched = watchedBy(guiding.world.state, me.person, guiding.world.now);
    expect(helpedFrom(guiding.world.state, view.guided, watched)).toEqual([
      { worker: 'w2', way: 'stop', declared: false },
      { worker: 'w1', way: 'exit', declared: false },
    ]);
    const door = showsAt(given(onDuty('o1'), donned('o1', 'w1')), 'door');
    expect(helpedFrom(guiding.world.state, door.guided, [])).toMatchObject([{ worker: 'w1', way: 'exit' }]);
  });

  it('says what became of the worker I guided last', () => {
    expect(latelyOf(story.world.state, me.person, w1)).toEqual({ is: 'went-in' });
    const over = given(onDuty('o1', 'o2'), called('w1'), taken('o1', 'w1'), taken('o2', 'w1'));
    expect(latelyOf(over.world.state, me.person, w1)).toEqual({ is: 'taken-over', by: 'o2' });
    const stopped = given(
      onDuty('o1'),
      called('w1'),
      taken('o1', 'w1'),
      reports('o1', 'cancel-entry', { worker: 'w1', reason: 'unwell' }),
    );
    expect(latelyOf(stopped.world.state, me.person, w1)).toEqual({ is: 'stopped' });
  });
});

describe('a step', () => {
  const atGown = [
    ...onDuty('o1'),
    ...inside('o1', 'w1'),
    ...atThreshold('o1', 'w1'),
    enters('o1', 'w1', 'l1'),
    verified('o1', 'w1', 'clean-gloves'),
    verified('o1', 'w1', 'gown-off'),
  ];

  it('is the first open one, says how far along it is, and what else may come now', () => {
    const view = showsAt(given(atGown), 'step');
    expect(view).toMatchObject({ phase: 'doffing', number: 3, total: 4, step: { id: 'gloves-off' } });
    expect(view.others.map((step) => step.id)).toEqual(['mask-off']);
  });

  it('is the one the observer picked, as long as that one is open', () => {
    const chosen = 'mask-off' as StepId;
    expect(showsAt(given(atGown), 'step', { chosen })).toMatchObject({ step: { id: 'mask-off' }, number: 3 });
    const done = given(atGown, verified('o1', 'w1', 'mask-off'));
    expect(showsAt(done, 'step', { chosen })).toMatchObject({ step: { id: 'gloves-off' }, number: 4 });
  });

  it('says that an answer still waits, once it waits longer than a blink', () => {
    const { world } = given(onDuty('o1'), readied('o1', 'w1'));
    const report = {
      v: wireVersion,
      id: 'r-9' as Report['id'],
      unit: world.state.unit,
      device: me.device,
      sequence: 99,
      person: me.person,
      observedAt: world.now,
      kind: 'verify-step',
      data: { worker: w1, step: 'rub-hands' as StepId, tookSeconds: 40 },
    } as Report;
    const outcome = acceptReport(world.state, { report, role: 'observer', receivedAt: world.now, salt });
    if ('refusal' in outcome) throw new Error(outcome.refusal.sentence);
    const seen = { ...world, state: outcome.state };
    const unsent = (now: number, live: boolean) => unsentOf([report], now, live);
    expect(shows(seen, { unsent: unsent(world.now + second, true) })).toMatchObject({
      step: { id: 'gloves-on' },
      unsent: false,
    });
    expect(shows(seen, { unsent: unsent(world.now + 2 * second, true) })).toMatchObject({ unsent: true });
    expect(shows(seen, { unsent: unsent(world.now, false) })).toMatchObject({ unsent: true });
    // Refused or not, the confirmed state decides in the end: without the report the page is the old one.
    expect(shows(world)).toMatchObject({ step: { id: 'rub-hands' }, unsent: false });
  });

  it('gives way to what must be put right, and comes back to the place left', () => {
    const wrong = given(
      atGown,
      reports('o1', 'note-deviation', { worker: 'w1', step: 'gloves-off', deviationKind: 'touched', actor: 'worker' }),
    );
    const view = showsAt(wrong, 'corrective');
    expect(view).toMatchObject({
      step: { id: 'gloves-off' },
      more: 0,
      deviation: { kind: 'touched', actor: 'worker' },
    });
    expect(view.deviation.doNow).toContain('Stop.');
    const { world } = reports('o1', 'correct-deviation', { worker: 'w1', deviation: view.deviation.id })(wrong.world);
    expect(shows(world)).toMatchObject({ at: 'step', step: { id: 'gloves-off' }, number: 3 });
  });

  it('counts deviations that wait behind the first', () => {
    const wrong = (step: string) => reports('o1', 'note-deviation', { worker: 'w1', step, deviationKind: 'touched' });
    expect(showsAt(given(atGown, wrong('gloves-off'), wrong('mask-off')), 'corrective').more).toBe(1);
  });
});

describe('the line after an interruption', () => {
  const reading = [...onDuty('o1', 'o2'), ...readied('o1', 'w1'), passes(second)];
  const last = (view: TabletView) => (view.at === 'step' ? view.resumeAfter?.id : view.at);

  it('is not there while the reading goes on, nor before the first step', () => {
    expect(last(shows(given(reading).world))).toBeUndefined();
    const story = given(reading, verified('o1', 'w1', 'rub-hands'), passes(2 * minute));
    expect(last(shows(story.world))).toBeUndefined();
    expect(last(shows(given(reading, passes(10 * minute)).world))).toBeUndefined();
  });

  it('is there after a gap of more than two minutes, until the next step is verified', () => {
    const gap = given(reading, verified('o1', 'w1', 'rub-hands'), passes(2 * minute + second));
    expect(last(shows(gap.world))).toBe('rub-hands');
    expect(last(shows(verified('o1', 'w1', 'gloves-on')(gap.world).world))).toBeUndefined();
  });

  it('is there after the page was opened anew', () => {
    const { world } = given(reading, verified('o1', 'w1', 'rub-hands'), passes(5 * second));
    expect(last(shows(world, { openedAt: world.now }))).toBe('rub-hands');
  });

  it('is there for an observer who takes over, and after the tablet was silent', () => {
    const over = given(reading, verified('o1', 'w1', 'rub-hands'), passes(5 * second), taken('o2', 'w1'));
    const second_ = { person: 'o2' as PersonId, device: 'tablet-o2' as DeviceId };
    expect(last(shows(over.world, {}, second_))).toBe('rub-hands');
    const heard = given(
      reading,
      verified('o1', 'w1', 'rub-hands'),
      passes(5 * second),
      fallsSilent('o1'),
      isHeard('o1'),
    );
    expect(last(shows(heard.world))).toBe('rub-hands');
  });

  it('names no step of an earlier phase', () => {
    const story = given(
      reading,
      dressed('o1', 'w1').slice(readied('o1', 'w1').length),
      reports('o1', 'pass-inspection', { worker: 'w1' }),
      reports('o1', 'enter-room', { worker: 'w1' }),
      passes(20 * minute),
      leaving('o1', 'w1'),
    );
    expect(last(shows(story.world))).toBeUndefined();
  });
});

describe('contact time', () => {
  const wetAt = Date.parse('2026-03-02T09:00:00.400Z');
  it('has not started before the observer says so', () => {
    expect(contactTime(30, undefined, wetAt)).toEqual({ is: 'not-started', seconds: 30 });
  });

  it('is a difference of two server times, in whole seconds, and never more than the whole', () => {
    // The screen's clock shows whole seconds: it may lie a moment before the press.
    expect(contactTime(30, wetAt, wetAt - 400)).toMatchObject({ is: 'running', secondsLeft: 30, share: 0 });
    expect(contactTime(30, wetAt, wetAt + 12_600)).toMatchObject({ is: 'running', secondsLeft: 18 });
    expect(contactTime(30, wetAt, wetAt + 29_999)).toMatchObject({ is: 'running', secondsLeft: 1 });
  });

  it('is served at its end, and says how long it took; a tablet that slept in between changes nothing', () => {
    expect(contactTime(30, wetAt, wetAt + 30_000)).toEqual({ is: 'served', tookSeconds: 30 });
    expect(contactTime(30, wetAt, wetAt + 95_700)).toEqual({ is: 'served', tookSeconds: 95 });
  });

  it('opens the press exactly when the unit accepts the step', () => {
    const { world } = given(onDuty('o1'), readied('o1', 'w1'));
    const answer = (now: number) => {
      const contact = contactTime(30, world.now, now);
      const tookSeconds = contact.is === 'served' ? contact.tookSeconds : Math.floor((now - world.now) / 1000);
      const { refusal } = reports('o1', 'verify-step', { worker: 'w1', step: 'rub-hands', tookSeconds })({
        ...world,
        now,
      });
      return [contact.is, refusal?.code];
    };
    expect(answer(world.now + 29_900)).toEqual(['running', 'step/contact-time-short']);
    expect(answer(world.now + 30_000)).toEqual(['served', undefined]);
  });
});

it('knows the pages about a worker from the others', () => {
  expect(isGuided(shows(given(onDuty('o1')).world))).toBe(false);
  expect(isGuided(shows(given(onDuty('o1'), readied('o1', 'w1')).world))).toBe(true);
});
