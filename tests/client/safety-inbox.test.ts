import { describe, expect, it } from 'vitest';
import { alsoWaiting, inboxOf, shownOf } from '../../client/safety/inbox.ts';
import type { AlertState } from '../../machines/alert/alert-machine.ts';
import {
  donned,
  fallsSilent,
  given,
  inside,
  joins,
  minute,
  onDuty,
  passes,
  readied,
  reports,
  second,
} from '../support/unit-fixture.ts';
import { alertOf, me } from './safety-fixture.ts';

const kinds = (alerts: AlertState[]) => alerts.map((alert) => alert.context.kind);
const breach = (worker: string, breachKind: string) => reports('o1', 'declare-breach', { worker, breachKind });
const acks = (who: string, kind: AlertState['context']['kind']) => (world: Parameters<ReturnType<typeof breach>>[0]) =>
  reports(who, 'acknowledge-alert', { alert: alertOf(world.state, kind).context.id })(world);

describe('the order of the officer’s alerts', () => {
  it('puts the worse priority first, whoever it is with', () => {
    const { state } = given(onDuty('o1', 'o2'), inside('o1', 'w1'), inside('o2', 'w2'), breach('w1', 'glove-torn'))
      .when(breach('w2', 'splash'))
      .then('breach-declared', 'alert-raised');
    expect(inboxOf(state, me).unanswered.map((alert) => alert.context.priority)).toEqual(['high', 'medium']);
  });

  it('puts an alert that calls the officer before one of the same priority that does not', () => {
    const { state } = given(onDuty('o1', 'o2'), donned('o1', 'w1'), readied('o2', 'w2'))
      .when(fallsSilent('o2'), breach('w1', 'splash'))
      .then('breach-declared', 'alert-raised');
    expect(kinds(inboxOf(state, me).unanswered)).toEqual(['breach', 'tablet-silent']);
  });

  it('parts what the officer acts on from what others act on', () => {
    const { state } = given(onDuty('o1', 'o2'), donned('o1', 'w1'), readied('o2', 'w2'), fallsSilent('o2'))
      .when(breach('w1', 'splash'), acks('s1', 'breach'), acks('c1', 'tablet-silent'))
      .then('alert-acknowledged');
    const inbox = inboxOf(state, me);
    expect([kinds(inbox.unanswered), kinds(inbox.mine), kinds(inbox.others)]).toEqual([
      [],
      ['breach'],
      ['tablet-silent'],
    ]);
  });
});

describe('the one message on the page', () => {
  it('is nothing when nothing is open', () => {
    const { world } = given(onDuty('o1'));
    expect(shownOf(world.state, me, undefined)).toBeUndefined();
  });

  it('is not a low alert, which never climbs to the officer', () => {
    const { state } = given(onDuty('o1'), inside('o1', 'w1')).when(passes(35 * minute));
    expect(alertOf(state, 'limit-approaching').context.priority).toBe('low');
    expect(shownOf(state, me, undefined)).toBeUndefined();
    expect(kinds(inboxOf(state, me).unanswered)).toEqual(['limit-approaching']);
  });

  it('is the worst that nobody has answered, then what the officer acts on', () => {
    const story = given(onDuty('o1', 'o2'), inside('o1', 'w1'), inside('o2', 'w2')).when(
      breach('w1', 'splash'),
      acks('s1', 'breach'),
    );
    const acting = shownOf(story.state, me, undefined);
    expect(acting?.value).toBe('acknowledged');
    const { state } = story.when(fallsSilent('o2'), breach('w2', 'glove-torn'));
    expect(shownOf(state, me, undefined)?.context).toMatchObject({ kind: 'breach', worker: 'w2' });
  });

  it('stays what the officer opened while nothing worse has come to them', () => {
    const { state } = given(onDuty('o1', 'o2'), inside('o1', 'w1'), inside('o2', 'w2'))
      .when(breach('w1', 'splash'), breach('w2', 'glove-torn'))
      .then('breach-declared', 'alert-raised');
    const [high, medium] = inboxOf(state, me).unanswered;
    const choice = { alert: medium!.context.id, at: state.at + 1 };
    expect(shownOf(state, me, choice)).toBe(medium);
    expect(alsoWaiting(state, me, medium!)).toBe(high);
  });

  it('gives way to something worse that comes to the officer later', () => {
    const story = given(onDuty('o1', 'o2'), inside('o1', 'w1'), inside('o2', 'w2')).when(breach('w2', 'glove-torn'));
    const choice = { alert: alertOf(story.state, 'breach').context.id, at: story.state.at };
    const { state } = story.when(passes(5 * second), breach('w1', 'splash'));
    expect(shownOf(state, me, choice)?.context).toMatchObject({ worker: 'w1', priority: 'high' });
  });

  it('does not give way to something worse that is still with somebody else', () => {
    const story = given(onDuty('o1', 'o2'), inside('o1', 'w1'), readied('o2', 'w2')).when(breach('w1', 'glove-torn'));
    const choice = { alert: alertOf(story.state, 'breach').context.id, at: story.state.at };
    const silent = story.when(passes(5 * second), fallsSilent('o2'));
    expect(alertOf(silent.state, 'tablet-silent').context).toMatchObject({ priority: 'high', level: 'coordinator' });
    expect(shownOf(silent.state, me, choice)?.context.kind).toBe('breach');
    const { state } = silent.when(passes(61 * second));
    expect(alertOf(state, 'tablet-silent').context.level).toBe('safety-officer');
    expect(shownOf(state, me, choice)?.context.kind).toBe('tablet-silent');
  });

  it('is the worst again when what the officer opened is over', () => {
    const story = given(onDuty('o1', 'o2'), joins('s1', 'safety-officer'), inside('o1', 'w1'), inside('o2', 'w2')).when(
      breach('w1', 'splash'),
      breach('w2', 'glove-torn'),
    );
    const [, medium] = inboxOf(story.state, me).unanswered;
    const choice = { alert: medium!.context.id, at: story.state.at };
    const { state } = story.when(reports('s1', 'clear-alert', { alert: medium!.context.id, reason: 'seen' }));
    expect(shownOf(state, me, choice)?.context.worker).toBe('w1');
    expect(alsoWaiting(state, me, shownOf(state, me, choice)!)).toBeUndefined();
  });
});
