import { alerts, type AlertEvent } from '../alert/alert-machine.ts';
import { devices, type DeviceEvent } from '../device/device-machine.ts';
import { lanes, type LaneEvent } from '../lane/lane-machine.ts';
import { observers, type ObserverEvent } from '../observer/observer-machine.ts';
import type { FactData, FactKind, NumberedFact } from '../wire/fact.ts';
import type { AlertId, DeviceId, LaneId, PersonId } from '../wire/ids.ts';
import { workers, type WorkerEvent } from '../worker/worker-machine.ts';
import { emptyEntry } from './entry.ts';
import { at, endedAlertsKept, procedureKey, type Review, type UnitState, type UnitWorker } from './state.ts';

/**
 * The fold: unit state from facts. It applies what was decided and decides nothing, so an old log replays the same under
 * newer rules. A fact that does not fit is a broken log or a bug, never an everyday event: it throws.
 */
export class FoldError extends Error {
  readonly number: number;
  constructor(fact: NumberedFact, why: string) {
    super(`fact ${fact.number} (${fact.kind}) does not fit the facts before it: ${why}`);
    this.name = 'FoldError';
    this.number = fact.number;
  }
}

type Folder<K extends FactKind> = (state: UnitState, data: FactData<K>, fact: NumberedFact) => UnitState;
type Folders = { [K in FactKind]: Folder<K> };

/** Folds one fact into the state. `state` is undefined only before the first fact, which must open the unit. */
export function fold(state: UnitState | undefined, fact: NumberedFact): UnitState {
  const before = state ?? newUnit(fact);
  if (fact.unit !== before.unit)
    throw new FoldError(fact, `it belongs to unit ${fact.unit}, this log to ${before.unit}`);
  if (fact.number !== before.number + 1) throw new FoldError(fact, `the fact before it is number ${before.number}`);
  const folder = folders[fact.kind] as Folder<FactKind>;
  const after = noteDevice(folder(before, fact.data, fact), fact);
  return { ...after, number: fact.number, at: Math.max(before.at, fact.receivedAt), reviews: noteLate(after, fact) };
}

export function foldAll(state: UnitState | undefined, facts: Iterable<NumberedFact>): UnitState | undefined {
  let folded = state;
  for (const fact of facts) folded = fold(folded, fact);
  return folded;
}

function newUnit(fact: NumberedFact): UnitState {
  if (fact.kind !== 'unit-opened') throw new FoldError(fact, 'a log starts with unit-opened');
  return {
    unit: fact.unit,
    number: 0,
    at: 0,
    rules: fact.data.rules,
    roster: {},
    procedures: {},
    adopted: {},
    workers: {},
    observers: {},
    lanes: {},
    devices: {},
    alerts: {},
    endedAlerts: [],
    reviews: [],
    settled: [],
  };
}

/** Takes in rules, roster and procedures. People and lanes that are gone stay while the log still speaks of them. */
function adopt(state: UnitState, data: FactData<'unit-opened'>): UnitState {
  const roster = Object.fromEntries(data.roster.map((person) => [person.id, person])) as UnitState['roster'];
  const withRole = (role: string) => data.roster.filter((person) => person.roles.some((one) => one === role));
  const fresh = { machine: workers.initial(), version: 0, lastAt: 0 } satisfies UnitWorker;
  return {
    ...state,
    rules: data.rules,
    roster,
    procedures: {
      ...state.procedures,
      ...Object.fromEntries(data.procedures.map((one) => [procedureKey(one.id, one.version), one])),
    },
    adopted: Object.fromEntries(data.procedures.map((one) => [one.id, one.version])) as UnitState['adopted'],
    workers: { ...Object.fromEntries(withRole('worker').map((one) => [one.id, fresh])), ...state.workers },
    observers: {
      ...Object.fromEntries(withRole('observer').map((one) => [one.id, observers.initial()])),
      ...state.observers,
    },
    lanes: { ...Object.fromEntries(data.rules.lanes.map((one) => [one.id, lanes.initial()])), ...state.lanes },
  };
}

