import { describe, expect, it } from 'vitest';
import { alertLines, alertText } from '../../client/observer/alert-lines.ts';
import { emergencyLine } from '../../client/observer/emergency-line.ts';
import { inspectionItems, inspectionPage } from '../../client/observer/inspection.ts';
import { emptyLane, lanePage, laneChoices, type LaneDraft } from '../../client/observer/lane-choice.ts';
import { stepRows, watchFor } from '../../client/observer/step-view.ts';
import type { LaneId, PersonId, PointId, StepId } from '../../machines/wire/ids.ts';
import type { Report } from '../../machines/wire/report.ts';
import { demoProcedure } from '../support/demo-unit.ts';
import {
  atThreshold,
  dressed,
  enters,
  given,
  gown,
  hood,
  inside,
  minute,
  onDuty,
  openedAt,
  passes,
  reports,
  second,
  taken,
  verified,
  workerOf,
  type Given,
  type World,
} from '../support/unit-fixture.ts';

const w1 = 'w1' as PersonId;
const o1 = 'o1' as PersonId;
const l1 = 'l1' as LaneId;

const page = ({ world }: Given, procedure: typeof gown, draft: LaneDraft, worker = w1) =>
  lanePage(
    world.state,
    {
      worker,
      me: o1,
      procedure,
      emergency: workerOf(world.state, worker).entry?.emergency ?? false,
      now: world.now,
    },
    draft,
  );

describe('at the threshold', () => {
  const gowned = given(onDuty('o1', 'o2'), inside('o1', 'w1'), atThreshold('o1', 'w1'));

  it('asks for the lane, then every point of its readiness, then steps in; and the unit accepts exactly that', () => {
    expect(page(gowned, gown, emptyLane)).toMatchObject({
      ask: 'lane',
      choices: [{ lane: 'l1', may: true, is: 'free' }, { lane: 'l2' }],
    });
    expect(page(gowned, gown, { lane: l1, answers: {} })).toMatchObject({
      ask: 'point',
      point: { id: 'lane-clean' },
      number: 1,
      total: 2,
    });
    const clean = { ['lane-clean' as PointId]: 'yes' } as const;
    const waiting = { lane: l1, answers: clean, waitingFor: 'lane-bin' as PointId };
    expect(page(gowned, gown, waiting)).toMatchObject({ ask: 'point', point: { id: 'lane-bin' }, waiting: true });
    const ready = page(gowned, gown, { lane: l1, answers: { ...clean, ['lane-bin' as PointId]: 'yes' } });
    expect(ready).toMatchObject({ ask: 'step-in', confirmed: ['lane-clean', 'lane-bin'] });
    if (ready.ask !== 'step-in') return;
    const { refusal } = reports('o1', 'enter-lane', { worker: w1, lane: l1, confirmed: ready.confirmed })(gowned.world);
    expect(refusal).toBeUndefined();
  });

  it('says of every other lane why not', () => {
    const story = given(
      onDuty('o1', 'o2'),
      inside('o1', 'w1'),
      inside('o2', 'w2', 'gown'),
      atThreshold('o2', 'w2'),
      enters('o2', 'w2', 'l1'),
      reports('c1', 'close-lane', { lane: 'l2', reason: 'no disinfectant' }),
      atThreshold('o1', 'w1'),
    );
    expect(laneChoices(story.world.state, w1, story.world.now)).toMatchObject([
      { lane: 'l2', may: false, is: 'closed', because: 'no disinfectant' },
      { lane: 'l1', may: false, is: 'occupied', worker: 'w2' },
    ]);
    const held = given(
      onDuty('o1', 'o2'),
      inside('o1', 'w1'),
      inside('o2', 'w2'),
      atThreshold('o1', 'w1'),
      atThreshold('o2', 'w2'),
      reports('c1', 'hold-lane', { lane: 'l1', worker: 'w2' }),
      reports('c1', 'hold-lane', { lane: 'l2', worker: 'w1' }),
    );
    expect(laneChoices(held.world.state, w1, held.world.now)).toMatchObject([
      { lane: 'l2', may: true, is: 'held-for-them' },
      { lane: 'l1', may: false, is: 'held', worker: 'w2' },
    ]);
  });

  it('goes back to the choice when somebody else took the lane meanwhile', () => {
    const taken = given(
      onDuty('o1', 'o2'),
      inside('o1', 'w1'),
      inside('o2', 'w2'),
      atThreshold('o1', 'w1'),
      atThreshold('o2', 'w2'),
      enters('o2', 'w2', 'l1'),
    );
    expect(page(taken, gown, { lane: l1, answers: {} })).toMatchObject({ ask: 'lane' });
  });

  it('asks who assists where the procedure needs it, of those who are free and not the observer', () => {
    const story = given(
      onDuty('o1', 'o3'),
      inside('o1', 'w1', 'hood'),
      reports('c1', 'call-out', { worker: 'w1' }),
      taken('o1', 'w1'),
      reports('o1', 'leave-room', { worker: 'w1' }),
    );
    const answers = { ['lane-clean' as PointId]: 'yes' } as const;
    expect(page(story, hood, { lane: l1, answers })).toMatchObject({ ask: 'assistant', assistants: ['o3', 'both'] });
    const named = { lane: l1, answers, assistant: 'both' as PersonId };
    expect(page(story, hood, named)).toMatchObject({ ask: 'step-in', assistant: 'both' });
  });

  it('in an emergency asks nothing: any lane that nobody is in, by one press', () => {
    const story = given(
      onDuty('o1', 'o2'),
      inside('o1', 'w1'),
      reports('o1', 'declare-emergency', { worker: 'w1' }),
      reports('c1', 'close-lane', { lane: 'l2', reason: 'no light' }),
    );
    const shown = page(story, gown, emptyLane);
    expect(shown).toMatchObject({
      ask: 'emergency',
      choices: [
        { lane: 'l1', may: true, is: 'held-for-them' },
        { lane: 'l2', may: true, is: 'closed' },
      ],
    });
    const { refusal } = reports('o1', 'enter-lane', { worker: w1, lane: 'l2', confirmed: [] })(story.world);
    expect(refusal).toBeUndefined();
  });
});

