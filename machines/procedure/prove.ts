import { assumptionsOf, type Assumptions } from './assumptions.ts';
import { counterExampleOf, type CounterExample } from './counter-example.ts';
import type { Phase, Procedure } from './procedure.ts';
import { assumptionNames, type AssumptionName } from './proof-fields.ts';
import { buildModel, type Model } from './proof-model.ts';
import { proofProblems, type ProofProblem } from './proof-problems.ts';
import { searchPhase, type PhaseSearch, type Reached, type SearchLimits, type Visit } from './search.ts';
import { startOfDoffing, startOfPhase, stayInRoom, worldAtStart } from './take-step.ts';

/**
 * The contamination proof: walks every order that a procedure allows, and finds either that no order breaks a rule
 * (rules.ts), or a shortest order that does. docs/procedures.md explains it for those who write procedures.
 *
 * Each phase is walked for itself, because phases follow each other: donning, the stay in the room, the exit steps, doffing.
 * Doffing starts twice, after the exit steps and without them, because an emergency exit skips them.
 *
 * The search is our own and not `getAdjacencyMap` of xstate/graph. Measured side by side with the same steps and the same keys
 * (Node 20, xstate 5.33.3): as fast up to some hundred states, 2 times slower at 4,000 to 15,000, 13 to 23 times at 30,000 to
 * 60,000, because its queue is an array that is shifted. It also keeps every edge, does not stop at the first break, and draws a
 * random number, which a pure core must not. tests/machines/prove-graph.test.ts holds the two against each other.
 */
export interface ProvedPhase {
  phase: Phase;
  steps: number;
  /** Different worlds that the orders lead through. */
  states: number;
  orders: bigint;
}

export type Proof =
  | { verdict: 'proved'; assumptions: Assumptions; phases: ProvedPhase[]; states: number; orders: bigint }
  | { verdict: 'not-proved'; assumptions: Assumptions; states: number; counterExample: CounterExample }
  /** Too many orders to walk them all; nothing is known. */
  | { verdict: 'undecided'; assumptions: Assumptions; states: number; phase: Phase; sentence: string }
  | { verdict: 'unfit'; problems: ProofProblem[] };

export const searchLimits: SearchLimits = { states: 150_000, moves: 1_500_000 };

/** @param assume assumptions that are said here instead of in the file */
export function prove(
  procedure: Procedure,
  assume: Partial<Record<AssumptionName, boolean>> = {},
  { limits = searchLimits, visit }: { limits?: SearchLimits; visit?: Visit } = {},
): Proof {
  const problems = proofProblems(procedure);
  if (problems.length > 0) return { verdict: 'unfit', problems };
  const assumptions = assumptionsOf(procedure, assume);
  return new ProofWalk(buildModel(procedure, assumptions), limits, visit).walk();
}

class ProofWalk {
  private readonly model: Model;
  private readonly limits: SearchLimits;
  private readonly visit: Visit | undefined;
  private readonly proved: ProvedPhase[] = [];

  constructor(model: Model, limits: SearchLimits, visit: Visit | undefined) {
    this.model = model;
    this.limits = limits;
    this.visit = visit;
  }

  walk(): Proof {
    const donning = this.search('donning', [startAt(worldAtStart(this.model))]);
    if (donning.outcome !== 'holds') return this.ended('donning', donning);
    const inRoom = donning.ends.map((end) => ({ end, ...stayInRoom(this.model, end.world) }));
    const caught = inRoom.find((one) => one.violation);
    if (caught?.violation)
      return this.broken(counterExampleOf(this.model, { at: caught.end, violation: caught.violation, inRoom: true }));

    const stays = inRoom.map(({ end, world }) => startAt(startOfPhase(this.model, world), end));
    const exit = this.search('exit', stays);
    if (exit.outcome !== 'holds') return this.ended('exit', exit);
    const hasExit = this.model.steps.exit.length > 0;
    const starts = [...(hasExit ? exit.ends : []), ...stays].map((end) =>
      startAt(startOfDoffing(this.model, end.world), end),
    );
    const doffing = this.search('doffing', starts);
    if (doffing.outcome !== 'holds') return this.ended('doffing', doffing);
    return this.holds();
  }

  private search(phase: Phase, starts: Reached[]): PhaseSearch {
    const found = searchPhase(this.model, phase, starts, this.limits, this.visit);
    if (found.outcome !== 'holds') return found;
    const { states, orders } = found;
    const steps = this.model.steps[phase].length;
    this.proved.push({ phase, steps, states, orders: orders / BigInt(starts.length) });
    return found;
  }

  private holds(): Proof {
    const orders = this.proved.reduce((product, phase) => product * phase.orders, 1n);
    return {
      verdict: 'proved',
      assumptions: this.model.assumptions,
      phases: this.proved,
      states: this.statesSoFar(),
      orders,
    };
  }

  private ended(phase: Phase, found: Exclude<PhaseSearch, { outcome: 'holds' }>): Proof {
    const { assumptions } = this.model;
    const states = this.statesSoFar() + found.states;
    if (found.outcome === 'breaks')
      return { verdict: 'not-proved', assumptions, states, counterExample: counterExampleOf(this.model, found) };
    const sentence = `${phase} allows too many orders: more than ${found.states} different situations. Say more of what must come first (after).`;
    return { verdict: 'undecided', assumptions, states, phase, sentence };
  }

  private broken(counterExample: CounterExample): Proof {
    return { verdict: 'not-proved', assumptions: this.model.assumptions, states: this.statesSoFar(), counterExample };
  }

  private statesSoFar(): number {
    return this.proved.reduce((sum, phase) => sum + phase.states, 0);
  }
}

const startAt = (world: Reached['world'], before?: Reached): Reached => ({
  world,
  before,
  step: undefined,
  orders: 1n,
});

/** The assumptions without which the proof does not hold, one taken away at a time. */
export function restsOn(procedure: Procedure, assumptions: Assumptions): AssumptionName[] {
  return assumptionNames.filter(
    (name) => assumptions[name] && prove(procedure, { ...assumptions, [name]: false }).verdict !== 'proved',
  );
}
