import { alerts, type AlertEvent } from '../alert/alert-machine.ts';
import { devices, type DeviceEvent } from '../device/device-machine.ts';
import { lanes, type LaneEvent } from '../lane/lane-machine.ts';
import { observers, type ObserverEvent } from '../observer/observer-machine.ts';
import type { AfterEntryEffect, FactData, NumberedFact } from '../wire/fact.ts';
import type { AlertId, DeviceId, LaneId, PersonId } from '../wire/ids.ts';
import { workers, type WorkerEvent } from '../worker/worker-machine.ts';
import { at, endedAlertsKept, type UnitState, type UnitWorker } from './state.ts';

/** One machine of the unit moved by a fact; parts of the fold. */

/** A fact that does not fit is a broken log or a bug, never an everyday event: it is thrown. */
export class FoldError extends Error {
  readonly number: number;
  constructor(fact: NumberedFact, why: string) {
    super(`fact ${fact.number} (${fact.kind}) does not fit the facts before it: ${why}`);
    this.name = 'FoldError';
    this.number = fact.number;
  }
}

export function foldWorker(
  state: UnitState,
  id: PersonId,
  fact: NumberedFact,
  event: WorkerEvent,
  observer?: PersonId,
): UnitState {
  const worker = at(state.workers, id);
  if (!worker) throw new FoldError(fact, `nobody called ${id} is a worker`);
  const machine = workers.apply(worker.machine, event);
  if (!machine) throw new FoldError(fact, `worker ${id} is in ${JSON.stringify(worker.machine.value)}`);
  return touchWorker(state, id, fact, { ...worker, machine, ...(observer && { observer }) });
}

export function touchWorker(state: UnitState, id: PersonId, fact: NumberedFact, worker: UnitWorker): UnitState {
  const touched = { ...worker, version: fact.number, lastAt: Math.max(worker.lastAt, fact.at) };
  return { ...state, workers: { ...state.workers, [id]: touched } };
}

/** When an entry is over, what was remembered for it goes too: its observer, its settled conditions. */
export function closeEntry(state: UnitState, id: PersonId): UnitState {
  const worker = at(state.workers, id);
  if (!worker || worker.machine.context.entry) return state;
  const { machine, version, lastAt, after } = worker;
  const rest = { machine, version, lastAt, ...(after && { after }) };
  return {
    ...state,
    workers: { ...state.workers, [id]: rest },
    settled: state.settled.filter((key) => !key.endsWith(`:${id}`)),
  };
}

/** What the last measurement leaves of the next entry takes the place of what the one before left. */
export function noteAfter(state: UnitState, id: PersonId, after: AfterEntryEffect | undefined): UnitState {
  const worker = at(state.workers, id);
  if (!worker) return state;
  const { after: _before, ...rest } = worker;
  return { ...state, workers: { ...state.workers, [id]: { ...rest, ...(after && { after }) } } };
}

export function foldObserver(state: UnitState, id: PersonId, fact: NumberedFact, event: ObserverEvent): UnitState {
  const observer = at(state.observers, id);
  const next = observer && observers.apply(observer, event);
  if (!next) throw new FoldError(fact, `observer ${id} is in ${JSON.stringify(observer?.value)}`);
  return { ...state, observers: { ...state.observers, [id]: next } };
}

export function foldLane(state: UnitState, id: LaneId, fact: NumberedFact, event: LaneEvent): UnitState {
  const lane = at(state.lanes, id);
  const next = lane && lanes.apply(lane, event);
  if (!next) throw new FoldError(fact, `lane ${id} is ${JSON.stringify(lane?.value)}`);
  return { ...state, lanes: { ...state.lanes, [id]: next } };
}

export function foldDevice(state: UnitState, id: DeviceId, fact: NumberedFact, event: DeviceEvent): UnitState {
  const next = devices.apply(at(state.devices, id) ?? devices.initial(), event);
  if (!next) throw new FoldError(fact, `device ${id} is ${JSON.stringify(at(state.devices, id)?.value)}`);
  return { ...state, devices: { ...state.devices, [id]: next } };
}

export function foldAlert(state: UnitState, id: AlertId, fact: NumberedFact, event: AlertEvent): UnitState {
  const alert = at(state.alerts, id);
  const next = alert && alerts.apply(alert, event);
  if (!next) throw new FoldError(fact, `alert ${id} is ${JSON.stringify(alert?.value ?? 'not open')}`);
  return { ...state, alerts: { ...state.alerts, [id]: next } };
}

export function raiseAlert(state: UnitState, data: FactData<'alert-raised'>, fact: NumberedFact): UnitState {
  if (at(state.alerts, data.alert)) throw new FoldError(fact, `alert ${data.alert} is open already`);
  const { alert: id, alertKind: kind, ...rest } = data;
  const fresh = alerts.initial();
  const context = {
    ...fresh.context,
    ...rest,
    id,
    kind,
    since: fact.at,
    raisedAt: fact.receivedAt,
    levelSince: fact.receivedAt,
  };
  return { ...state, alerts: { ...state.alerts, [id]: { ...fresh, context } } };
}

export function clearAlert(state: UnitState, data: FactData<'alert-cleared'>, fact: NumberedFact): UnitState {
  const cleared = foldAlert(state, data.alert, fact, { type: 'clear', at: fact.at });
  const { [data.alert]: alert, ...open } = cleared.alerts;
  if (!alert) return cleared;
  const ended = { alert: alert.context, endedAt: fact.at, reason: data.reason };
  const byPerson = 'device' in fact.by;
  return {
    ...cleared,
    alerts: open,
    endedAlerts: [ended, ...state.endedAlerts].slice(0, endedAlertsKept),
    settled: byPerson ? [...state.settled, `${alert.context.kind}:${alert.context.subject}`] : state.settled,
  };
}
