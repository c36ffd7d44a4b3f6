import { expectedTimes } from '../../../machines/procedure/own-times.ts';
import { isCallable, placeOf } from '../../../machines/unit/questions.ts';
import { qualificationRefusal } from '../../../machines/unit/qualification.ts';
import type { PlannedTrip, Rotation } from '../../../machines/unit/rotation.ts';
import type { RotationSettings } from '../../../machines/unit/rotation-settings.ts';
import { at, entriesOf, type UnitState, type UnitWorker } from '../../../machines/unit/state.ts';
import type { LaneId, PersonId, RoomId } from '../../../machines/wire/ids.ts';
import { wornInDay } from '../../../machines/worker/worker-machine.ts';
import type { Procedure } from '../../../machines/procedure/procedure.ts';
import type { Plan, PlannedEntry, RotationInstance } from '../instance.ts';
import { letEverybodyOut } from './everybody-out.ts';
import type { LaneAway } from '../slots.ts';

/**
 * The live unit as a rotation problem, and a plan of it back in the unit's own ids and times. Pure. What it simplifies: every
 * lane has the longest turnover; whoever is at the pre-check or at the door counts as inside now, and like anybody who has just come
 * in as having taken over already; everybody qualified is on duty for the whole time.
 */
export interface RotationAsk {
  hours: number;
  procedure: Procedure;
  /** People who must be in each room at all times; a room that is left out needs nobody. */
  staffInside: Readonly<Record<RoomId, number>>;
  /** Everybody on the roster, or only who is on duty now. */
  observers: 'on-duty' | 'roster';
  /** Observers who are not counted on, whatever else is asked. */
  observersAway?: readonly PersonId[];
  /** Trips that stay as they are. */
  locked?: readonly PlannedTrip[];
  whatIf?: { observersLess?: number; lanesMore?: number; doffingLongerPct?: number };
}

/** What turns the numbers of a plan back into the unit's ids and times. */
export interface RotationFrame {
  /** Minute 0, milliseconds: a whole slot, not before now. */
  startAt: number;
  procedure: Procedure;
  /** By the planner's number. Lanes of a what-if have no id. */
  lanes: readonly LaneId[];
  observers: readonly PersonId[];
  workers: readonly PersonId[];
}

export interface RotationProblem {
  instance: RotationInstance;
  frame: RotationFrame;
  keep: PlannedEntry[];
  /** Lanes with somebody in them, or in turnover, and until when; a search that is given them plans around that. */
  lanesAway: LaneAway[];
}

export const slotMinutes = 5;
/** Two days: past every horizon. */
const busyMinutesMost = 2880;
const minuteMs = 60_000;
const slots = (minutes: number): number => Math.ceil(minutes / slotMinutes) * slotMinutes;
const slotsDown = (minutes: number): number => Math.floor(minutes / slotMinutes) * slotMinutes;

/** @param now milliseconds since 1970 */
export function instanceOf(
  state: UnitState,
  settings: RotationSettings,
  ask: RotationAsk,
  now: number,
): RotationProblem {
  const startAt = Math.ceil(now / (slotMinutes * minuteMs)) * slotMinutes * minuteMs;
  const { procedure, staffInside, whatIf = {} } = ask;
  const expected = expectedIn(state, procedure);
  const doffing = slots(expected.doffing.minutes * (1 + (whatIf.doffingLongerPct ?? 0) / 100));
  const workers = availableWorkers(state, procedure, now);
  const frame = {
    ...{ startAt, procedure, workers: workers.map(([id]) => id) },
    lanes: openLanes(state),
    observers: observersOf(state, ask),
  };
  const longest = procedure.limit.minutes - doffing - state.rules.callOut.marginMinutes;
  const instance: RotationInstance = {
    slotMinutes,
    horizonMinutes: slotsDown(ask.hours * 60),
    durations: {
      donning: slots(expected.donning.minutes),
      doffing,
      turnover: slots(Math.max(0, ...lanesInUse(state).map((lane) => lane.turnoverMinutes))),
      postCheck: slots(settings.postCheckMinutes),
      rest: slots(state.rules.rest.minutes),
      handover: slots(settings.handoverMinutes),
    },
    insideMinutesAllowed: staysWithin(settings.insideMinutes, longest),
    maxOverrunMinutes: slots(settings.maxOverrunMinutes),
    perPerson: {
      maxMinutesInEquipment: slotsDown(state.rules.perDay.minutesInPpe),
      maxEntries: state.rules.perDay.entries,
    },
    rooms: state.rules.rooms.map(({ id }) => ({ id, staffInside: at(staffInside, id) ?? 0 })),
    workers: workers.map(([id, worker]) => workerFrame(state, id, worker, frame.startAt, now, settings)),
    lanes: frame.lanes.length + (whatIf.lanesMore ?? 0),
    observers: Math.max(0, frame.observers.length - (whatIf.observersLess ?? 0)),
    observerBreak: {
      minutes: slots(settings.observerBreak.minutes),
      everyMinutes: slots(settings.observerBreak.everyMinutes),
    },
    inside: workers.flatMap(([id, worker]) => insideFrame(id, worker, startAt, slots(settings.handoverMinutes))),
    weights: settings.weights,
  };
  const away = lanesAway(state, frame, instance);
  letEverybodyOut(instance, away);
  const keep = (ask.locked ?? []).flatMap((trip) => keptEntry(trip, frame, instance));
  return { instance, frame, keep, lanesAway: away };
}

