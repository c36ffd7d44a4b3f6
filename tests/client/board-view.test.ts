import { describe, expect, it } from 'vitest';
import { alertsByWorst, handsOf, isAnswerUnderWay } from '../../client/board/alert-view.ts';
import { alertBecause, alertHands, alertSubject } from '../../client/board/alert-words.ts';
import { callable, callables, procedureChoices, roomChoices } from '../../client/board/call-choice.ts';
import { clockWatch, timingOf } from '../../client/board/clock-words.ts';
import { limitBar, minutesAndSeconds, minutesSince, minutesUntil, wallClock } from '../../client/board/clock.ts';
import { actsFor, type Desk } from '../../client/board/desk.ts';
import { refusalOf } from '../../client/board/dry-run.ts';
import { floorNames } from '../../client/board/floor-names.ts';
import { observerViews } from '../../client/board/observer-view.ts';
import { spansOf } from '../../client/board/spans.ts';
import { byUrgency, isInEquipment, standings, type Stand, type StandAt } from '../../client/board/standing.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import type { DeviceId, PersonId, ProcedureId, RoomId } from '../../machines/wire/ids.ts';
import {
  atThreshold,
  called,
  dressed,
  doffed,
  donned,
  enters,
  fallsSilent,
  feverish,
  given,
  inside,
  leaving,
  minute,
  nameOf,
  onDuty,
  passes,
  readied,
  reports,
  second,
  taken,
  trip,
  vitals,
  type Act,
  type World,
} from '../support/unit-fixture.ts';

const id = (text: string) => text as PersonId;
const coordinator = { device: 'board' as DeviceId, role: 'coordinator' as const, person: id('c1') };

function standOf(state: UnitState, person: string): Stand {
  const found = standings(state).filter((one) => one.id === person);
  if (found.length !== 1 || !found[0]) throw new Error(`${person} stands in ${found.length} places`);
  return found[0].stand;
}

const standAt = (state: UnitState, person: string): StandAt => standOf(state, person).at;
const worldAfter = (...acts: (Act | Act[])[]): World => given(...acts).world;

describe('times on the board are differences of server times', () => {
  const since = Date.parse('2026-03-02T08:00:00Z');

  it('counts whole minutes, and 62 min 59 s is still 62', () => {
    expect(minutesSince(since, since + 62 * minute + 59 * second)).toBe(62);
    expect(minutesSince(since, since + 63 * minute)).toBe(63);
  });

  it('is right at once after a page slept for an hour, because nothing was counted', () => {
    const { state, now } = worldAfter(onDuty('o1'), inside('o1', 'w1'));
    const stand = standOf(state, 'w1');
    if (!isInEquipment(stand)) throw new Error('not in equipment');
    expect(minutesSince(stand.donnedAt, now)).toBe(0);
    expect(minutesSince(stand.donnedAt, now + 61 * minute)).toBe(61);
    expect(minutesSince(stand.donnedAt, now + 12 * minute)).toBe(12);
  });

  it('never shows less than none, should a clock be a little behind', () => {
    expect(minutesSince(since, since - 800)).toBe(0);
    expect(minutesUntil(since, since + 5 * minute)).toBe(0);
  });

  it('says 1 min to go while a second is left', () => {
    expect(minutesUntil(since + second, since)).toBe(1);
    expect(minutesUntil(since + 6 * minute, since)).toBe(6);
    expect(minutesUntil(since, since)).toBe(0);
  });

  it('shows seconds only where they are asked for', () => {
    expect(minutesAndSeconds(since, since + 62 * minute + 4 * second + 900)).toBe('62:04');
    expect(minutesAndSeconds(since, since - second)).toBe('0:00');
  });

  it('writes the time of day from 00:00 to 23:59', () => {
    expect(wallClock(since, 'UTC')).toBe('08:00');
    expect(wallClock(Date.parse('2026-03-03T00:05:00Z'), 'UTC')).toBe('00:05');
    expect(wallClock(since, 'Asia/Kolkata')).toBe('13:30');
  });
});

