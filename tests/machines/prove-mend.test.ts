import { describe, expect, it } from 'vitest';
import { mendOf } from '../../machines/procedure/mend.ts';
import type { Procedure } from '../../machines/procedure/procedure.ts';
import { prove } from '../../machines/procedure/prove.ts';
import { shippedProcedure } from '../checks/prover-files.ts';
import { changed, smallProcedure, withLayer, withoutStep, withStep } from './prove-fixture.ts';

const stepIn = (procedure: Procedure, id: string) => {
  const found = procedure.steps.find((step) => step.id === id);
  if (!found) throw new Error(`no step ${id}`);
  return found;
};

describe('the smallest change that mends a procedure', () => {
  it.each([
    [
      'one more `after`',
      changed(withStep('outer-off', { after: ['look-all'] })),
      ['Let "outer-off" come after "rub-outer".'],
    ],
    [
      'one more disinfection',
      changed(withoutStep('rub-after-gown')),
      ['Before "inner-off", disinfect the inner gloves (hand rub, 30 s).'],
    ],
    [
      'the full contact time',
      changed(
        withStep('rub-after-gown', { hygiene: { agent: 'hand rub', contactSeconds: 5, covers: ['inner-gloves'] } }),
      ),
      ['Give "rub-after-gown" the full contact time of 20 s.'],
    ],
    [
      'another way of taking off',
      changed(withStep('gown-off', { comesOff: 'pulled' })),
      ['Let "gown-off" take it off inside out (comesOff).'],
    ],
    [
      "a helper's disinfection",
      changed(withStep('untie', { by: 'observer' })),
      ['Before "look-body", disinfect the observer gloves (hand rub, 30 s).'],
    ],
  ])('is %s', (_, procedure, sentences) => {
    expect(prove(procedure).verdict).toBe('not-proved');
    const mend = mendOf(procedure);
    expect(mend?.sentences).toEqual(sentences);
    expect(mend && prove(mend.procedure).verdict).toBe('proved');
  });

  it('is several where one is not enough, and none of them can be left out', () => {
    const procedure = changed(withoutStep('rub-after-gown'), withStep('outer-off', { after: ['look-all'] }));
    expect(mendOf(procedure)?.sentences).toHaveLength(2);
  });

  it('is none where nothing is broken, or where no small change helps', () => {
    expect(mendOf(smallProcedure())).toBeUndefined();
    expect(mendOf(changed(withLayer('mask', { covers: ['mouth', 'eyes'] })))).toBeUndefined();
  });

  it('is found under the assumptions that are asked about', () => {
    const strict = { 'rear-straps-clean': false };
    const procedure = changed(withoutStep('rub-after-mask'), withStep('untie', { near: ['head'] }));
    expect(prove(procedure).verdict).toBe('proved');
    expect(mendOf(procedure, strict)?.sentences).toEqual([
      'Before "untie", disinfect the inner gloves (hand rub, 30 s).',
    ]);
  });
});

// Found by the proof when it was first run on the shipped files: between the boot covers and the rub after them the gown could be
// put on with gloves that had touched the shoes.
it('the hole that was found in respirator-gown stays found, and its mend is what the file says now', () => {
  const shipped = shippedProcedure('respirator-gown');
  const before = {
    ...shipped,
    steps: shipped.steps.map((step) => {
      if (step.id === 'gown-on') return { ...step, after: [stepIn(shipped, 'inner-gloves-on').id] };
      if (step.id === 'outer-gloves-on')
        return { ...step, after: [...step.after, stepIn(shipped, 'rub-gloves-after-boots').id] };
      return step;
    }),
  };
  const proof = prove(before);
  if (proof.verdict !== 'not-proved') throw new Error(proof.verdict);
  expect(proof.counterExample.steps.at(-1)?.id).toBe('gown-on');
  expect(proof.counterExample.chain.map((one) => one.surface)).toEqual(['shoes', 'inner-gloves', 'scrubs']);
  expect(mendOf(before)?.sentences).toEqual(['Let "gown-on" come after "rub-gloves-after-boots".']);
  expect(stepIn(shipped, 'gown-on').after).toEqual(['rub-gloves-after-boots']);
});