function lanesAway(state: UnitState, { lanes, startAt }: RotationFrame, instance: RotationInstance): LaneAway[] {
  const { doffing, turnover } = instance.durations;
  return lanes.flatMap((id, lane) => {
    const { value, context } = at(state.lanes, id) ?? {};
    const freeAt =
      value === 'turnover'
        ? context?.turnoverUntil
        : value === 'occupied' && context
          ? context.since + (doffing + turnover) * minuteMs
          : undefined;
    const toMinute = freeAt === undefined ? 0 : slots((freeAt - startAt) / minuteMs);
    return toMinute > 0 ? [{ lane, fromMinute: 0, toMinute }] : [];
  });
}

/** How long donning and doffing take here: the unit's own times once there are enough, else what the procedure says. */
const expectedIn = (state: UnitState, procedure: Procedure) =>
  expectedTimes(procedure, {
    donningMinutes: at(state.donnings, procedure.id) ?? [],
    doffingMinutes: at(state.doffings, procedure.id) ?? [],
  });

/** Qualified, not stood down, not barred for today; or in equipment already. */
function availableWorkers(state: UnitState, procedure: Procedure, now: number): [PersonId, UnitWorker][] {
  return entriesOf(state.workers).filter(([id, worker]) => {
    const person = at(state.roster, id);
    if (worker.machine.context.entry) return true;
    if (!person?.roles.includes('worker') || worker.machine.context.stoodDownBecause !== undefined) return false;
    if ((worker.after?.barredUntil ?? 0) > now) return false;
    return qualificationRefusal(state.rules, person, procedure, now) === undefined;
  });
}

const lanesInUse = (state: UnitState) => state.rules.lanes.filter(({ id }) => at(state.lanes, id)?.value !== 'closed');
const openLanes = (state: UnitState): LaneId[] => lanesInUse(state).map(({ id }) => id);

function observersOf(state: UnitState, { observers: which, observersAway = [] }: RotationAsk): PersonId[] {
  return entriesOf(state.observers)
    .filter(([id]) => !observersAway.includes(id))
    .filter(([id]) => at(state.roster, id)?.roles.includes('observer') ?? false)
    .filter(([, { value }]) => which === 'roster' || (value !== 'off-shift' && value !== 'unreachable'))
    .map(([id]) => id);
}

/** Stays that leave time for doffing inside the limit; where none does, the longest that is left. */
function staysWithin(stays: readonly number[], longest: number): number[] {
  const fitting = [...new Set(stays.map(slotsDown))].filter((stay) => stay >= slotMinutes && stay <= longest);
  return fitting.length > 0 ? fitting.sort((one, other) => one - other) : [Math.max(slotMinutes, slotsDown(longest))];
}

function workerFrame(
  state: UnitState,
  id: PersonId,
  worker: UnitWorker,
  startAt: number,
  now: number,
  settings: RotationSettings,
): RotationInstance['workers'][number] {
  const worn = wornInDay(worker.machine.context, now);
  return {
    ...{ id, onDutyFromMinute: 0, onDutyToMinute: null },
    busyUntilMinute: Math.min(
      busyMinutesMost,
      slots(Math.max(0, (busyUntil(state, worker, now, settings) - startAt) / minuteMs)),
    ),
    minutesInEquipmentSoFar: slots(worn.minutes),
    entriesSoFar: worn.entries,
  };
}

/** Until when somebody is not to be called again; people inside are in the instance for themselves. */
function busyUntil(state: UnitState, { machine }: UnitWorker, now: number, settings: RotationSettings): number {
  const { rest, entry } = machine.context;
  const afterDoffing = (settings.postCheckMinutes + state.rules.rest.minutes) * minuteMs;
  if (!entry) return rest?.until ?? now;
  if (placeOf(machine) === 'post-check') return now + afterDoffing;
  if (placeOf(machine) !== 'doffing') return now;
  const limit = entry.limit?.doffingMinutes ?? 0;
  return Math.max(now, (entry.laneAt ?? now) + limit * minuteMs) + afterDoffing;
}

