import { describe, expect, it } from 'vitest';
import type { ActorLogic, EventObject, Snapshot } from 'xstate';
import { getAdjacencyMap, getShortestPaths, type TraversalOptions } from 'xstate/graph';
import { assumptionsOf } from '../../machines/procedure/assumptions.ts';
import type { Phase, Procedure } from '../../machines/procedure/procedure.ts';
import { buildModel, type Model, type ModelStep, type World } from '../../machines/procedure/proof-model.ts';
import type { Violation } from '../../machines/procedure/rules.ts';
import { keyOf, openIn, searchPhase } from '../../machines/procedure/search.ts';
import {
  startOfDoffing,
  startOfPhase,
  stayInRoom,
  takeStep,
  worldAtStart,
} from '../../machines/procedure/take-step.ts';
import { shippedIds, shippedProcedure } from '../checks/prover-files.ts';
import { changed, smallProcedure, withStep } from './prove-fixture.ts';

// The same steps walked by XState's graph tools: as many states, and a shortest path of the same length to the first break.

type Walked = Snapshot<unknown> & { world: World; violation?: Violation };
interface Taken extends EventObject {
  step: ModelStep;
}

const walked = (world: World, violation?: Violation): Walked => ({
  status: 'active',
  output: undefined,
  error: undefined,
  world,
  ...(violation && { violation }),
});

function logicOf(model: Model, start: World): ActorLogic<Walked, Taken, undefined> {
  return {
    getInitialSnapshot: () => walked(start),
    getPersistedSnapshot: (snapshot) => snapshot,
    transition: (snapshot, { step }) => {
      const world = snapshot.world.slice();
      const violation = takeStep(model, world, step);
      return walked(world, violation);
    },
  };
}

const options = (steps: readonly ModelStep[]): TraversalOptions<Walked, Taken, undefined> => ({
  events: (snapshot: Walked): Taken[] =>
    snapshot.violation ? [] : [...openIn(snapshot.world, steps)].map((step) => ({ type: step.step.id, step })),
  serializeState: (snapshot: Walked) => `${snapshot.violation ? '!' : ''}${keyOf(snapshot.world)}`,
  serializeEvent: (event: Taken) => event.type,
});

/** The worlds that the three phases start from, in the first order of each. */
function startsOf(model: Model): Record<Phase, World> {
  const last = (phase: Phase, start: World): World => {
    const found = searchPhase(model, phase, [reached(start)], { states: 1e6, moves: 1e6 });
    if (found.outcome !== 'holds') throw new Error(`${phase} breaks`);
    return found.ends[0]?.world ?? start;
  };
  const donning = worldAtStart(model);
  const exit = startOfPhase(model, stayInRoom(model, last('donning', donning)).world);
  return { donning, exit, doffing: startOfDoffing(model, exit) };
}

const reached = (world: World) => ({ world, before: undefined, step: undefined, orders: 1n });

const modelOf = (procedure: Procedure): Model => buildModel(procedure, assumptionsOf(procedure));

describe.each(shippedIds.filter((id) => id !== 'field-gown'))('%s', (id) => {
  const model = modelOf(shippedProcedure(id));
  const starts = startsOf(model);

  it.each(['donning', 'exit', 'doffing'] as const)('%s: the library finds as many states', (phase) => {
    const own = searchPhase(model, phase, [reached(starts[phase])], { states: 1e6, moves: 1e6 });
    const map = getAdjacencyMap(logicOf(model, starts[phase]), options(model.steps[phase]));
    expect(Object.keys(map).length).toBeGreaterThan(model.steps[phase].length);
    expect(own.states).toBe(Object.keys(map).length);
  });
});

describe('a break', () => {
  it.each([
    ['in donning', 'donning', changed(withStep('outer-on', { after: [] }))],
    ['in doffing', 'doffing', changed(withStep('rub-after-gown', { hygiene: undefined }))],
    ['of layers', 'doffing', changed(withStep('gown-off', { after: ['watch'] }))],
  ] as const)('%s is found after as few steps as the library needs', (_, phase, procedure) => {
    const model = modelOf(procedure);
    const start = startsOf(modelOf(smallProcedure()))[phase];
    const own = searchPhase(model, phase, [reached(start)], { states: 1e6, moves: 1e6 });
    if (own.outcome !== 'breaks') throw new Error('it should break');
    let steps = 1;
    for (let at = own.at; at.before; at = at.before) steps += 1;
    const paths = getShortestPaths(logicOf(model, start), {
      ...options(model.steps[phase]),
      toState: (snapshot: Walked) => snapshot.violation !== undefined,
    });
    expect(steps).toBe(Math.min(...paths.map((path) => path.weight)));
  });
});