describe('the bar of somebody in equipment', () => {
  const donnedAt = 1_000_000;
  const limit = {
    minutes: 60,
    reason: 'r',
    source: 's',
    limitAt: donnedAt + 60 * minute,
    callOutAt: donnedAt + 45 * minute,
    warnAt: donnedAt + 35 * minute,
  };

  it('ends at the limit and carries the call-out time as a mark', () => {
    expect(limitBar(donnedAt, limit, donnedAt + 30 * minute)).toEqual({ worn: 0.5, callOut: 0.75, over: 0 });
  });

  it('moves with the figure, by whole minutes', () => {
    const early = limitBar(donnedAt, limit, donnedAt + 30 * minute);
    expect(limitBar(donnedAt, limit, donnedAt + 30 * minute + 59 * second)).toEqual(early);
  });

  it('is full past the limit and says by how much', () => {
    expect(limitBar(donnedAt, limit, donnedAt + 64 * minute)).toEqual({ worn: 1, callOut: 0.75, over: 4 });
  });

  it('is full for a limit of no minutes at all', () => {
    const none = { ...limit, limitAt: donnedAt, callOutAt: donnedAt };
    expect(limitBar(donnedAt, none, donnedAt)).toEqual({ worn: 1, callOut: 1, over: 0 });
  });
});