function foldWorker(
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

function touchWorker(state: UnitState, id: PersonId, fact: NumberedFact, worker: UnitWorker): UnitState {
  const touched = { ...worker, version: fact.number, lastAt: Math.max(worker.lastAt, fact.at) };
  return { ...state, workers: { ...state.workers, [id]: touched } };
}

/** When an entry is over, what was remembered for it goes too: its observer, its settled conditions. */
function closeEntry(state: UnitState, id: PersonId): UnitState {
  const worker = at(state.workers, id);
  if (!worker || worker.machine.context.entry) return state;
  const { observer: _gone, ...rest } = worker;
  return {
    ...state,
    workers: { ...state.workers, [id]: rest },
    settled: state.settled.filter((key) => !key.endsWith(`:${id}`)),
  };
}

function foldObserver(state: UnitState, id: PersonId, fact: NumberedFact, event: ObserverEvent): UnitState {
  const observer = at(state.observers, id);
  const next = observer && observers.apply(observer, event);
  if (!next) throw new FoldError(fact, `observer ${id} is in ${JSON.stringify(observer?.value)}`);
  return { ...state, observers: { ...state.observers, [id]: next } };
}

function foldLane(state: UnitState, id: LaneId, fact: NumberedFact, event: LaneEvent): UnitState {
  const lane = at(state.lanes, id);
  const next = lane && lanes.apply(lane, event);
  if (!next) throw new FoldError(fact, `lane ${id} is ${JSON.stringify(lane?.value)}`);
  return { ...state, lanes: { ...state.lanes, [id]: next } };
}

function foldDevice(state: UnitState, id: DeviceId, fact: NumberedFact, event: DeviceEvent): UnitState {
  const next = devices.apply(at(state.devices, id) ?? devices.initial(), event);
  if (!next) throw new FoldError(fact, `device ${id} is ${JSON.stringify(at(state.devices, id)?.value)}`);
  return { ...state, devices: { ...state.devices, [id]: next } };
}

function foldAlert(state: UnitState, id: AlertId, fact: NumberedFact, event: AlertEvent): UnitState {
  const alert = at(state.alerts, id);
  const next = alert && alerts.apply(alert, event);
  if (!next) throw new FoldError(fact, `alert ${id} is ${JSON.stringify(alert?.value ?? 'not open')}`);
  return { ...state, alerts: { ...state.alerts, [id]: next } };
}

function raiseAlert(state: UnitState, data: FactData<'alert-raised'>, fact: NumberedFact): UnitState {
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

function clearAlert(state: UnitState, data: FactData<'alert-cleared'>, fact: NumberedFact): UnitState {
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

/** Remembers the highest sequence a device has in the log, whatever its report was about. */
function noteDevice(state: UnitState, fact: NumberedFact): UnitState {
  if (!fact.report || !('device' in fact.by)) return state;
  const device = at(state.devices, fact.by.device);
  const event = { type: 'report', at: fact.at, sequence: fact.report.sequence } as const;
  const next = device && devices.apply(device, event);
  return next ? { ...state, devices: { ...state.devices, [fact.by.device]: next } } : state;
}

function workerOf(fact: NumberedFact): PersonId | undefined {
  return 'worker' in fact.data ? fact.data.worker : undefined;
}

/** A fact that arrived late changes the record of the past: its report is listed until somebody has looked at it. */
function noteLate(state: UnitState, fact: NumberedFact): UnitState['reviews'] {
  const report = fact.report;
  if (!report?.late || fact.kind === 'report-kept' || state.reviews.some((one) => one.report === report.id))
    return state.reviews;
  const minutes = Math.round((fact.receivedAt - (fact.claimedAt ?? fact.at)) / 60_000);
  return [
    ...state.reviews,
    reviewOf(fact, 'report/late', `"${fact.kind}" arrived ${minutes} min after it was seen to happen.`),
  ];
}

function reviewOf(fact: NumberedFact, code: string, sentence: string): Review {
  const worker = workerOf(fact);
  return {
    number: fact.number,
    at: fact.at,
    receivedAt: fact.receivedAt,
    ...(fact.claimedAt !== undefined && { claimedAt: fact.claimedAt }),
    ...(worker && { worker }),
    ...(fact.report && { report: fact.report.id }),
    code,
    sentence,
  };
}

/** A fact about a worker that moves their machine. */
const moves =
  <K extends FactKind>(event: (data: FactData<K>, fact: NumberedFact) => WorkerEvent): Folder<K> =>
  (state, data, fact) =>
    foldWorker(state, (data as { worker: PersonId }).worker, fact, event(data, fact));

/** The same, where the entry may be over afterwards. */
const ends =
  <K extends FactKind>(event: (data: FactData<K>, fact: NumberedFact) => WorkerEvent): Folder<K> =>
  (state, data, fact) => {
    const { worker } = data as { worker: PersonId };
    return closeEntry(foldWorker(state, worker, fact, event(data, fact)), worker);
  };

/** A fact that names a worker without moving their machine: whatever comes later counts from it all the same. */
const names =
  <K extends FactKind>(folder: Folder<K>): Folder<K> =>
  (state, data, fact) => {
    const after = folder(state, data, fact);
    const { worker: id } = data as { worker: PersonId };
    const worker = at(after.workers, id);
    return worker ? touchWorker(after, id, fact, worker) : after;
  };

const folders: Folders = {
  'unit-opened': adopt,
  'unit-changed': adopt,

  'device-joined': (state, data, fact) =>
    foldDevice(state, data.device, fact, { type: 'join', at: fact.at, role: data.role, person: data.person }),
  'device-silent': (state, data, fact) => foldDevice(state, data.device, fact, { type: 'fall silent', at: fact.at }),
  'device-back': (state, data, fact) => foldDevice(state, data.device, fact, { type: 'be heard', at: fact.at }),
  'device-left': (state, data, fact) => foldDevice(state, data.device, fact, { type: 'leave', at: fact.at }),

  'duty-started': (state, data, fact) =>
    foldObserver(state, data.observer, fact, { type: 'start duty', at: fact.at, device: data.device }),
  'duty-ended': (state, data, fact) => foldObserver(state, data.observer, fact, { type: 'end duty', at: fact.at }),
  'break-started': (state, data, fact) =>
    foldObserver(state, data.observer, fact, { type: 'start break', at: fact.at }),
  'break-ended': (state, data, fact) => foldObserver(state, data.observer, fact, { type: 'end break', at: fact.at }),
  'observer-unreachable': (state, data, fact) =>
    foldObserver(state, data.observer, fact, { type: 'fall silent', at: fact.at }),
  'observer-reachable': (state, data, fact) =>
    foldObserver(state, data.observer, fact, { type: 'be heard', at: fact.at }),
  'observer-assigned': (state, data, fact) => {
    const worker = at(state.workers, data.worker);
    if (!worker) throw new FoldError(fact, `nobody called ${data.worker} is a worker`);
    return touchWorker(state, data.worker, fact, { ...worker, observer: data.observer });
  },
  'worker-taken': (state, data, fact) => {
    const worker = at(state.workers, data.worker);
    if (!worker) throw new FoldError(fact, `nobody called ${data.worker} is a worker`);
    const taken = foldObserver(state, data.observer, fact, {
      type: 'take worker',
      at: fact.at,
      worker: data.worker,
      guiding: data.guiding,
    });
    return touchWorker(taken, data.worker, fact, { ...worker, observer: data.observer });
  },
  'worker-released': names((state, data, fact) =>
    foldObserver(state, data.observer, fact, { type: 'release', at: fact.at, worker: data.worker }),
  ),

  'worker-called': (state, data, fact) => {
    const procedure = at(state.procedures, procedureKey(data.procedure, data.version));
    if (!procedure) throw new FoldError(fact, `procedure ${data.procedure} version ${data.version} is not in the log`);
    const entry = emptyEntry(data, procedure, fact.at);
    const event = { type: 'call', at: fact.at, entry, despiteRest: data.restCutShort !== undefined } as const;
    return foldWorker(state, data.worker, fact, event, data.observer);
  },
  'entry-cancelled': ends((_, fact) => ({ type: 'cancel', at: fact.at })),
  'screening-recorded': moves((data, fact) =>
    data.verdict === 'passed'
      ? { type: 'pass screening', at: fact.at }
      : { type: 'hold at screening', at: fact.at, verdict: data.verdict },
  ),
  'hold-released': ends((data, fact) => ({
    type: 'release hold',
    at: fact.at,
    restUntil: data.restUntil ?? fact.at,
    reason: data.reason,
  })),
  'kit-item-confirmed': moves((data, fact) => ({ type: 'confirm kit', at: fact.at, item: data.item })),
  'step-verified': moves((data, fact) => ({ type: 'verify step', at: fact.at, step: data.step })),
  'step-overridden': moves((data, fact) => ({ type: 'override step', at: fact.at, step: data.step })),
  'deviation-noted': moves((data, fact) => ({
    type: 'note deviation',
    at: fact.at,
    deviation: {
      id: data.deviation,
      step: data.step,
      kind: data.deviationKind,
      actor: data.actor,
      critical: data.critical,
      doNow: data.doNow,
      at: fact.at,
    },
  })),
  'deviation-corrected': moves((data, fact) => ({ type: 'correct deviation', at: fact.at, deviation: data.deviation })),
  'inspection-passed': moves((_, fact) => ({ type: 'pass inspection', at: fact.at })),
  'inspection-failed': moves((data, fact) => ({ type: 'fail inspection', at: fact.at, steps: data.steps })),
  'limit-set': moves((data, fact) => ({
    type: 'set limit',
    at: fact.at,
    limit: {
      minutes: data.minutes,
      reason: data.reason,
      source: data.source,
      limitAt: data.limitAt,
      callOutAt: data.callOutAt,
      warnAt: data.warnAt,
    },
  })),
  'room-entered': moves((data, fact) => ({ type: 'enter room', at: fact.at, room: data.room })),
  'called-out': moves((_, fact) => ({ type: 'call out', at: fact.at })),
  'room-left': moves((_, fact) => ({ type: 'leave room', at: fact.at })),
  'emergency-declared': moves((_, fact) => ({ type: 'declare emergency', at: fact.at })),
  'breach-declared': moves((data, fact) => ({
    type: 'declare breach',
    at: fact.at,
    breach: {
      id: data.breach,
      kind: data.breachKind,
      class: data.breachClass,
      now: data.now,
      then: data.then,
      leaveRoom: data.leaveRoom,
      at: fact.at,
    },
  })),
  'breach-cleared': moves((data, fact) => ({ type: 'clear breach', at: fact.at, breach: data.breach })),
  'post-check-recorded': ends((data, fact) => ({
    type: 'record post-check',
    at: fact.at,
    verdict: data.verdict,
    rest: { since: fact.at, until: data.restUntil, reason: data.restReason },
  })),
  'rest-ended': moves((_, fact) => ({ type: 'end rest', at: fact.at })),
  'stood-down': ends((data, fact) => ({ type: 'stand down', at: fact.at, reason: data.reason })),
  'stand-down-lifted': moves((_, fact) => ({ type: 'lift stand-down', at: fact.at })),

  'lane-held': names((state, data, fact) =>
    foldLane(state, data.lane, fact, { type: 'hold', at: fact.at, worker: data.worker }),
  ),
  'lane-hold-released': names((state, data, fact) =>
    foldLane(state, data.lane, fact, { type: 'release hold', at: fact.at }),
  ),
  'lane-entered': (state, data, fact) => {
    const emergency = at(state.workers, data.worker)?.machine.context.entry?.emergency ?? false;
    const entered = foldLane(state, data.lane, fact, { type: 'enter', at: fact.at, worker: data.worker, emergency });
    const event = { type: 'enter lane', at: fact.at, lane: data.lane, assistant: data.assistant } as const;
    return foldWorker(entered, data.worker, fact, event);
  },
  'lane-left': names((state, data, fact) =>
    foldLane(state, data.lane, fact, { type: 'leave', at: fact.at, turnoverUntil: data.turnoverUntil }),
  ),
  'lane-cleared': (state, data, fact) => foldLane(state, data.lane, fact, { type: 'clear', at: fact.at }),
  'lane-closed': (state, data, fact) =>
    foldLane(state, data.lane, fact, { type: 'close', at: fact.at, reason: data.reason }),
  'lane-reopened': (state, data, fact) =>
    foldLane(state, data.lane, fact, { type: 'reopen', at: fact.at, turnoverUntil: data.turnoverUntil }),

  'alert-raised': raiseAlert,
  'alert-told': (state, data, fact) =>
    foldAlert(state, data.alert, fact, { type: 'tell', at: fact.at, device: data.device, person: data.person }),
  'alert-acknowledged': (state, data, fact) =>
    foldAlert(state, data.alert, fact, { type: 'acknowledge', at: fact.at, person: data.person }),
  'alert-escalated': (state, data, fact) =>
    foldAlert(state, data.alert, fact, { type: 'escalate', at: fact.at, level: data.level }),
  'alert-cleared': clearAlert,

  'report-kept': (state, data, fact) => ({
    ...state,
    reviews: [...state.reviews, reviewOf(fact, data.code, data.sentence)],
  }),
  'review-closed': (state, data) => ({ ...state, reviews: state.reviews.filter((one) => one.number !== data.review) }),
};