/** Whoever is in equipment in front of a lane, or on the way there. */
function insideFrame(
  id: PersonId,
  { machine }: UnitWorker,
  startAt: number,
  handover: number,
): RotationInstance['inside'] {
  const { entry } = machine.context;
  const isBound = placeOf(machine) === 'pre-check' || isCallable(machine) || placeOf(machine) === 'inside';
  if (!entry || !isBound) return [];
  const since = entry.insideAt ?? startAt;
  return [{ worker: id, room: entry.room, sinceMinute: Math.min(-handover, slotsDown((since - startAt) / minuteMs)) }];
}

function keptEntry(trip: PlannedTrip, frame: RotationFrame, instance: RotationInstance): PlannedEntry[] {
  const donningStartMinute = slotsDown((trip.donningAt - frame.startAt) / minuteMs);
  const isKnown = frame.workers.includes(trip.worker) && donningStartMinute >= 0;
  const isInside = instance.inside.some(({ worker }) => worker === trip.worker);
  if (!isKnown || (isInside && donningStartMinute === 0)) return [];
  const number = (list: readonly string[], id: string | undefined) => Math.max(0, list.indexOf(id ?? ''));
  return [
    {
      ...{ worker: trip.worker, room: trip.room, donningStartMinute, insideMinutes: slots(trip.insideMinutes) },
      lane: number(frame.lanes, trip.lane),
      observerDonning: number(frame.observers, trip.observerDonning),
      observerDoffing: number(frame.observers, trip.observerDoffing),
    },
  ];
}

/** A plan in the unit's ids and times. The same worker at the same time is the same trip, so that it keeps what became of it. */
export function rotationOf(
  state: UnitState,
  problem: RotationProblem,
  plan: Plan,
  locked: readonly PlannedTrip[] = [],
): Rotation {
  const { instance, frame } = problem;
  const { startAt } = frame;
  return {
    startAt,
    endAt: startAt + instance.horizonMinutes * minuteMs,
    trips: plan.entries.map((entry) => tripOf(state, problem, entry, locked)),
    breaks: plan.breaks.flatMap(({ observer, startMinute }) => {
      const id = frame.observers[observer];
      const { minutes } = instance.observerBreak;
      return id ? [{ observer: id, at: startAt + startMinute * minuteMs, minutes }] : [];
    }),
    staffInside: Object.fromEntries(
      instance.rooms.filter(({ staffInside }) => staffInside > 0).map(({ id, staffInside }) => [id, staffInside]),
    ),
  };
}

function tripOf(
  state: UnitState,
  { instance, frame }: RotationProblem,
  entry: PlannedEntry,
  locked: readonly PlannedTrip[],
): PlannedTrip {
  const { donning, doffing } = instance.durations;
  const worker = entry.worker as PersonId;
  const donningAt = frame.startAt + entry.donningStartMinute * minuteMs;
  const id = (entry.ongoing && runningTripOf(state, worker)) || tripId(state, worker, donningAt);
  const lane = frame.lanes[entry.lane];
  const observerDonning = entry.observerDonning === null ? undefined : frame.observers[entry.observerDonning];
  const observerDoffing = frame.observers[entry.observerDoffing];
  const isLocked = locked.some((trip) => trip.worker === worker && trip.donningAt === donningAt);
  return {
    ...{ id, worker, room: entry.room as RoomId, procedure: frame.procedure.id, donningAt },
    ...{ donningMinutes: donning, insideMinutes: entry.insideMinutes, doffingMinutes: doffing },
    ...(lane && { lane }),
    ...(observerDonning && { observerDonning }),
    ...(observerDoffing && { observerDoffing }),
    ...(isLocked && { locked: true as const }),
  };
}

/** The trip of the adopted rotation that somebody is on now. */
function runningTripOf({ rotation, workers }: UnitState, worker: PersonId): string | undefined {
  const entry = at(workers, worker)?.machine.context.entry?.id;
  return Object.entries(rotation?.real ?? {}).find(([, became]) => became.entry === entry)?.[0];
}

/** By the place on the roster, which stays when somebody is stood down. */
const tripId = ({ roster }: UnitState, worker: PersonId, donningAt: number): string =>
  `${Math.round(donningAt / minuteMs).toString(36)}-${Object.keys(roster).indexOf(worker)}`;