describe('people stand where they are', () => {
  const duty = onDuty('o1', 'o2');

  it('walks one worker through every place of the floor, one place at a time', () => {
    const way: [StandAt, Act[]][] = [
      ['ready', []],
      ['pre-check', [called('w1')]],
      ['door', donned('o1', 'w1')],
      ['room', inside('o1', 'w1')],
      ['threshold', [...inside('o1', 'w1'), ...atThreshold('o1', 'w1')]],
      ['lane', [...inside('o1', 'w1'), ...atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1')]],
      [
        'post-check',
        [...inside('o1', 'w1'), ...atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1'), ...doffed('o1', 'w1')],
      ],
      ['resting', trip('o1', 'w1', 'l1', 10 * minute)],
    ];
    for (const [place, acts] of way) expect(standAt(worldAfter(duty, acts).state, 'w1')).toBe(place);
  });

  it('names the stage of the pre-check and how far it is', () => {
    expect(standOf(worldAfter(duty, called('w1')).state, 'w1')).toMatchObject({ stage: 'screening', room: 'r1' });
    expect(standOf(worldAfter(duty, readied('o1', 'w1')).state, 'w1')).toMatchObject({
      stage: 'donning',
      done: 0,
      of: 3,
    });
    expect(standOf(worldAfter(duty, dressed('o1', 'w1')).state, 'w1')).toMatchObject({ stage: 'inspection' });
  });

  it('shows somebody held at the pre-check as held', () => {
    const { state } = worldAfter(
      duty,
      called('w1'),
      taken('o1', 'w1'),
      reports('o1', 'record-screening', { worker: 'w1', points: ['drank', 'toilet'], vitals: feverish }),
    );
    expect(standOf(state, 'w1')).toMatchObject({ at: 'pre-check', stage: 'held' });
  });

  it('says when somebody resting may go in again, and lets them be ready when the rest is over', () => {
    const rested = worldAfter(duty, trip('o1', 'w1', 'l1', 10 * minute));
    const stand = standOf(rested.state, 'w1');
    if (stand.at !== 'resting') throw new Error(stand.at);
    expect(minutesUntil(stand.againAt, rested.now)).toBe(31);
    expect(standAt(given(duty, trip('o1', 'w1', 'l1', 10 * minute), passes(31 * minute)).world.state, 'w1')).toBe(
      'ready',
    );
  });

  it('keeps the reason of somebody stood down', () => {
    const { state } = worldAfter(reports('c1', 'stand-down', { worker: 'w1', reason: 'Asked to' }));
    expect(standOf(state, 'w1')).toEqual({ at: 'stood-down', because: 'Asked to' });
  });

  it('marks somebody called out as leaving, from the time of the call', () => {
    const { state, now } = worldAfter(
      duty,
      inside('o1', 'w1'),
      passes(5 * minute),
      leaving('o1', 'w1'),
      passes(3 * minute),
    );
    const stand = standOf(state, 'w1');
    expect(stand).toMatchObject({ at: 'room', leavingSince: now - 3 * minute });
    if (!isInEquipment(stand)) throw new Error('not in equipment');
    expect(timingOf(stand, now)).toBe('leaving 3 min');
  });

  it('takes an observer on duty off the cold side, though the roster calls them a worker too', () => {
    expect(standAt(worldAfter().state, 'both')).toBe('ready');
    const { state } = worldAfter(onDuty('both'));
    expect(standings(state).some((one) => one.id === 'both')).toBe(false);
    expect(observerViews(state).find((one) => one.id === 'both')?.is).toBe('free');
  });

  it('puts a doffing assistant into the lane they assist in', () => {
    const acts = [...inside('o1', 'w1', 'hood'), ...atThreshold('o1', 'w1', 'hood')];
    const { state } = worldAfter(duty, acts, enters('o1', 'w1', 'l1', 'hood', 'both'));
    expect(standOf(state, 'both')).toEqual({ at: 'assisting', lane: 'l1', worker: 'w1' });
    const other = worldAfter(duty, acts, enters('o1', 'w1', 'l1', 'hood', 'o3'));
    expect(standOf(other.state, 'o3')).toEqual({ at: 'assisting', lane: 'l1', worker: 'w1' });
  });

  it('shows a deviation in doffing as being put right', () => {
    const { state, now } = worldAfter(
      duty,
      inside('o1', 'w1'),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
      reports('o1', 'note-deviation', { worker: 'w1', step: 'clean-gloves', deviationKind: 'touched' }),
    );
    const stand = standOf(state, 'w1');
    expect(stand).toMatchObject({ at: 'lane', correcting: true });
    if (!isInEquipment(stand)) throw new Error('not in equipment');
    expect(timingOf(stand, now)).toBe('correcting');
  });

  it('knows the lane that is held for somebody at the threshold', () => {
    const { state } = worldAfter(
      duty,
      inside('o1', 'w1'),
      atThreshold('o1', 'w1'),
      reports('c1', 'hold-lane', { lane: 'l2', worker: 'w1' }),
    );
    expect(standOf(state, 'w1')).toMatchObject({ at: 'threshold', heldLane: 'l2' });
  });
});

describe('who watches', () => {
  const duty = onDuty('o1', 'o2');
  const watchIn = (...acts: (Act | Act[])[]) => {
    const { state } = worldAfter(duty, ...acts);
    const stand = standOf(state, 'w1');
    if (!isInEquipment(stand)) throw new Error('not in equipment');
    return { watch: stand.watch, words: clockWatch(stand, floorNames(state.rules, nameOf)) };
  };

  it('names whoever guides', () => {
    const { watch, words } = watchIn(donned('o1', 'w1'));
    expect(watch).toEqual({ by: 'guide', observer: 'o1', silent: false });
    expect(words).toBe(nameOf('o1'));
  });

  it('names whose worker it is inside, where nobody guides', () => {
    const { watch, words } = watchIn(inside('o1', 'w1'));
    expect(watch).toEqual({ by: 'expected', observer: 'o1' });
    expect(words).toBe(nameOf('o1'));
  });

  it('says that nobody watches at the threshold, though somebody is expected', () => {
    const { words } = watchIn(inside('o1', 'w1'), reports('c1', 'declare-emergency', { worker: 'w1' }));
    expect(words).toBe('nobody watching');
  });

  it('says that the tablet of whoever guides is silent', () => {
    const { watch, words } = watchIn(inside('o1', 'w1'), atThreshold('o1', 'w1'), fallsSilent('o1'));
    expect(watch).toEqual({ by: 'guide', observer: 'o1', silent: true });
    expect(words).toBe(`${nameOf('o1')}, tablet silent`);
  });
});

describe('observers', () => {
  it('are free, with somebody, on a break, silent or off, each since a time', () => {
    const { state, now } = worldAfter(
      onDuty('o1', 'o2', 'both'),
      called('w1'),
      taken('o1', 'w1'),
      reports('both', 'start-break', {}),
      fallsSilent('o2'),
      passes(4 * minute),
    );
    const is = Object.fromEntries(observerViews(state).map((one) => [one.id, one]));
    expect(is['o1']).toMatchObject({ is: 'with', worker: 'w1', phase: 'donning' });
    expect(is['o2']).toMatchObject({ is: 'silent', worker: undefined });
    expect(is['both']).toMatchObject({ is: 'break' });
    expect(is['o3']).toMatchObject({ is: 'off' });
    expect(minutesSince(is['o1']?.since ?? 0, now)).toBe(4);
  });

  it('come before those who are off', () => {
    const { state } = worldAfter(onDuty('o3'));
    expect(observerViews(state).map((one) => one.id)[0]).toBe('o3');
  });

  it('know whom they are expected by', () => {
    const { state } = worldAfter(
      onDuty('o1', 'o2'),
      called('w1'),
      reports('c1', 'assign-observer', { worker: 'w1', observer: 'o2' }),
    );
    expect(observerViews(state).find((one) => one.id === 'o2')?.expectedBy).toEqual(['w1']);
  });
});

describe('alerts, worst first', () => {
  const duty = onDuty('o1', 'o2');
  const breach = (worker: string, breachKind: string) => reports('c1', 'declare-breach', { worker, breachKind });

  it('orders by priority, then by whether somebody has it', () => {
    const { state } = worldAfter(duty, inside('o1', 'w1'), breach('w1', 'glove-torn'), breach('w1', 'splash'));
    expect(alertsByWorst(state).map((one) => one.context.priority)).toEqual(['high', 'medium']);
    const [worst] = alertsByWorst(state);
    const second = worldAfter(duty, inside('o1', 'w1'), breach('w1', 'splash'), breach('w2', 'splash'));
    const first = alertsByWorst(second.state)[0]!.context;
    const answered = reports('c1', 'acknowledge-alert', { alert: first.id })(second).world.state;
    expect(worst?.context.kind).toBe('breach');
    expect(
      alertsByWorst(answered)
        .map((one) => one.context.id)
        .at(-1),
    ).toBe(first.id);
  });

  it('says who has it and since when', () => {
    const world = worldAfter(duty, breach('w1', 'splash'));
    const alert = alertsByWorst(world.state)[0]!;
    expect(handsOf(alert)).toEqual({ are: 'none' });
    const told = reports('c1', 'tell-alert', { alert: alert.context.id })(world).world;
    expect(handsOf(alertsByWorst(told.state)[0]!)).toEqual({
      are: 'told',
      people: [{ person: 'c1', since: told.now }],
    });
    expect(alertHands(alertsByWorst(told.state)[0]!, nameOf)).toContain(nameOf('c1'));
    const later = passes(2 * minute)(told).world;
    const acknowledged = reports('s1', 'acknowledge-alert', { alert: alert.context.id })(later).world;
    expect(handsOf(alertsByWorst(acknowledged.state)[0]!)).toEqual({ are: 'acting', person: 's1', since: later.now });
  });

  it('knows that an answer is under way while the server has not confirmed it', () => {
    const world = worldAfter(duty, breach('w1', 'splash'));
    const alert = alertsByWorst(world.state)[0]!;
    const seen = reports('c1', 'acknowledge-alert', { alert: alert.context.id })(world).world.state;
    expect(isAnswerUnderWay(world.state, alert)).toBe(false);
    expect(isAnswerUnderWay(seen, alert)).toBe(true);
    expect(isAnswerUnderWay(seen, at(seen.alerts, alert.context.id)!)).toBe(false);
  });

  it('marks the place of its person', () => {
    const { state } = worldAfter(duty, inside('o1', 'w1'), breach('w1', 'glove-torn'), breach('w1', 'splash'));
    const standing = standings(state).find((one) => one.id === 'w1');
    expect(at(state.alerts, standing!.alert!)?.context.priority).toBe('high');
    expect(standings(state).find((one) => one.id === 'w2')?.alert).toBeUndefined();
  });

  it('names people, breaches and steps, of which facts know only the ids', () => {
    const world = worldAfter(duty, inside('o1', 'w1'), breach('w1', 'splash'));
    const alert = alertsByWorst(world.state)[0]!;
    expect(alertSubject(alert, floorNames(world.state.rules, nameOf))).toBe(nameOf('w1'));
    expect(alertBecause(alert, world.state, world.now)).toBe('Splash. Stop. Go to the door.');
  });

  it('counts down to the call-out time, where the sentence of the fact stands still', () => {
    const world = worldAfter(duty, inside('o1', 'w1'), passes(36 * minute));
    const alert = alertsByWorst(world.state).find((one) => one.context.kind === 'limit-approaching')!;
    expect(alertBecause(alert, world.state, world.now)).toMatch(/in 9 min\.$/);
    expect(alertBecause(alert, world.state, world.now + 4 * minute)).toMatch(/in 5 min\.$/);
  });

  it('says a deviation by the place of its step', () => {
    const world = worldAfter(
      duty,
      inside('o1', 'w1'),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
      reports('o1', 'note-deviation', { worker: 'w1', step: 'gown-off', deviationKind: 'touched' }),
    );
    const alert = alertsByWorst(world.state).find((one) => one.context.kind === 'deviation')!;
    expect(alertBecause(alert, world.state, world.now)).toBe(
      'At doffing step 2 of 4: something was touched, by the worker. Stop. Hands away from the face.',
    );
  });
});

describe('who must come out first', () => {
  it('is an emergency, then whoever has the earliest limit', () => {
    const { state } = worldAfter(
      onDuty('o1', 'o2', 'both'),
      inside('o1', 'w1', 'hood', 'r1'),
      passes(minute),
      inside('o2', 'w2', 'gown', 'r1'),
      passes(minute),
      inside('both', 'w3', 'hood', 'r2'),
    );
    expect(byUrgency(standings(state)).map((one) => one.id)).toEqual(['w2', 'w1', 'w3']);
    const world = worldAfter(
      onDuty('o1', 'o2'),
      inside('o1', 'w1', 'hood', 'r1'),
      inside('o2', 'w2', 'gown', 'r1'),
      reports('c1', 'declare-emergency', { worker: 'w1' }),
    );
    expect(byUrgency(standings(world.state)).map((one) => one.id)).toEqual(['w1', 'w2']);
  });
});

describe('what can be done, by the rules the server asks', () => {
  const desk = ({ state, now }: World): Desk => ({
    state,
    now,
    names: floorNames(state.rules, nameOf),
    me: id('c1'),
    refusal: (kind, data) => refusalOf(state, coordinator, kind, data, now),
    send: () => undefined,
  });
  const room = 'r1' as RoomId;
  const gown = 'gown' as ProcedureId;

  it('lists who can be called first, then who rests, then who cannot and why', () => {
    const world = worldAfter(onDuty('o1', 'both'), trip('o1', 'w1', 'l1', 10 * minute));
    const list = callables(desk(world), room, gown);
    expect(list.map((one) => one.worker)).toEqual(['w2', 'w3', 'w1', 'w-old-fit', 'w-untrained', 'both']);
    expect(list.map((one) => one.refusal?.code)).toEqual([
      undefined,
      undefined,
      undefined,
      'qualification/fit-test',
      'qualification/competency',
      'worker/guiding-somebody',
    ]);
    expect(minutesUntil(list[2]?.rest?.until ?? 0, world.now)).toBe(31);
  });

  it('gives the very refusal the server would give', () => {
    const world = worldAfter(onDuty('o1'), inside('o1', 'w1'));
    for (const [kind, data] of [
      ['call-worker', { worker: 'w-old-fit', room: 'r1', procedure: 'gown' }],
      ['cancel-entry', { worker: 'w1', reason: 'x' }],
      ['stand-down', { worker: 'w1', reason: 'x' }],
      ['call-out', { worker: 'w2' }],
      ['clear-lane', { lane: 'l1' }],
    ] as const) {
      const answer = reports('c1', kind, data)(world);
      expect(answer.refusal).toBeDefined();
      expect(refusalOf(world.state, coordinator, kind, data as never, world.now)).toEqual(answer.refusal);
    }
  });

  it('offers nothing to a screen with nobody at it', () => {
    const { state, now } = worldAfter(onDuty('o1'), inside('o1', 'w1'));
    const nobody = { device: 'wall' as DeviceId, role: 'wall' as const };
    expect(refusalOf(state, nobody, 'call-out', { worker: id('w1') }, now)).toBeDefined();
  });

  it('says that a room is full, and counts places promised', () => {
    const world = worldAfter(onDuty('o1'), called('w1', 'gown', 'r2'));
    expect(roomChoices(world.state).map((one) => [one.room, one.taken, one.places])).toEqual([
      ['r1', 0, 2],
      ['r2', 1, 1],
    ]);
    expect(callable(desk(world), id('w2'), 'r2' as RoomId, gown).refusal?.code).toBe('room/full');
  });

  it('lists the adopted procedures by title', () => {
    expect(procedureChoices(worldAfter().state).map((one) => one.title)).toEqual([
      'Gown and respirator',
      'Powered hood',
    ]);
  });

  it('offers emergency exit wherever somebody is in equipment, and nowhere else', () => {
    const places: StandAt[] = [
      'ready',
      'resting',
      'stood-down',
      'pre-check',
      'door',
      'room',
      'threshold',
      'lane',
      'assisting',
      'post-check',
    ];
    const offered = places.filter((place) => actsFor(place).includes('emergency'));
    expect(offered).toEqual(['door', 'room', 'threshold', 'lane']);
  });
});

describe('the spans of an entry', () => {
  it('add up to where the time went, and the last one is still running', () => {
    const { state, now } = worldAfter(
      onDuty('o1'),
      called('w1'),
      passes(4 * minute),
      taken('o1', 'w1'),
      reports('o1', 'record-screening', { worker: 'w1', points: ['drank', 'toilet'], vitals }),
    );
    const entry = at(state.workers, id('w1'))!.machine.context.entry!;
    expect(spansOf(entry)).toEqual([{ name: 'pre-check', from: now - 4 * minute, to: undefined }]);
  });

  it('has one span for each place that was reached', () => {
    const { state, now } = worldAfter(
      onDuty('o1'),
      donned('o1', 'w1'),
      passes(2 * minute),
      reports('o1', 'enter-room', { worker: 'w1' }),
      passes(20 * minute),
      atThreshold('o1', 'w1'),
      passes(3 * minute),
      enters('o1', 'w1', 'l1'),
      passes(minute),
    );
    const spans = spansOf(at(state.workers, id('w1'))!.machine.context.entry!);
    const lengths = spans.map((span) => [span.name, minutesSince(span.from, span.to ?? now)]);
    expect(lengths).toEqual([
      ['pre-check', 0],
      ['door', 2],
      ['room', 20],
      ['leaving', 0],
      ['threshold', 3],
      ['lane', 1],
    ]);
  });
});
