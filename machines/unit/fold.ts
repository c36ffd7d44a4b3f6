import { lanes } from '../lane/lane-machine.ts';
import { observers } from '../observer/observer-machine.ts';
import { devices } from '../device/device-machine.ts';
import type { FactData, FactKind, NumberedFact } from '../wire/fact.ts';
import type { PersonId } from '../wire/ids.ts';
import { workers, type WorkerEvent } from '../worker/worker-machine.ts';
import { emptyEntry } from './entry.ts';
import {
  clearAlert,
  closeEntry,
  FoldError,
  foldAlert,
  foldDevice,
  foldLane,
  foldObserver,
  foldWorker,
  noteAfter,
  raiseAlert,
  touchWorker,
} from './fold-parts.ts';
import { adoptOnScreen, adoptionsIn, noteDoffing, noteDonning, noteDonningBegun } from './fold-procedures.ts';
import { noteLate, reviewOf } from './fold-reviews.ts';
import { adoptedFrom, noteReality } from './rotation.ts';
import { at, climateReadingsKept, procedureKey, type UnitState, type UnitWorker } from './state.ts';

/**
 * The fold: unit state from facts. It applies what was decided and decides nothing, so an old log replays the same under
 * newer rules. A fact that does not fit throws.
 */
type Folder<K extends FactKind> = (state: UnitState, data: FactData<K>, fact: NumberedFact) => UnitState;
type Folders = { [K in FactKind]: Folder<K> };

/** Folds one fact into the state. `state` is undefined only before the first fact, which must open the unit. */
export function fold(state: UnitState | undefined, fact: NumberedFact): UnitState {
  const before = state ?? newUnit(fact);
  if (fact.unit !== before.unit)
    throw new FoldError(fact, `it belongs to unit ${fact.unit}, this log to ${before.unit}`);
  if (fact.number !== before.number + 1) throw new FoldError(fact, `the fact before it is number ${before.number}`);
  const folder = folders[fact.kind] as Folder<FactKind>;
  const after = noteReality(noteDevice(folder(before, fact.data, fact), fact), fact);
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
    adoptions: {},
    donnings: {},
    doffings: {},
    climate: {},
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
    adoptions: adoptionsIn(state, data.procedures),
    workers: { ...Object.fromEntries(withRole('worker').map((one) => [one.id, fresh])), ...state.workers },
    observers: {
      ...Object.fromEntries(withRole('observer').map((one) => [one.id, observers.initial()])),
      ...state.observers,
    },
    lanes: { ...Object.fromEntries(data.rules.lanes.map((one) => [one.id, lanes.initial()])), ...state.lanes },
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

/** A fact about a worker that moves their machine. */
const moves =
  <K extends FactKind>(event: (data: FactData<K>, fact: NumberedFact) => WorkerEvent): Folder<K> =>
  (state, data, fact) =>
    foldWorker(state, (data as { worker: PersonId }).worker, fact, event(data, fact));

/** A fact that changes what is known of a worker beside their machine. */
const changes =
  <K extends FactKind>(
    change: (
      worker: UnitWorker,
      data: FactData<K>,
      fact: NumberedFact,
    ) => { [P in keyof UnitWorker]?: UnitWorker[P] | undefined },
  ): Folder<K> =>
  (state, data, fact) => {
    const { worker: id } = data as { worker: PersonId };
    const worker = at(state.workers, id);
    if (!worker) throw new FoldError(fact, `nobody called ${id} is a worker`);
    const changed = Object.entries({ ...worker, ...change(worker, data, fact) }).filter(
      ([, value]) => value !== undefined,
    );
    return touchWorker(state, id, fact, Object.fromEntries(changed) as unknown as UnitWorker);
  };

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

/** A step that may be the last of doffing: how long that took is what the next is expected to take. */
function doffs(folder: Folder<'step-verified'>): Folder<'step-verified'> {
  return (state, data, fact) => noteDoffing(state, folder(state, data, fact), data.worker);
}

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
    const entry = emptyEntry(data, procedure, fact.at, at(state.doffings, data.procedure));
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
  'kit-item-confirmed': (state, data, fact) => {
    const confirmed = foldWorker(state, data.worker, fact, { type: 'confirm kit', at: fact.at, item: data.item });
    return noteDonningBegun(confirmed, data.worker, fact.at);
  },
  'step-verified': doffs(moves((data, fact) => ({ type: 'verify step', at: fact.at, step: data.step }))),
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
      ...(data.corrective && { corrective: data.corrective }),
      at: fact.at,
    },
  })),
  'corrective-step-done': moves((data, fact) => ({
    type: 'do corrective step',
    at: fact.at,
    deviation: data.deviation,
    index: data.index,
  })),
  'deviation-corrected': moves((data, fact) => ({ type: 'correct deviation', at: fact.at, deviation: data.deviation })),
  'inspection-passed': (state, data, fact) =>
    noteDonning(foldWorker(state, data.worker, fact, { type: 'pass inspection', at: fact.at }), data.worker, fact.at),
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
      doffingMinutes: data.doffingMinutes,
      waitMinutes: data.waitMinutes,
      marginMinutes: data.marginMinutes,
      ...(data.limitKind && { kind: data.limitKind }),
      ...(data.caution && { caution: data.caution }),
      ...(data.indicative && { indicative: data.indicative }),
    },
  })),
  'climate-recorded': (state, { room, climate }, fact) => {
    const reading = { at: fact.at, climate, ...('sensor' in fact.by && { sensor: fact.by.sensor }) };
    // A sensor that was out of reach delivers late: readings are kept in the order of their time.
    const readings = [...(at(state.climate, room) ?? []), reading].sort((one, other) => one.at - other.at);
    return { ...state, climate: { ...state.climate, [room]: readings.slice(-climateReadingsKept) } };
  },
  'call-out-planned': changes((_, { callOutAt, reason }) => ({
    callOutPlan: callOutAt === undefined ? undefined : { callOutAt, reason },
  })),
  'rotation-adopted': (state, { rotation }, fact) => ({ ...state, rotation: adoptedFrom(state, rotation, fact.at) }),
  'rotation-dropped': ({ rotation: _gone, ...state }) => state,
  'work-set': changes((worker, data, fact) => ({ work: [...(worker.work ?? []), { at: fact.at, work: data.work }] })),
  'check-set': changes((_, { dueAt, everyMinutes, reason, source }) => ({
    check: { dueAt, everyMinutes, reason, source },
  })),
  'check-recorded': changes(({ check }, { verdict, nextDueAt }, fact) => ({
    check: check && nextDueAt !== undefined ? { ...check, dueAt: nextDueAt } : undefined,
    ...(verdict === 'over' && { overSince: fact.at }),
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
  'post-check-recorded': (state, data, fact) => {
    const rest = { since: fact.at, until: data.restUntil, reason: data.restReason };
    const event = { type: 'record post-check', at: fact.at, verdict: data.verdict, rest } as const;
    const checked = foldWorker(state, data.worker, fact, event);
    return closeEntry(noteAfter(checked, data.worker, data.after), data.worker);
  },
  'rest-ended': moves((_, fact) => ({ type: 'end rest', at: fact.at })),
  'stood-down': ends((data, fact) => ({ type: 'stand down', at: fact.at, reason: data.reason })),
  'again-allowed': names((state, { worker }) => noteAfter(state, worker, undefined)),
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

  'procedure-adopted': adoptOnScreen,
};
