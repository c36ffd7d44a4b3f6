import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { mendOf } from '../../machines/procedure/mend.ts';
import { phases, type Phase, type Procedure, type Step } from '../../machines/procedure/procedure.ts';
import { prove } from '../../machines/procedure/prove.ts';
import { stepId, type StepId } from '../../machines/wire/ids.ts';
import { shippedIds, shippedProcedure } from '../checks/prover-files.ts';
import { alwaysBefore, ancestors, walk } from '../support/partial-order.ts';
import { simulated } from './prove-simulation.ts';

/** All five hold: the four by guidance as they are, the field procedure as the proof mends it. */
const proved: Procedure[] = shippedIds.map((id) => {
  const procedure = shippedProcedure(id);
  return mendOf(procedure)?.procedure ?? procedure;
});
const anyProved = fc.constantFrom(...proved);

const verdictOf = (procedure: Procedure): string => {
  const proof = prove(procedure);
  return proof.verdict === 'not-proved' ? proof.counterExample.sentence : proof.verdict;
};

const handOf = { worker: ['hands', 'inner-gloves', 'outer-gloves', 'fresh-gloves', 'short-gloves', 'long-gloves'] };

describe('a proved procedure', () => {
  it('are all five', () => expect(proved.map(verdictOf)).toEqual(proved.map(() => 'proved')));

  it('still holds when somebody disinfects their hands once more, wherever that is before they leave', () => {
    const more = fc.record({
      procedure: anyProved,
      at: fc.nat(),
      surface: fc.constantFrom(...handOf.worker),
      helper: fc.boolean(),
    });
    fc.assert(
      fc.property(more, ({ procedure, at, surface, helper }) => {
        const place = procedure.steps[at % procedure.steps.length] as Step;
        expect(verdictOf(withHygiene(procedure, place, helper ? 'assistant-gloves' : surface))).toBe('proved');
      }),
      { numRuns: 150 },
    );
  });

  it('still holds when a step also disinfects the hands that do it', () => {
    fc.assert(
      fc.property(anyProved, fc.nat(), fc.constantFrom(...handOf.worker), (procedure, at, surface) => {
        const index = at % procedure.steps.length;
        const steps = procedure.steps.map((step, place) =>
          place === index && !step.hygiene && step.by === 'worker'
            ? { ...step, hygiene: { agent: 'alcohol hand rub', contactSeconds: 60, covers: [surface] } }
            : step,
        );
        const place = procedure.steps[index] as Step;
        const isHand = surface === 'hands' || isWornAt(procedure, surface, place);
        if (isHand && !place.leaves) expect(verdictOf({ ...procedure, steps })).toBe('proved');
      }),
      { numRuns: 150 },
    );
  });

  it('still holds when one more step has to wait for another', () => {
    fc.assert(
      fc.property(anyProved, fc.nat(), fc.nat(), (procedure, one, other) => {
        const phase = phases[one % 3] as Phase;
        const steps = procedure.steps.filter((step) => step.phase === phase);
        const first = steps[one % steps.length] as Step;
        const then = steps[other % steps.length] as Step;
        if (first === then || ancestors(procedure, first.id).has(then.id)) return;
        const waiting = procedure.steps.map((step) =>
          step === then ? { ...step, after: [...step.after, first.id] } : step,
        );
        expect(verdictOf({ ...procedure, steps: waiting })).toBe('proved');
      }),
      { numRuns: 150 },
    );
  });

  it('simulates clean in orders walked at random, by a simulation that knows nothing of the prover', () => {
    fc.assert(
      fc.property(anyProved, fc.infiniteStream(fc.nat()), fc.boolean(), (procedure, choices, isEmergency) => {
        expect(simulated(procedure, randomOrder(procedure, choices), isEmergency)).toEqual([]);
      }),
      { numRuns: 200 },
    );
  });
});

it('the simulation notices what the prover notices: the orders of its counter-examples', () => {
  const field = shippedProcedure('field-gown');
  const order = phases.flatMap((phase) => walk(field, phase, (open) => open[0]));
  expect(simulated(field, order, false)).toContain('long-gloves-off: short-gloves');
  const gown = shippedProcedure('respirator-gown');
  const steps = gown.steps.map((step) => (step.id === 'rub-inner-after-gown' ? { ...step, hygiene: undefined } : step));
  const spoiled = { ...gown, steps };
  const spoiledOrder = phases.flatMap((phase) => walk(spoiled, phase, (open) => open[0]));
  expect(simulated(spoiled, spoiledOrder, false)[0]).toMatch(/^boot-covers-off: (legs|shoes)/);
});

const randomOrder = (procedure: Procedure, choices: fc.Stream<number>): StepId[] =>
  phases.flatMap((phase) => walk(procedure, phase, (open) => open[Number(choices.next().value) % open.length]));

/** A step of its own, right before another one; what that one waited for it waits for. */
function withHygiene(procedure: Procedure, before: Step, surface: string): Procedure {
  const isHand = surface === 'hands' || (surface === 'assistant-gloves' && procedure.doffingAssistant);
  if (before.leaves || (!isHand && !isWornAt(procedure, surface, before))) return procedure;
  const added: Step = {
    id: stepId.parse('one-more-rub'),
    phase: before.phase,
    words: 'Rub.',
    by: surface === 'assistant-gloves' ? 'assistant' : 'worker',
    verifiedBy: 'observer',
    after: before.after,
    putsOn: [],
    takesOff: [],
    touches: [surface],
    hygiene: { agent: 'alcohol hand rub', contactSeconds: 60, covers: [surface] },
    critical: false,
    uses: [],
  };
  const steps = procedure.steps.flatMap((step) =>
    step === before ? [added, { ...step, after: [...step.after, added.id] }] : [step],
  );
  return { ...procedure, steps };
}

/** What lies ready and is not worn yet is no hand: rubbing it is handling it. */
function isWornAt(procedure: Procedure, item: string, step: Step): boolean {
  const on = procedure.steps.find((one) => (one.putsOn as string[]).includes(item));
  return on !== undefined && alwaysBefore(procedure, on.id, step.id);
}
