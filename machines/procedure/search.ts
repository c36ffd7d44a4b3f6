import type { Phase } from './procedure.ts';
import type { Model, ModelStep, World } from './proof-model.ts';
import { brokenAtEnd, type Violation } from './rules.ts';
import { takeStep } from './take-step.ts';

/** A world that some order leads to, and one shortest order that does. */
export interface Reached {
  world: World;
  before: Reached | undefined;
  /** The step that led here; none at the start of a phase. */
  step: ModelStep | undefined;
  /** In how many orders of this phase's steps it is reached, over all starts. */
  orders: bigint;
}

export interface SearchLimits {
  states: number;
  moves: number;
}

/** Is shown every world in which a step is about to be taken. */
export type Visit = (model: Model, world: World, step: ModelStep) => void;

export type PhaseSearch =
  | { outcome: 'holds'; states: number; orders: bigint; ends: Reached[] }
  | { outcome: 'breaks'; states: number; at: Reached; step: ModelStep; violation: Violation }
  | { outcome: 'undecided'; states: number };

/**
 * Walks every order of one phase, breadth first: all worlds after one step, then after two. Two orders that lead to the same
 * world are one from there on, so thousands of orders are a handful of worlds; and the first break found is a shortest one.
 */
export function searchPhase(
  model: Model,
  phase: Phase,
  starts: readonly Reached[],
  limits: SearchLimits,
  visit?: Visit,
): PhaseSearch {
  const steps = model.steps[phase];
  // One buffer for all steps: most of them lead to a world that is known, and then nothing has to be kept.
  const world = new Uint8Array(model.size);
  let layer = merged(starts);
  let states = layer.length;
  let moves = 0;
  for (let depth = 0; depth < steps.length; depth += 1) {
    const next = new Map<string, Reached>();
    for (const reached of layer) {
      if (states + next.size > limits.states || moves > limits.moves)
        return { outcome: 'undecided', states: states + next.size };
      for (const step of openIn(reached.world, steps)) {
        visit?.(model, reached.world, step);
        world.set(reached.world);
        const violation =
          takeStep(model, world, step) ?? (depth + 1 === steps.length ? brokenAtEnd(model, world, phase) : undefined);
        if (violation) return { outcome: 'breaks', states: states + next.size, at: reached, step, violation };
        moves += 1;
        add(next, world, reached, step);
      }
    }
    states += next.size;
    layer = [...next.values()];
  }
  return { outcome: 'holds', states, orders: layer.reduce((sum, one) => sum + one.orders, 0n), ends: layer };
}

export function* openIn(world: World, steps: readonly ModelStep[]): Generator<ModelStep> {
  for (const step of steps) if (!world[step.done] && step.after.every((before) => world[before])) yield step;
}

function merged(starts: readonly Reached[]): Reached[] {
  const layer = new Map<string, Reached>();
  for (const start of starts) {
    const key = keyOf(start.world);
    const known = layer.get(key);
    if (known) known.orders += start.orders;
    else layer.set(key, { ...start });
  }
  return [...layer.values()];
}

function add(layer: Map<string, Reached>, world: World, before: Reached, step: ModelStep): void {
  const key = keyOf(world);
  const known = layer.get(key);
  if (known) known.orders += before.orders;
  else layer.set(key, { world: world.slice(), before, step, orders: before.orders });
}

/** Fifteen bytes of ones and zeros to a character, which keeps the map small and quick. */
export function keyOf(world: World): string {
  let key = '';
  for (let from = 0; from < world.length; from += 15) {
    let bits = 0;
    const to = Math.min(from + 15, world.length);
    for (let index = from; index < to; index += 1) bits = (bits << 1) | (world[index] ?? 0);
    key += String.fromCharCode(bits);
  }
  return key;
}
