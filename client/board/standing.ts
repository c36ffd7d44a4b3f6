import type { Procedure } from '../../machines/procedure/procedure.ts';
import { stepsOf } from '../../machines/procedure/order.ts';
import { detailOf, holderOf, placeOf, procedureOf } from '../../machines/unit/questions.ts';
import { at, entriesOf, type UnitState, type UnitWorker } from '../../machines/unit/state.ts';
import type { AfterEntryEffect } from '../../machines/wire/fact.ts';
import type { AlertId, LaneId, PersonId, RoomId } from '../../machines/wire/ids.ts';
import type { Entry, Limit } from '../../machines/worker/worker-machine.ts';
import { worstAlertOf } from './alert-view.ts';

/**
 * Where everybody stands. One person has one place, whatever else they are on the roster: somebody on duty as an observer
 * stands with the observers, somebody who assists stands in the lane they assist in.
 */
export type Stand =
  | { at: 'ready' }
  | { at: 'resting'; since: number; againAt: number; reason: string }
  | { at: 'stood-down'; because: string }
  | ({ at: 'pre-check'; stage: PreCheckStage; since: number; done: number; of: number } & Bound)
  | ({ at: 'door' } & InEquipment)
  | ({ at: 'room'; leavingSince: number | undefined } & InEquipment)
  | ({ at: 'threshold'; since: number; heldLane: LaneId | undefined } & InEquipment)
  | ({ at: 'lane'; lane: LaneId; since: number; done: number; of: number; correcting: boolean } & InEquipment)
  | { at: 'assisting'; lane: LaneId; worker: PersonId }
  | ({ at: 'post-check'; held: boolean; since: number } & Bound);

export type PreCheckStage = 'screening' | 'kit' | 'donning' | 'inspection' | 'held';
export type StandAt = Stand['at'];

/** An open entry: where it leads and who watches it. */
export interface Bound {
  entry: Entry;
  room: RoomId;
  watch: Watch;
}

export interface InEquipment extends Bound {
  donnedAt: number;
  limit: Limit | undefined;
  emergency: boolean;
}

/** Who guides at this moment, who is expected to, or nobody. */
export type Watch =
  { by: 'guide'; observer: PersonId; silent: boolean } | { by: 'expected'; observer: PersonId } | { by: 'nobody' };

export interface Standing {
  id: PersonId;
  stand: Stand;
  /** What the last entry leaves of the next one; only of somebody who has no entry now. */
  again?: AfterEntryEffect;
  /** The worst open alert about this person. */
  alert: AlertId | undefined;
}

/**
 * Everybody with a place on the floor, in the order of the walk; within a place, whoever was there first. Alerts are those of
 * the confirmed state: the screen's own reckoning raises none.
 */
export function standings(state: UnitState, confirmed: UnitState = state): Standing[] {
  const assisting = assistants(state);
  return entriesOf(state.workers)
    .filter(([id]) => !isObserving(state, id))
    .map(([id, worker]) => ({
      id,
      stand: assisting.get(id) ?? standOf(state, id, worker),
      ...(worker.after && !worker.machine.context.entry && { again: worker.after }),
      alert: worstAlertOf(confirmed, id)?.context.id,
    }))
    .concat(assistantsOnly(state, assisting))
    .sort((a, b) => walk.indexOf(a.stand.at) - walk.indexOf(b.stand.at) || firstThere(a, b));
}

const walk: readonly StandAt[] = [
  'ready',
  'resting',
  'stood-down',
  'pre-check',
  'door',
  'room',
  'threshold',
  'lane',
  'assisting',
  'post-check',
];

function firstThere(a: Standing, b: Standing): number {
  return since(a.stand) - since(b.stand) || (a.id < b.id ? -1 : 1);
}

/** What orders people within one place: the clock of those in equipment, the end of a rest, the call. */
function since(stand: Stand): number {
  switch (stand.at) {
    case 'ready':
    case 'stood-down':
    case 'assisting':
      return 0;
    case 'resting':
      return stand.againAt;
    case 'pre-check':
      return stand.entry.calledAt;
    case 'door':
    case 'room':
      return stand.donnedAt;
    case 'threshold':
    case 'lane':
    case 'post-check':
      return stand.since;
    default: {
      const never: never = stand;
      throw new Error(`no place ${JSON.stringify(never)}`);
    }
  }
}

function isObserving(state: UnitState, id: PersonId): boolean {
  const observer = at(state.observers, id);
  return observer !== undefined && observer.value !== 'off-shift';
}

/** Whoever assists somebody in a lane, by the record of that entry. */
function assistants(state: UnitState): Map<PersonId, Stand> {
  const found = new Map<PersonId, Stand>();
  for (const [worker, { machine }] of entriesOf(state.workers)) {
    const entry = machine.context.entry;
    if (entry?.assistant && entry.lane) found.set(entry.assistant, { at: 'assisting', lane: entry.lane, worker });
  }
  return found;
}

