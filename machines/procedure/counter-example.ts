import type { StepId } from '../wire/ids.ts';
import type { Note } from './contamination.ts';
import type { Phase } from './procedure.ts';
import type { Model, ModelStep } from './proof-model.ts';
import type { RuleName, Violation } from './rules.ts';
import type { Reached } from './search.ts';
import { surfaceWords } from './surfaces.ts';
import { takeStep } from './take-step.ts';

/** A shortest order that breaks a rule, as it is told to the person who has to mend the procedure. */
export interface CounterExample {
  rule: RuleName;
  sentence: string;
  /** Where the order begins: before donning, in the room at the door, or in the lane. */
  starts: 'donning' | 'at-the-door' | 'in-the-lane' | 'in-the-lane-after-emergency';
  /** The steps of the phase in which the rule breaks, the last one the step that breaks it. */
  steps: { id: StepId; words: string }[];
  /** It breaks in the room, after all these steps. */
  inRoom: boolean;
  /** Steps of the phases before, when it matters in which order they were done. */
  earlier: StepId[];
  /** How the contamination got there, from where it was at the start; empty when the rule is not about contamination. */
  chain: Carried[];
}

export interface Carried {
  surface: string;
  /** The surface as it is said. */
  words: string;
  /** The step in which it became contaminated; none when it was so from the start. */
  step: StepId | undefined;
}

interface Origin {
  surface: number;
  step: StepId | undefined;
  from: Origin | undefined;
}

export type Break = { at: Reached; step?: ModelStep; violation: Violation; inRoom?: boolean };

export function counterExampleOf(model: Model, { at, step, violation, inRoom = false }: Break): CounterExample {
  const { start, steps } = pathTo(at);
  const all = step ? [...steps, step] : steps;
  return {
    rule: violation.rule,
    sentence: violation.sentence,
    starts: startName(model, start, step ?? steps[0]),
    steps: all.map(({ step: { id, words } }) => ({ id, words })),
    inRoom,
    earlier: inRoom ? [] : earlierSteps(start),
    chain: inRoom || violation.surface === undefined ? [] : chainTo(model, start, all, violation.surface),
  };
}

function pathTo(at: Reached): { start: Reached; steps: ModelStep[] } {
  const steps: ModelStep[] = [];
  let reached = at;
  for (; reached.step && reached.before; reached = reached.before) steps.unshift(reached.step);
  return { start: reached, steps };
}

function startName(model: Model, start: Reached, first: ModelStep | undefined): CounterExample['starts'] {
  const phase: Phase = first?.step.phase ?? 'donning';
  switch (phase) {
    case 'donning':
      return 'donning';
    case 'exit':
      return 'at-the-door';
    case 'doffing':
      return start.before?.step?.step.phase === 'exit' || model.steps.exit.length === 0
        ? 'in-the-lane'
        : 'in-the-lane-after-emergency';
    default:
      return phase satisfies never;
  }
}

/** The exit steps on the way to a start in the lane. Donning is never told: the stay in the room makes all its ends the same. */
function earlierSteps(start: Reached): StepId[] {
  if (!start.before?.step || start.before.step.step.phase !== 'exit') return [];
  return pathTo(start.before).steps.map((one) => one.step.id);
}

function chainTo(model: Model, start: Reached, steps: readonly ModelStep[], surface: number): Carried[] {
  const origins = new Map<number, Origin>();
  const world = start.world.slice();
  for (const step of steps) {
    const note: Note = (from, to) => {
      const source = origins.get(from) ?? { surface: from, step: undefined, from: undefined };
      origins.set(to, { surface: to, step: step.step.id, from: source });
    };
    takeStep(model, world, step, note);
  }
  const chain: Carried[] = [];
  let origin: Origin | undefined = origins.get(surface) ?? { surface, step: undefined, from: undefined };
  for (; origin; origin = origin.from) {
    const name = model.names[origin.surface] ?? '';
    chain.unshift({ surface: name, words: surfaceWords(name), step: origin.step });
  }
  return chain;
}
