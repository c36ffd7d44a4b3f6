import type { StepId } from '../wire/ids.ts';
import { assumptionsOf, type Assumptions } from './assumptions.ts';
import { surfacesOf } from './contamination.ts';
import { faultsOf, type Fault } from './faults.ts';
import type { Procedure, Step } from './procedure.ts';
import { assumptionNames, type AssumptionName } from './proof-fields.ts';
import { prove } from './prove.ts';

/**
 * Turns the proof on itself: a procedure that holds is spoiled in every single way, and the proof has to notice, or it must be
 * plain why the fault does no harm.
 */
export interface FaultResult {
  fault: Fault;
  outcome:
    | { is: 'caught'; sentence: string }
    | { is: 'harmless'; why: string }
    /** The faulty copy allows too many orders to walk them all. */
    | { is: 'undecided'; sentence: string };
}

/** @param procedure one that is proved under these assumptions; of any other there is nothing to learn */
export function checkFaults(
  procedure: Procedure,
  assume: Partial<Record<AssumptionName, boolean>> = {},
): FaultResult[] {
  const assumptions = assumptionsOf(procedure, assume);
  const holdsWithout = assumptionNames.filter(
    (name) => assumptions[name] && prove(procedure, { ...assumptions, [name]: false }).verdict === 'proved',
  );
  const soiled = soiledAtHygiene(procedure, assumptions);
  return faultsOf(procedure).map((fault) => {
    const proof = prove(fault.procedure, assumptions);
    switch (proof.verdict) {
      case 'unfit':
        return { fault, outcome: { is: 'caught', sentence: proof.problems[0]?.sentence ?? '' } };
      case 'not-proved':
        return { fault, outcome: { is: 'caught', sentence: proof.counterExample.sentence } };
      case 'undecided':
        return { fault, outcome: { is: 'undecided', sentence: proof.sentence } };
      case 'proved':
        return {
          fault,
          outcome: { is: 'harmless', why: whyHarmless(procedure, fault, { assumptions, holdsWithout, soiled }) },
        };
      default:
        return proof satisfies never;
    }
  });
}

interface Grounds {
  assumptions: Assumptions;
  /** Assumptions that the procedure itself does not need. */
  holdsWithout: AssumptionName[];
  /** Steps whose hygiene finds something to clear, in some order. */
  soiled: ReadonlySet<StepId>;
}

function whyHarmless(procedure: Procedure, fault: Fault, { assumptions, holdsWithout, soiled }: Grounds): string {
  if (fault.kind === 'after-removed' && isStillOrdered(fault))
    return 'The other `after` entries keep this order anyway.';
  const guarded = holdsWithout.find(
    (name) => prove(fault.procedure, { ...assumptions, [name]: false }).verdict !== 'proved',
  );
  if (guarded) return `A second barrier: it would be caught if "${guarded}" were not assumed.`;
  const [first, then] = fault.steps.map((id) => procedure.steps.find((step) => step.id === id));
  const idle = [first, then].find((step) => step && isIdle(step));
  if (idle) return `Nobody touches or disinfects anything in "${idle.id}": its place carries no contamination.`;
  if (fault.kind === 'steps-swapped' || fault.kind === 'after-removed')
    return 'In either order what gets contaminated is disinfected or taken off before it reaches anything that must stay clean.';
  if (first?.hygiene && !soiled.has(first.id)) return cleanAlready(procedure, first.id, assumptions);
  if (first?.hygiene)
    return `What "${first.id}" disinfects is disinfected again before it reaches anything that must stay clean.`;
  if (fault.kind === 'not-inside-out')
    return 'Its outside was disinfected or turned in before, or what it would brush is contaminated anyway.';
  return 'What is touched in it is contaminated anyway, or disinfected before it reaches anything that must stay clean.';
}

function isStillOrdered({ procedure, steps: [first, then] }: Fault): boolean {
  const byId = new Map(procedure.steps.map((step) => [step.id, step]));
  const seen = new Set<StepId>();
  const waiting = then ? [...(byId.get(then)?.after ?? [])] : [];
  for (let next = waiting.pop(); next !== undefined; next = waiting.pop()) {
    if (next === first) return true;
    if (seen.has(next)) continue;
    seen.add(next);
    waiting.push(...(byId.get(next)?.after ?? []));
  }
  return false;
}

/** Which assumption keeps clean what a disinfection would otherwise have to clear. */
function cleanAlready(procedure: Procedure, id: StepId, assumptions: Assumptions): string {
  // Without this the first disinfected glove near the face would end the search before later steps are seen.
  const lenient = { ...assumptions, 'disinfected-gloves-near-face': true };
  const keeps = assumptionNames.find(
    (name) => assumptions[name] && soiledAtHygiene(procedure, { ...lenient, [name]: false }).has(id),
  );
  const why = keeps ? `as long as "${keeps}" holds` : 'in every order';
  return `What "${id}" disinfects is clean already, ${why}: a second barrier.`;
}

const isIdle = ({ touches, putsOn, takesOff, hygiene, engages = [], meets = [], sitsOn }: Step): boolean =>
  touches.length + putsOn.length + takesOff.length + engages.length + meets.length === 0 && !hygiene && !sitsOn;

/** In which steps, in some order, the hygiene meets something contaminated, or hands that wait for it. */
function soiledAtHygiene(procedure: Procedure, assumptions: Assumptions): Set<StepId> {
  const found = new Set<StepId>();
  prove(procedure, assumptions, {
    visit: (model, world, step) => {
      const waiting = [model.at['hands-unrubbed'], model.at['hands-unwashed']].some((mark) => world[mark]);
      for (const named of step.cleans)
        for (const surface of surfacesOf(model, world, named, step.step.phase))
          if (world[surface] || (surface === model.at.hands && waiting)) found.add(step.step.id);
    },
  });
  return found;
}