/** Assistants who are no workers have no other place on the floor. */
function assistantsOnly(state: UnitState, assisting: Map<PersonId, Stand>): Standing[] {
  return [...assisting]
    .filter(([id]) => !at(state.workers, id) && !isObserving(state, id))
    .map(([id, stand]) => ({ id, stand, alert: undefined }));
}

function standOf(state: UnitState, id: PersonId, worker: UnitWorker): Stand {
  const { entry } = worker.machine.context;
  if (!entry) return restOf(worker);
  const bound: Bound = { entry, room: entry.room, watch: watchOf(state, id, worker) };
  const place = placeOf(worker.machine);
  const detail = detailOf(worker.machine);
  if (place === 'pre-check') return { at: 'pre-check', ...preCheckOf(state, entry, detail, worker.lastAt), ...bound };
  if (place === 'post-check')
    return { at: 'post-check', held: detail === 'held', since: entry.doffedAt ?? worker.lastAt, ...bound };
  const inEquipment: InEquipment = {
    ...bound,
    donnedAt: entry.donnedAt ?? worker.lastAt,
    limit: entry.limit,
    emergency: entry.emergency,
  };
  if (place === 'donned') return { at: 'door', ...inEquipment };
  if (place === 'inside')
    return { at: 'room', leavingSince: detail === 'leaving' ? entry.calledOutAt : undefined, ...inEquipment };
  return doffingOf(state, id, worker, entry, inEquipment);
}

function restOf({ machine }: UnitWorker): Stand {
  const { rest, stoodDownBecause } = machine.context;
  if (detailOf(machine) === 'stood-down') return { at: 'stood-down', because: stoodDownBecause ?? '' };
  return rest ? { at: 'resting', since: rest.since, againAt: rest.until, reason: rest.reason } : { at: 'ready' };
}

function preCheckOf(state: UnitState, entry: Entry, detail: string | undefined, lastAt: number) {
  const stage = detail as PreCheckStage;
  const procedure = procedureOf(state, entry);
  const kit = progress(procedure.kit.length, entry.outstanding.kit.length);
  const steps = progress(stepCount(procedure, 'donning'), entry.outstanding.donning.length);
  return { stage, since: stage === 'held' ? lastAt : entry.calledAt, ...(stage === 'kit' ? kit : steps) };
}

function doffingOf(state: UnitState, id: PersonId, worker: UnitWorker, entry: Entry, worn: InEquipment): Stand {
  if (!entry.lane)
    return { at: 'threshold', since: entry.leftRoomAt ?? worker.lastAt, heldLane: laneHeldFor(state, id), ...worn };
  const steps = progress(stepCount(procedureOf(state, entry), 'doffing'), entry.outstanding.doffing.length);
  const correcting = detailOf(worker.machine) === 'corrective';
  return { at: 'lane', lane: entry.lane, since: entry.laneAt ?? worker.lastAt, correcting, ...steps, ...worn };
}

const progress = (of: number, left: number) => ({ done: of - left, of });
const stepCount = (procedure: Procedure, phase: 'donning' | 'doffing'): number => stepsOf(procedure, phase).length;

export function laneHeldFor(state: UnitState, worker: PersonId): LaneId | undefined {
  return entriesOf(state.lanes).find(([, lane]) => lane.value === 'held' && lane.context.worker === worker)?.[0];
}

export function watchOf(state: UnitState, id: PersonId, worker: UnitWorker): Watch {
  const guide = holderOf(state, id);
  if (guide) return { by: 'guide', observer: guide, silent: at(state.observers, guide)?.value === 'unreachable' };
  return worker.observer ? { by: 'expected', observer: worker.observer } : { by: 'nobody' };
}

export const isInEquipment = (stand: Stand): stand is Extract<Stand, InEquipment> => 'donnedAt' in stand;

/** In equipment, with a limit, and nobody has called them out yet. */
export const isToBeCalled = (stand: Stand): stand is Extract<Stand, { at: 'door' | 'room' }> & { limit: Limit } =>
  (stand.at === 'door' || (stand.at === 'room' && stand.leavingSince === undefined)) && stand.limit !== undefined;

/** Everybody in equipment, whoever must be called first on top: emergencies, then by limit. */
export function byUrgency(people: readonly Standing[]): (Standing & { stand: Extract<Stand, InEquipment> })[] {
  return people
    .filter((one): one is Standing & { stand: Extract<Stand, InEquipment> } => isInEquipment(one.stand))
    .sort(
      (a, b) =>
        Number(b.stand.emergency) - Number(a.stand.emergency) ||
        (a.stand.limit?.limitAt ?? Infinity) - (b.stand.limit?.limitAt ?? Infinity),
    );
}
