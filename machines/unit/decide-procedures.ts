import { adoptionProblems, adoptionProofOf, proveForAdoption } from '../procedure/adoption.ts';
import type { Procedure } from '../procedure/procedure.ts';
import { sentenceMost, type AdoptionProof } from '../wire/fact.ts';
import { accept, draft, refuse, type Decider, type Decision } from './decision.ts';
import { at, type UnitState } from './state.ts';

/** Reports about what a unit goes by: which version of a procedure the next entry gets. */

/**
 * A version is adopted when its number is new, when it can be followed at all, and when no order it allows contaminates, or
 * somebody answers for going without that proof.
 */
export const adoptProcedure: Decider<'adopt-procedure'> = (one) => {
  const { procedure, override } = one.report.data;
  const next = nextVersion(one.state, procedure);
  if (procedure.version < next) return notHigher(one.state, procedure, next);
  const [problem] = adoptionProblems(procedure);
  if (problem) return refuse('procedure/not-sound', clipped(`${problem.sentence} Nothing was adopted.`));
  const proof = adoptionProofOf(proveForAdoption(procedure));
  if (!proof) return refuse('procedure/not-sound', 'This procedure cannot be put to the proof. Nothing was adopted.');
  if (proof.verdict === 'proved') return accept(draft(one, 'procedure-adopted', { procedure, proof }));
  if (override === undefined) return refuse('procedure/not-proved', notProved(proof));
  const kept = { ...proof, sentence: clipped(proof.sentence) };
  return accept(draft(one, 'procedure-adopted', { procedure, proof: kept, overrideReason: override }));
};

/** The lowest number a new version of this procedure may have: above every one on record, whatever became of it. */
export function nextVersion(state: UnitState, { id }: Pick<Procedure, 'id'>): number {
  const recorded = Object.values(state.procedures).flatMap((one) => (one.id === id ? [one.version] : []));
  return Math.max(0, at(state.adopted, id) ?? 0, ...recorded) + 1;
}

function notHigher(state: UnitState, { id, version }: Procedure, next: number): Decision {
  const adopted = at(state.adopted, id);
  const now = adopted === undefined ? 'is on record' : `of ${id} is adopted`;
  return refuse(
    'procedure/version-not-higher',
    `This says version ${version}, and version ${adopted ?? next - 1} ${now}. Give it version ${next}, so that every card and record says which words it means.`,
  );
}

function notProved(proof: Exclude<AdoptionProof, { verdict: 'proved' }>): string {
  const why = proof.verdict === 'not-proved' ? 'An order that it allows contaminates' : 'It could not be proved';
  return clipped(`${why}: ${proof.sentence} Change it, or give a reason for adopting it all the same.`);
}

const clipped = (sentence: string): string =>
  sentence.length <= sentenceMost ? sentence : `${sentence.slice(0, sentenceMost - 1)}…`;