describe('the line after emergency exit', () => {
  const declare = reports('o1', 'declare-emergency', { worker: 'w1' });
  const outcome = declare(given(onDuty('o1', 'o2'), inside('o1', 'w1')).world);
  const { world } = outcome;
  const declared = { worker: w1, at: world.now };
  const line = (now: number, waiting: Report[] = [], at: World = world) =>
    emergencyLine(at.state, declared, waiting, now);

  it('tells for ten seconds what was sent, which lane is held and who watches', () => {
    expect(line(world.now)).toEqual({
      worker: w1,
      declaredAt: world.now,
      sent: true,
      place: 'at-threshold',
      laneName: 'Lane 1',
      watchedBy: 'o1',
    });
    expect(line(world.now + 9_999)).toBeDefined();
    expect(line(world.now + 10_000)).toBeUndefined();
  });

  it('stays, and says so, while the report is not sent', () => {
    const waiting = [outcome.report as Report];
    expect(line(world.now + minute, waiting)).toMatchObject({ sent: false });
  });

  it('says when nobody watches and no lane is held', () => {
    const full = given(
      onDuty('o1', 'o2'),
      inside('o1', 'w1'),
      inside('o2', 'w2'),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
      reports('c1', 'close-lane', { lane: 'l2', reason: 'no light' }),
      reports('c1', 'declare-emergency', { worker: 'w2' }),
    );
    const other = emergencyLine(full.world.state, { worker: 'w2' as PersonId, at: full.world.now }, [], full.world.now);
    expect(other).toMatchObject({ sent: true, place: 'at-threshold' });
    expect(other).not.toHaveProperty('laneName');
    expect(other).not.toHaveProperty('watchedBy');
  });

  it('is not there when the unit refused it: nothing was declared', () => {
    const before = given(onDuty('o1', 'o2'), inside('o1', 'w1'));
    expect(line(before.world.now, [], before.world)).toBeUndefined();
  });
});

