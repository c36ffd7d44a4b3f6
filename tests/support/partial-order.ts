import { openSteps, stepsOf } from '../../machines/procedure/order.ts';
import { phases, type Phase, type Procedure, type Step } from '../../machines/procedure/procedure.ts';
import type { StepId } from '../../machines/wire/ids.ts';

/** What every order of a procedure has in common, and orders to try it on. */

const phaseOf = (procedure: Procedure, id: StepId): Phase => stepOf(procedure, id).phase;

export function stepOf(procedure: Procedure, id: StepId): Step {
  const found = procedure.steps.find((step) => step.id === id);
  if (!found) throw new Error(`no step "${id}" in ${procedure.id}`);
  return found;
}

/** Every step of the same phase that must be done before this one may start, near or far. */
export function ancestors(procedure: Procedure, id: StepId): Set<StepId> {
  const { phase, after } = stepOf(procedure, id);
  const found = new Set<StepId>();
  const waiting = [...after];
  for (let next = waiting.pop(); next !== undefined; next = waiting.pop()) {
    if (found.has(next) || phaseOf(procedure, next) !== phase) continue;
    found.add(next);
    waiting.push(...stepOf(procedure, next).after);
  }
  return found;
}

/** Whether `first` comes before `then` in every order that the procedure allows. */
export function alwaysBefore(procedure: Procedure, first: StepId, then: StepId): boolean {
  const [one, other] = [phaseOf(procedure, first), phaseOf(procedure, then)];
  return one === other ? ancestors(procedure, then).has(first) : phases.indexOf(one) < phases.indexOf(other);
}

/** One allowed order of a phase, walked as a unit walks it: whatever is open may be chosen. */
export function walk(procedure: Procedure, phase: Phase, choose: (open: Step[]) => Step | undefined): StepId[] {
  let outstanding = stepsOf(procedure, phase).map((step) => step.id);
  const order: StepId[] = [];
  while (outstanding.length > 0) {
    const open = openSteps(procedure, phase, outstanding);
    const next = choose(open) ?? open[0];
    if (!next) throw new Error(`nothing is open with ${outstanding.join(', ')} outstanding`);
    order.push(next.id);
    outstanding = outstanding.filter((id) => id !== next.id);
  }
  return order;
}

/** The allowed order in which a step comes as late as it possibly can. */
export const delaying = (procedure: Procedure, id: StepId): StepId[] =>
  walk(procedure, phaseOf(procedure, id), (open) => open.find((step) => step.id !== id));

/**
 * A copy in which `first` need not come before `then` any more, and nothing else is loosened that need not be: only
 * `first` floats free of the steps on the way from it to `then`.
 */
export function withoutPrecedence(procedure: Procedure, first: StepId, then: StepId): Procedure {
  const upTo = new Set([then, ...ancestors(procedure, then)]);
  const loosened = (step: Step): Step => {
    const before = ancestors(procedure, step.id);
    if (upTo.has(step.id)) before.delete(first);
    return { ...step, after: [...before] };
  };
  return { ...procedure, steps: procedure.steps.map(loosened) };
}

/** A copy without one entry of one `after` list. */
export function withoutAfter(procedure: Procedure, id: StepId, before: StepId): Procedure {
  const steps = procedure.steps.map((step) =>
    step.id === id ? { ...step, after: step.after.filter((one) => one !== before) } : step,
  );
  return { ...procedure, steps };
}
