import { leavesRoomAt, standingOf, type AdoptedRotation, type PlannedTrip } from '../../../machines/unit/rotation.ts';
import { at, entriesOf, type UnitState } from '../../../machines/unit/state.ts';
import type { LaneId, PersonId } from '../../../machines/wire/ids.ts';

/** Where reality has left the adopted rotation. Pure. Minutes are whole. */
export type Departure =
  /** Not called, though it is time. */
  | { kind: 'late'; trip: string; worker: PersonId }
  /** Still inside past the planned end. */
  | { kind: 'over-time'; trip: string; worker: PersonId }
  | { kind: 'out-early' | 'out-late'; trip: string; worker: PersonId; minutes: number }
  /** Stood down, or barred for today. */
  | { kind: 'not-available'; worker: PersonId }
  | { kind: 'lane-closed' | 'lane-reopened'; lane: LaneId }
  | { kind: 'observer-off'; observer: PersonId };

const minuteMs = 60_000;
/** What the plan's own slots hide anyway. */
const offByMs = 5 * minuteMs;
/** So long somebody who came out early or late is still worth a repair; then the plan has gone on. */
const recentMs = 30 * minuteMs;

export function departuresOf(state: UnitState, now: number): Departure[] {
  const { rotation } = state;
  if (!rotation || now >= rotation.endAt) return [];
  const ahead = tripsAhead(rotation, now);
  return [
    ...rotation.trips.flatMap((trip) => tripDeparture(rotation, trip, now)),
    ...absentWorkers(state, ahead, now),
    ...laneChanges(state, rotation, ahead),
    ...observersOff(state, rotation, ahead),
  ];
}

/** Trips that have not begun, apart from those whose time is over. */
export const tripsAhead = ({ trips, real }: AdoptedRotation, now: number): PlannedTrip[] =>
  trips.filter((trip) => !real[trip.id] && leavesRoomAt(trip) > now);

function tripDeparture(rotation: AdoptedRotation, trip: PlannedTrip, now: number): Departure[] {
  const { id, worker } = trip;
  const about = { trip: id, worker };
  const standing = standingOf(rotation, trip, now);
  if (standing === 'late' && leavesRoomAt(trip) > now) return [{ kind: 'late', ...about }];
  if (standing === 'over-time') return [{ kind: 'over-time', ...about }];
  const leftAt = rotation.real[id]?.leftAt;
  if (leftAt === undefined || now - leftAt > recentMs) return [];
  const off = leftAt - leavesRoomAt(trip);
  if (Math.abs(off) <= offByMs) return [];
  return [{ kind: off < 0 ? 'out-early' : 'out-late', ...about, minutes: Math.round(Math.abs(off) / minuteMs) }];
}

function absentWorkers(state: UnitState, ahead: readonly PlannedTrip[], now: number): Departure[] {
  const gone = [...new Set(ahead.map(({ worker }) => worker))].filter((id) => {
    const worker = at(state.workers, id);
    if (!worker) return true;
    return worker.machine.context.stoodDownBecause !== undefined || (worker.after?.barredUntil ?? 0) > now;
  });
  return gone.map((worker) => ({ kind: 'not-available', worker }));
}

function laneChanges(state: UnitState, rotation: AdoptedRotation, ahead: readonly PlannedTrip[]): Departure[] {
  const planned = new Set(ahead.map(({ lane }) => lane));
  return entriesOf(state.lanes).flatMap(([lane, { value, context }]): Departure[] => {
    if (value === 'closed') return planned.has(lane) ? [{ kind: 'lane-closed', lane }] : [];
    const isNew = !rotation.trips.some((trip) => trip.lane === lane) && context.since > rotation.adoptedAt;
    return isNew && value === 'turnover' ? [{ kind: 'lane-reopened', lane }] : [];
  });
}

/** Off duty since the plan was adopted; whoever had not begun by then is expected to come. */
function observersOff(state: UnitState, rotation: AdoptedRotation, ahead: readonly PlannedTrip[]): Departure[] {
  const planned = new Set(ahead.flatMap((trip) => [trip.observerDonning, trip.observerDoffing]));
  return entriesOf(state.observers)
    .filter(
      ([id, { value, context }]) => planned.has(id) && value === 'off-shift' && context.since > rotation.adoptedAt,
    )
    .map(([observer]) => ({ kind: 'observer-off', observer }));
}

/** The same departures have the same name, however long they last. */
export const departuresKey = (departures: readonly Departure[]): string =>
  departures
    .map(
      (one) =>
        `${one.kind} ${'trip' in one ? one.trip : 'lane' in one ? one.lane : 'worker' in one ? one.worker : one.observer}`,
    )
    .sort()
    .join(', ');