describe('alerts at the top', () => {
  it('are those that call me and nobody has answered, worst first, less those whose answer is on its way', () => {
    const { world } = given(
      onDuty('o1', 'o2'),
      inside('o1', 'w1'),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
      reports('o1', 'note-deviation', { worker: 'w1', step: 'clean-gloves', deviationKind: 'too-short' }),
      passes(second),
      reports('o1', 'note-deviation', { worker: 'w1', step: 'gown-off', deviationKind: 'touched' }),
      passes(second),
    );
    const mine = alertLines(world.state, o1, []);
    expect(mine.map((one) => [one.kind, one.priority])).toEqual([
      ['deviation', 'high'],
      ['deviation', 'medium'],
    ]);
    expect(alertLines(world.state, 'o2' as PersonId, [])).toEqual([]);
    const [worst] = mine;
    const { report, world: answered } = reports('o1', 'acknowledge-alert', { alert: worst?.id })(world);
    expect(alertLines(world.state, o1, [report as Report]).map((one) => one.priority)).toEqual(['medium']);
    expect(alertLines(answered.state, o1, []).map((one) => one.priority)).toEqual(['medium']);
  });

  it('name a deviation and a breach in plain words, and a time to come as a time of day', () => {
    const texts = ({ world }: Given) => alertLines(world.state, o1, []).map((one) => alertText(world.state, one));
    const wrong = given(
      onDuty('o1'),
      inside('o1', 'w1'),
      reports('o1', 'declare-breach', { worker: 'w1', breachKind: 'splash' }),
      reports('c1', 'call-out', { worker: 'w1' }),
      taken('o1', 'w1'),
      reports('o1', 'note-deviation', {
        worker: 'w1',
        step: 'wipe-gloves',
        deviationKind: 'missed',
        actor: 'observer',
      }),
      passes(second),
    );
    expect(texts(wrong)).toEqual([
      { is: 'breach', name: 'Splash' },
      { is: 'deviation', kind: 'missed', actor: 'observer' },
    ]);
    const soon = given(onDuty('o1'), inside('o1', 'w1'), passes(36 * minute));
    expect(texts(soon)).toEqual([{ is: 'call-out-at', at: openedAt + 45 * minute }]);
  });
});

describe('the inspection', () => {
  it('goes from head to toe through what donning put on', () => {
    const order = (id: string) => inspectionItems(demoProcedure(id)).map((item) => item.id);
    expect(order('respirator-gown')).toEqual([
      'hood',
      'face-shield',
      'respirator',
      'gown',
      'apron',
      'outer-gloves',
      'inner-gloves',
      'boot-covers',
    ]);
    expect(order('powered-coverall')).toEqual([
      'hood',
      'hose',
      'coverall',
      'powered-unit',
      'outer-gloves',
      'inner-gloves',
      'boot-covers',
    ]);
  });

  it('asks piece by piece, and ends with passing or with the steps to go back to', () => {
    expect(inspectionPage(gown, {})).toMatchObject({ ask: 'item', item: { id: 'mask' }, number: 1, total: 3 });
    expect(inspectionPage(gown, { mask: 'right' })).toMatchObject({ ask: 'item', item: { id: 'gown' }, number: 2 });
    expect(inspectionPage(gown, { mask: 'right', gown: 'right', gloves: 'right' })).toEqual({ ask: 'pass' });
    // One step puts on gown and mask: it is done again once.
    const back = inspectionPage(gown, { mask: 'not-right', gown: 'not-right', gloves: 'right' });
    expect(back).toMatchObject({ ask: 'send-back', steps: ['gown-on'] });
    if (back.ask !== 'send-back') return;
    const { state } = given(onDuty('o1'), dressed('o1', 'w1')).when(
      reports('o1', 'fail-inspection', { worker: 'w1', steps: back.steps }),
    );
    expect(workerOf(state, 'w1').entry?.outstanding.donning).toEqual(['gown-on']);
  });
});

it('lists the steps of a phase with what each waits for, what may come now, and what is unsent', () => {
  const story = given(
    onDuty('o1'),
    inside('o1', 'w1'),
    atThreshold('o1', 'w1'),
    enters('o1', 'w1', 'l1'),
    verified('o1', 'w1', 'clean-gloves'),
  );
  const outcome = verified('o1', 'w1', 'gown-off')(story.world);
  const entry = workerOf(outcome.world.state, 'w1').entry;
  if (!entry) throw new Error('no entry');
  const rows = stepRows(gown, entry, 'doffing', 'gloves-off' as StepId, [outcome.report as Report]);
  expect(rows.map((row) => [row.step.id, row.stage, row.unsent])).toEqual([
    ['clean-gloves', 'done', false],
    ['gown-off', 'done', true],
    ['gloves-off', 'now', false],
    ['mask-off', 'open', false],
  ]);
  const before = workerOf(story.world.state, 'w1').entry;
  if (!before) throw new Error('no entry');
  const [, , later] = stepRows(gown, before, 'doffing', 'gown-off' as StepId, []);
  expect(later).toMatchObject({ stage: 'later', waitsFor: [{ id: 'gown-off' }] });
});

it('watches what is touched, but not hands on themselves nor what is just being disinfected', () => {
  const touched = (id: string) =>
    demoProcedure('respirator-gown')
      .steps.filter((step) => step.id === id)
      .map((step) => watchFor(step).touches);
  expect(touched('rub-hands-first')).toEqual([[]]);
  expect(touched('exit-gloves')).toEqual([[]]);
  expect(touched('boot-covers-on')).toEqual([['boot covers', 'shoes']]);
});
