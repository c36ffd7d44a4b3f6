import type { AdoptionProof } from '../wire/fact.ts';
import type { Procedure, Step } from './procedure.ts';
import { proofProblems, type ProofProblem } from './proof-problems.ts';
import { prove, type Proof } from './prove.ts';
import type { SearchLimits } from './search.ts';

/**
 * What decides whether a version may be adopted on a screen. The same code runs in the server when the report comes and when the
 * lead's screen asks beforehand, with the same limits, so that both say the same.
 */

/** What an alert reads out must fit, with who and where, into its sentence of 600 characters. */
export const spokenMax = 480;

/** Everything that keeps a version from being followed or proved, and where. */
export function adoptionProblems(procedure: Procedure): ProofProblem[] {
  const unspeakable = procedure.steps.flatMap(({ id, whenWrong = '' }, index): ProofProblem[] => {
    if (whenWrong.length <= spokenMax) return [];
    const sentence = `Step "${id}": ${whenWrong.length} characters are too long to be read out in an alert; ${spokenMax} fit.`;
    return [{ code: 'procedure/too-long-to-say', path: ['steps', index, 'whenWrong'], sentence }];
  });
  return [...proofProblems(procedure), ...unspeakable];
}

const statesMost = 3_000;
const movesMost = 20_000;
/** Names a search may look at. Measured with the widest procedures a message holds: docs/lead.md has the figures. */
const namesMost = 3_000_000;

/**
 * Limits of the search in the running server, where nobody may wait for it: a state asks every step what it comes after, and a
 * move looks at all that its step names. The shipped procedures need about 120 states.
 */
export function adoptionLimits({ steps }: Procedure): SearchLimits {
  const perState = steps.reduce((sum, step) => sum + 1 + step.after.length, 0);
  const perMove = steps.reduce((most, step) => Math.max(most, namesIn(step)), 1);
  return {
    states: Math.min(statesMost, Math.floor(namesMost / perState)),
    moves: Math.min(movesMost, Math.floor(namesMost / perMove)),
  };
}

function namesIn(step: Step): number {
  return Object.values(step).reduce<number>((sum, value) => sum + (Array.isArray(value) ? value.flat().length : 0), 1);
}

export const proveForAdoption = (procedure: Procedure): Proof =>
  prove(procedure, {}, { limits: adoptionLimits(procedure) });

/** What a fact keeps of a proof; undefined where there was nothing to prove, because the procedure is not sound. */
export function adoptionProofOf(proof: Proof): AdoptionProof | undefined {
  switch (proof.verdict) {
    case 'proved':
      return { verdict: 'proved', states: proof.states, orders: String(proof.orders) };
    case 'not-proved':
      return { verdict: 'not-proved', states: proof.states, sentence: proof.counterExample.sentence };
    case 'undecided':
      return { verdict: 'undecided', states: proof.states, sentence: proof.sentence };
    case 'unfit':
      return undefined;
    default:
      return proof satisfies never;
  }
}
