import type { ObserverState } from '../observer/observer-machine.ts';
import { stepById } from '../procedure/order.ts';
import type { Phase, Procedure, Step } from '../procedure/procedure.ts';
import type { LaneId, PersonId, RoomId, StepId } from '../wire/ids.ts';
import type { Entry, WorkerState } from '../worker/worker-machine.ts';
import { at, entriesOf, procedureKey, type UnitState, type UnitWorker } from './state.ts';

/** Questions that server and screens ask of the same state, so that what a button offers is what the server accepts. */

/** The top-level state: where a worker stands. */
export type Place = 'rest' | 'pre-check' | 'donned' | 'inside' | 'doffing' | 'post-check';
export function placeOf(machine: WorkerState): Place {
  return (typeof machine.value === 'string' ? machine.value : Object.keys(machine.value)[0]) as Place;
}

/** The nested state, e.g. `stepping`; `donned` has none. */
export function detailOf(machine: WorkerState): string | undefined {
  return typeof machine.value === 'string' ? undefined : Object.values(machine.value)[0];
}

export const isAt = (machine: WorkerState, place: Place, detail?: string): boolean =>
  placeOf(machine) === place && (detail === undefined || detailOf(machine) === detail);

/** In equipment with the clock running: from the door to the last doffing step. */
export const isInPpe = (machine: WorkerState): boolean => ['donned', 'inside', 'doffing'].includes(placeOf(machine));

/** In equipment and not on the way out yet: somebody to call out, or to look after. */
export const isCallable = (machine: WorkerState): boolean =>
  isAt(machine, 'donned') || isAt(machine, 'inside', 'working');

export function procedureOf(state: UnitState, entry: Entry): Procedure {
  const procedure = state.procedures[procedureKey(entry.procedure, entry.version)];
  if (!procedure)
    throw new Error(
      `entry ${entry.id} needs procedure ${entry.procedure} version ${entry.version}, which is not in the log`,
    );
  return procedure;
}

/** The phase whose steps may be verified where the worker stands. */
export function phaseOf(machine: WorkerState): Phase | undefined {
  if (isAt(machine, 'pre-check', 'donning')) return 'donning';
  if (isAt(machine, 'inside', 'leaving')) return 'exit';
  if (isAt(machine, 'doffing', 'stepping') || isAt(machine, 'doffing', 'corrective')) return 'doffing';
  return undefined;
}

export function stepOf(state: UnitState, entry: Entry, step: StepId): Step | undefined {
  return stepById(procedureOf(state, entry), step);
}

/** The reachable observer who is guiding this worker at this moment. */
export function guideOf(state: UnitState, worker: PersonId): PersonId | undefined {
  return entriesOf(state.observers).find(([, one]) => isGuiding(one) && one.context.worker === worker)?.[0];
}

export const isGuiding = (observer: ObserverState): boolean => typeof observer.value === 'object';

/** Whoever has this worker, reachable or not. */
export function holderOf(state: UnitState, worker: PersonId): PersonId | undefined {
  return entriesOf(state.observers).find(([, one]) => one.context.worker === worker)?.[0];
}

export function workersIn(state: UnitState, place: Place, detail?: string): [PersonId, UnitWorker][] {
  return entriesOf(state.workers).filter(([, worker]) => isAt(worker.machine, place, detail));
}

/** Everybody bound for this room or in it, from the call to the threshold. */
export function boundFor(state: UnitState, room: RoomId): PersonId[] {
  return entriesOf(state.workers)
    .filter(
      ([, { machine }]) =>
        machine.context.entry?.room === room && ['pre-check', 'donned', 'inside'].includes(placeOf(machine)),
    )
    .map(([id]) => id);
}

/** Workers on their way out who have no lane yet, those at the threshold first, emergencies before all, then by time. */
export function waitingForLane(state: UnitState): [PersonId, UnitWorker][] {
  const held = new Set(
    Object.values(state.lanes)
      .filter((lane) => lane.value === 'held')
      .map((lane) => lane.context.worker),
  );
  const rank = (worker: UnitWorker) =>
    worker.machine.context.entry?.emergency ? 0 : isAt(worker.machine, 'doffing') ? 1 : 2;
  const since = (worker: UnitWorker) =>
    worker.machine.context.entry?.leftRoomAt ?? worker.machine.context.entry?.calledOutAt ?? 0;
  return [...workersIn(state, 'doffing', 'at-threshold'), ...workersIn(state, 'inside', 'leaving')]
    .filter(([id]) => !held.has(id))
    .sort(([, a], [, b]) => rank(a) - rank(b) || since(a) - since(b));
}

export function freeLanes(state: UnitState): LaneId[] {
  return entriesOf(state.lanes)
    .filter(([id, lane]) => lane.value === 'free' && isLane(state, id))
    .map(([id]) => id);
}

/** Whether the unit's settings have this lane today. */
export const isLane = (state: UnitState, lane: LaneId): boolean => state.rules.lanes.some((one) => one.id === lane);

/**
 * Lanes this worker may step into now. An emergency may take any lane that nobody is in. A lane that is no longer in the
 * unit's settings takes nobody new.
 */
export function lanesFor(state: UnitState, worker: PersonId): LaneId[] {
  const emergency = at(state.workers, worker)?.machine.context.entry?.emergency ?? false;
  return entriesOf(state.lanes)
    .filter(
      ([id, lane]) =>
        (lane.value === 'held' && lane.context.worker === worker) ||
        (isLane(state, id) && (lane.value === 'free' || (emergency && lane.value !== 'occupied'))),
    )
    .map(([id]) => id);
}

/** The worker whose doffing this person assists, if they do. */
export function assistedBy(state: UnitState, assistant: PersonId): PersonId | undefined {
  return entriesOf(state.workers).find(([, one]) => one.machine.context.entry?.assistant === assistant)?.[0];
}

/** Free to help at doffing: has the role, rests, guides nobody, assists nobody else. */
export function assistantsFree(state: UnitState): PersonId[] {
  const busy = new Set(Object.values(state.workers).map((worker) => worker.machine.context.entry?.assistant));
  return Object.values(state.roster)
    .filter((person) => person.roles.includes('assistant') && !busy.has(person.id))
    .filter((person) => {
      const worker = at(state.workers, person.id);
      const observer = at(state.observers, person.id);
      return (!worker || placeOf(worker.machine) === 'rest') && observer?.context.worker === undefined;
    })
    .map((person) => person.id);
}
