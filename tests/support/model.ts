import { isDeepStrictEqual } from 'node:util';
import { getStateNodes } from '@xstate/graph';
import { TestModel } from '@xstate/test';
import {
  initialTransition,
  transition,
  type ActorLogic,
  type AnyEventObject,
  type AnyMachineSnapshot,
  type AnyStateMachine,
  type AnyStateNode,
  type EventObject,
} from 'xstate';
import type { Kept, keptMachine } from '../../machines/pure.ts';

/**
 * Tests by model. The model is the machine as XState itself walks it; what is tested is the machine as the unit keeps it. Every
 * event case is tried in every state, refused ones too, along the shortest paths that @xstate/test finds.
 */
export interface ModelSpec<State extends Kept<unknown, object>, Event extends EventObject> {
  kept: ReturnType<typeof keptMachine<State, Event>>;
  /** Every event case, with its data. The library leaves out event types it has no executor for, so they are counted. */
  cases: readonly Event[];
  /** What of a state decides its future. Left whole, a context that grows would never end. */
  abstract: (state: State) => unknown;
}

export interface Run {
  states: number;
  /** (state, event case) pairs: each is the last step of some path. */
  edges: number;
  paths: number;
  steps: number;
  refused: number;
  transitions: number;
  /** Names of the transitions that no path has taken. */
  missed: string[];
}

type Snapshot = AnyMachineSnapshot;
const kept = (snapshot: Snapshot) => ({ value: snapshot.value as unknown, context: snapshot.context as object });

/** Far above any model here: a key that does not terminate fails, instead of filling the memory. */
const traversalLimit = 400_000;

/**
 * Side-effect free logic over a machine, as @xstate/test wants it. Equal states are the same object, and what follows from one
 * is worked out once: the library asks for the same step from each of the ways that lead to a state.
 */
function pureLogic(machine: AnyStateMachine): ActorLogic<Snapshot, AnyEventObject, unknown> {
  const known = new Map<string, Snapshot>();
  const next = new WeakMap<Snapshot, Map<AnyEventObject, Snapshot>>();
  const one = (snapshot: Snapshot): Snapshot => {
    const key = JSON.stringify(kept(snapshot));
    const found = known.get(key) ?? snapshot;
    known.set(key, found);
    return found;
  };
  return {
    getInitialSnapshot: () => one(initialTransition(machine)[0] as Snapshot),
    transition: (snapshot, event) => {
      const after = next.get(snapshot) ?? new Map<AnyEventObject, Snapshot>();
      next.set(snapshot, after);
      const found = after.get(event) ?? one(transition(machine, snapshot, event)[0] as Snapshot);
      after.set(event, found);
      return found;
    },
    getPersistedSnapshot: (snapshot) => snapshot,
  };
}

/** The library asks for the same key some hundred thousand times. */
function remembered<One extends object>(make: (one: One) => string): (one: One) => string {
  const known = new WeakMap<One, string>();
  return (one) => {
    const found = known.get(one) ?? make(one);
    known.set(one, found);
    return found;
  };
}

export class Model<State extends Kept<unknown, object>, Event extends EventObject> {
  readonly spec: ModelSpec<State, Event>;
  private readonly logic: ActorLogic<Snapshot, AnyEventObject, unknown>;

  constructor(spec: ModelSpec<State, Event>) {
    this.spec = spec;
    this.logic = pureLogic(spec.kept.machine);
  }

  private key = remembered((snapshot: Snapshot) => JSON.stringify(this.spec.abstract(kept(snapshot) as State)));
  private eventKey = remembered((event: AnyEventObject) => JSON.stringify(event));

  /** Shortest paths cover states. With event and source in the key they cover every event case in every state. */
  private edgeKey = (snapshot: Snapshot, event?: AnyEventObject, previous?: Snapshot): string =>
    `${this.key(snapshot)}|${event ? this.eventKey(event) : ''}|${previous ? this.key(previous) : ''}`;

  private testModel(serializeState: (snapshot: Snapshot, event?: AnyEventObject, previous?: Snapshot) => string) {
    return new TestModel<Snapshot, AnyEventObject, unknown>(this.logic, {
      events: this.spec.cases as unknown as AnyEventObject[],
      serializeState: serializeState as never,
      serializeEvent: this.eventKey,
      traversalLimit,
    });
  }

  /** Every distinct state of the model, each by one representative. */
  states(): State[] {
    return this.testModel(this.key)
      .getAllStates()
      .map((snapshot) => kept(snapshot) as State);
  }

