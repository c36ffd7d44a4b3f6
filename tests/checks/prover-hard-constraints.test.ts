import { describe, expect, it } from 'vitest';
import { mendOf } from '../../machines/procedure/mend.ts';
import type { Procedure } from '../../machines/procedure/procedure.ts';
import { prove, type Proof } from '../../machines/procedure/prove.ts';
import { constraints } from './prover-constraints.ts';
import { shippedIds, shippedProcedure, type ShippedId } from './prover-files.ts';

// Every hard constraint of the trade as a fault: a procedure that breaks it must not be proved. The field procedure is tried as
// the proof mends it; it claims only the constraints that are common practice.

const procedures = Object.fromEntries(
  shippedIds.map((id) => {
    const procedure = shippedProcedure(id);
    return [id, mendOf(procedure)?.procedure ?? procedure];
  }),
) as Record<ShippedId, Procedure>;

/** By a counter-example; where people are missing altogether, before any order is walked. */
function noticed(proof: Proof): boolean | string {
  if (proof.verdict !== 'unfit') return proof.verdict === 'not-proved' || proof.verdict;
  const expected = ['proof/nobody-engaged', 'proof/assistant-needed', 'procedure/no-assistant'];
  return proof.problems.every((problem) => expected.includes(problem.code)) || JSON.stringify(proof.problems);
}

describe.each(shippedIds)('%s', (id) => {
  const procedure = procedures[id];
  const claimed = constraints.filter((one) => one.of.includes(id));

  it('holds to begin with', () => expect(prove(procedure).verdict).toBe('proved'));

  it.each(claimed.map((one) => [one.says, one.source, one] as const))(
    'notices when it breaks: %s (%s)',
    (_says, _source, { spoil }) => {
      const spoiled = spoil(procedure);
      expect(spoiled.length).toBeGreaterThan(0);
      for (const one of spoiled) expect(one).not.toEqual(procedure);
      expect(spoiled.map((one) => noticed(prove(one)))).toEqual(spoiled.map(() => true));
    },
  );
});

it('names a source for every constraint', () => {
  for (const { source, says } of constraints)
    expect(source, says).toMatch(/CDC PPE training 2014|from memory|no source/);
});
