import { describe, expect, it } from 'vitest';
import { openSteps, procedureProblems, stepById, stepsBefore, stepsOf } from '../../machines/procedure/order.ts';
import { procedure, type Procedure } from '../../machines/procedure/procedure.ts';
import type { StepId } from '../../machines/wire/ids.ts';
import { gown, hood } from '../support/unit-fixture.ts';

const ids = (steps: readonly { id: string }[]) => steps.map((step) => step.id);
const all = (phase: 'donning' | 'exit' | 'doffing') => ids(stepsOf(gown, phase)) as StepId[];
const without = (...done: string[]) => all('doffing').filter((step) => !done.includes(step));

describe('open steps', () => {
  it('are those with everything before them done, in the order of the file', () => {
    expect(ids(openSteps(gown, 'doffing', all('doffing')))).toEqual(['clean-gloves']);
    expect(ids(openSteps(gown, 'doffing', without('clean-gloves')))).toEqual(['gown-off']);
    expect(ids(openSteps(gown, 'doffing', without('clean-gloves', 'gown-off')))).toEqual(['gloves-off', 'mask-off']);
    expect(openSteps(gown, 'doffing', [])).toEqual([]);
  });

  it('are of one phase: what an emergency left undone at the door does not hold up the doffing', () => {
    const after = withStep('clean-gloves', { after: ['wipe-gloves' as StepId] });
    expect(ids(openSteps(after, 'doffing', all('doffing')))).toEqual(['clean-gloves']);
  });

  it('of any procedure without problems lead to its end, in whatever order they are taken', () => {
    for (const one of [gown, hood])
      for (const pick of [0, -1])
        for (const phase of ['donning', 'exit', 'doffing'] as const) {
          let outstanding = ids(stepsOf(one, phase)) as StepId[];
          for (let round = stepsOf(one, phase).length; round > 0; round -= 1) {
            const step = openSteps(one, phase, outstanding).at(pick);
            outstanding = outstanding.filter((id) => id !== step?.id);
          }
          expect([one.id, phase, outstanding]).toEqual([one.id, phase, []]);
        }
  });
});

describe('steps before', () => {
  it('are those that are missing, not those that are done', () => {
    const step = stepById(gown, 'gown-off' as StepId)!;
    expect(ids(stepsBefore(gown, step, all('doffing')))).toEqual(['clean-gloves']);
    expect(stepsBefore(gown, step, without('clean-gloves'))).toEqual([]);
    expect(stepById(gown, 'no-such-step' as StepId)).toBeUndefined();
  });
});

const withSteps = (change: (steps: Procedure['steps']) => unknown[]): Procedure =>
  procedure.parse({ ...gown, steps: change(gown.steps) });
const withStep = (id: string, change: Partial<Procedure['steps'][number]>): Procedure =>
  withSteps((steps) => steps.map((step) => (step.id === id ? { ...step, ...change } : step)));
const after = (...before: string[]) => ({ after: before as StepId[] });

describe('faults of a procedure', () => {
  it('the procedures of these tests have none', () => {
    expect([procedureProblems(gown), procedureProblems(hood)]).toEqual([[], []]);
  });

  it.each([
    ['duplicate-step', withSteps((steps) => [...steps, { ...steps[3]! }]), 'wipe-gloves', /Two steps are called/],
    ['unknown-step', withStep('gloves-on', after('rub-feet')), 'gloves-on', /"rub-feet", which no step is called/],
    ['later-phase', withStep('gloves-on', after('gown-off')), 'gloves-on', /the later doffing/],
    [
      'cycle',
      withStep('clean-gloves', after('mask-off')),
      'clean-gloves',
      /never start: clean-gloves, gown-off, mask-off\.$/,
    ],
    ['cycle', withStep('rub-hands', after('rub-hands')), 'rub-hands', /can never start/],
    ['unknown-item', withStep('gown-off', { takesOff: ['gown', 'cape'] }), 'gown-off', /"cape"/],
    [
      'unknown-item',
      withStep('rub-hands', { hygiene: { agent: 'rub', contactSeconds: 5, covers: ['cape'] } }),
      'rub-hands',
      /"cape"/,
    ],
    ['never-removed', withStep('mask-off', { takesOff: [] }), undefined, /"mask" is put on and never taken off/],
    ['removed-twice', withStep('clean-gloves', { takesOff: ['gown'] }), undefined, /"gown" is taken off more often/],
    [
      'empty-phase',
      withSteps((steps) => steps.filter((step) => step.phase !== 'donning')),
      undefined,
      /no donning step/,
    ],
    [
      'empty-phase',
      withSteps((steps) => steps.filter((step) => step.phase !== 'doffing')),
      undefined,
      /no doffing step/,
    ],
    ['no-assistant', withStep('gown-off', { by: 'assistant' }), 'gown-off', /doffingAssistant is false/],
    ['no-assistant', withStep('gown-off', { verifiedBy: 'assistant' }), 'gown-off', /doffingAssistant is false/],
    [
      'verified-by-nobody',
      withStep('gown-off', { by: 'assistant', verifiedBy: 'assistant' }),
      'gown-off',
      /did themselves/,
    ],
  ])('%s is found, named and explained', (code, faulty, step, sentence) => {
    const found = procedureProblems(faulty).filter((problem) => problem.code === `procedure/${code}`);
    expect(found).toHaveLength(1);
    expect(found[0]?.step).toBe(step);
    expect(found[0]?.sentence).toMatch(sentence);
  });

  it.each([
    ['kit', 'duplicate-point'],
    ['readiness', 'duplicate-point'],
    ['laneReadiness', 'duplicate-point'],
  ] as const)('a point of %s listed twice is found', (list, code) => {
    const faulty = { ...gown, [list]: [...gown[list], gown[list][0]!] };
    expect(procedureProblems(faulty).map((problem) => problem.code)).toEqual([`procedure/${code}`]);
  });

  it('an item listed twice is found', () => {
    const { ensemble } = gown;
    const faulty = { ...gown, ensemble: { ...ensemble, items: [...ensemble.items, ensemble.items[0]!] } };
    expect(procedureProblems(faulty).map((problem) => problem.code)).toEqual(['procedure/duplicate-item']);
  });

  it('an order across phases is fine as long as it runs forward', () => {
    expect(procedureProblems(withStep('clean-gloves', after('wipe-gloves')))).toEqual([]);
  });

  it('there may be no step at the door', () => {
    expect(procedureProblems(withSteps((steps) => steps.filter((step) => step.phase !== 'exit')))).toEqual([]);
  });
});