  /** The events of the shortest path to a state. */
  shortestTo(wanted: (state: State) => boolean): Event[] {
    const paths = this.testModel(this.key).getShortestPaths({ toState: (snapshot) => wanted(kept(snapshot) as State) });
    const [path] = paths.sort((a, b) => a.steps.length - b.steps.length);
    if (!path) throw new Error('no path of the model leads there');
    return path.steps.slice(1).map((step) => step.event as unknown as Event);
  }

  /** Drives the kept machine along events that it must all accept. */
  drive(events: readonly Event[]): State {
    return events.reduce((state, event) => {
      const next = this.spec.kept.apply(state, event);
      if (!next) throw new Error(`${JSON.stringify(event)} is refused in ${JSON.stringify(state.value)}`);
      return next;
    }, this.spec.kept.initial());
  }

  /** Runs every path, comparing the kept machine with XState after each step: whole value, whole context. */
  run(): Run {
    const paths = this.testModel(this.edgeKey).getShortestPaths();
    const transitions = transitionsOf(this.spec.kept.machine);
    const taken = new Set<unknown>();
    const pairs = new Set<string>();
    const run = { steps: 0, refused: 0 };
    for (const path of paths) {
      const walker = new Walker(this.spec, taken);
      path.testSync({
        events: this.executors(walker),
        states: { '*': (snapshot) => walker.compare(this.key(snapshot)) },
      });
      if (walker.steps !== path.steps.length - 1)
        throw new Error(`${path.steps.length - 1} steps in the path, ${walker.steps} were run`);
      run.steps += walker.steps;
      run.refused += walker.refused;
      for (const [index, step] of path.steps.entries())
        if (index > 0) pairs.add(`${this.key(path.steps[index - 1]!.state)}|${this.eventKey(step.event)}`);
    }
    return {
      ...run,
      states: this.states().length,
      edges: pairs.size,
      paths: paths.length,
      transitions: transitions.size,
      missed: [...transitions].filter(([one]) => !taken.has(one)).map(([, name]) => name),
    };
  }

  private executors(walker: Walker<State, Event>) {
    const types = [...new Set(this.spec.cases.map((event) => event.type))];
    return Object.fromEntries(
      types.map((type) => [type, (step: { event: AnyEventObject }) => walker.send(step.event as unknown as Event)]),
    );
  }
}

/** The kept machine and XState, side by side. */
class Walker<State extends Kept<unknown, object>, Event extends EventObject> {
  steps = 0;
  refused = 0;
  private readonly spec: ModelSpec<State, Event>;
  private readonly taken: Set<unknown>;
  private state: State;
  private reference: Snapshot;

  constructor(spec: ModelSpec<State, Event>, taken: Set<unknown>) {
    this.spec = spec;
    this.taken = taken;
    this.state = spec.kept.initial();
    this.reference = initialTransition(spec.kept.machine)[0] as Snapshot;
  }

  send(event: Event): void {
    const { kept: sut } = this.spec;
    const machine = sut.machine;
    for (const one of machine.getTransitionData(this.reference, event)) this.taken.add(one);
    const before = this.reference;
    this.reference = transition(machine, before, event as AnyEventObject)[0] as Snapshot;
    const next = sut.apply(this.state, event);
    const isTaken = this.reference !== before;
    if ((next !== undefined) !== isTaken || sut.can(this.state, event) !== isTaken)
      throw new Error(`XState ${isTaken ? 'takes' : 'refuses'} ${JSON.stringify(event)}, the kept machine does not`);
    if (!next) this.refused += 1;
    this.state = next ?? this.state;
    this.steps += 1;
  }

  compare(key: string): void {
    const expected = kept(this.reference);
    if (!isDeepStrictEqual({ value: this.state.value, context: this.state.context }, expected))
      throw new Error(`kept ${JSON.stringify(this.state)}, XState has ${JSON.stringify(expected)}`);
    const own = JSON.stringify(this.spec.abstract(this.state));
    if (own !== key) throw new Error(`the path is at ${key}, the machine at ${own}`);
  }
}

/** Every transition a machine defines, with a name. */
export function transitionsOf(machine: AnyStateMachine): Map<unknown, string> {
  const all = new Map<unknown, string>();
  const nodes = [machine.root, ...getStateNodes(machine.root as never)] as AnyStateNode[];
  for (const node of nodes)
    for (const [, definitions] of node.transitions)
      definitions.forEach((one, index) => {
        const targets = one.target?.map((target) => target.id).join(', ') ?? 'itself';
        all.set(one, `${node.id} --${one.eventType}[${index}]--> ${targets}`);
      });
  return all;
}

/** The innermost state as a path, e.g. `pre-check.kit`. */
export function leafOf(value: unknown): string {
  if (typeof value === 'string') return value;
  const [outer, inner] = Object.entries(value as object)[0] as [string, unknown];
  return `${outer}.${leafOf(inner)}`;
}
