import { z } from 'zod';
import { entryId, laneId, personId, procedureId, roomId, type PersonId } from '../wire/ids.ts';
import type { NumberedFact } from '../wire/fact.ts';
import { at, type UnitState } from './state.ts';

/**
 * The rotation: the plan of entries over a shift, as the unit has adopted it. It expects, and forces nothing: who is called is
 * what somebody does. Reality is kept beside each planned trip.
 */
const instant = z.int().min(0).describe('milliseconds since 1970-01-01T00:00Z');
const minutes = z.number().min(0).max(1440);
export const tripsMost = 200;

export const plannedTrip = z.strictObject({
  id: z.string().regex(/^[A-Za-z0-9][A-Za-z0-9._:-]{0,39}$/),
  worker: personId,
  room: roomId,
  procedure: procedureId,
  donningAt: instant,
  donningMinutes: minutes,
  insideMinutes: minutes,
  doffingMinutes: minutes,
  lane: laneId.optional(),
  observerDonning: personId.optional(),
  observerDoffing: personId.optional(),
  /** Somebody wants it to stay just so when the plan is made anew. */
  locked: z.literal(true).optional(),
});
export type PlannedTrip = z.infer<typeof plannedTrip>;

export const rotation = z.strictObject({
  startAt: instant,
  endAt: instant,
  trips: z.array(plannedTrip).max(tripsMost),
  breaks: z.array(z.strictObject({ observer: personId, at: instant, minutes })).max(tripsMost),
  /** How many people were asked for in each room; absent where nobody has said. */
  staffInside: z.record(roomId, z.int().min(0).max(12)).optional(),
  /** How good it is known to be; absent where nobody has worked it out. */
  quality: z.strictObject({ objective: z.number(), lowerBound: z.number(), gapPct: z.number() }).optional(),
});
export type Rotation = z.infer<typeof rotation>;

/** What became of a planned trip. Times are milliseconds; what has not happened is absent. */
export const reality = z.strictObject({
  entry: entryId,
  calledAt: instant,
  donnedAt: instant.optional(),
  leftAt: instant.optional(),
  doffedAt: instant.optional(),
});
export type Reality = z.infer<typeof reality>;

export interface AdoptedRotation extends Rotation {
  adoptedAt: number;
  /** By the id of the trip. */
  real: Readonly<Record<string, Reality>>;
}

export const leavesRoomAt = (trip: PlannedTrip): number =>
  trip.donningAt + (trip.donningMinutes + trip.insideMinutes) * 60_000;
export const doffedAt = (trip: PlannedTrip): number => leavesRoomAt(trip) + trip.doffingMinutes * 60_000;

/** A call this much before or after the planned time is still taken for that trip. Common practice, no source. */
const sameTripMs = 90 * 60_000;
const lateAfterMs = 5 * 60_000;

export type TripStanding = 'ahead' | 'due' | 'late' | 'under-way' | 'over-time' | 'done';

export function standingOf({ real }: AdoptedRotation, trip: PlannedTrip, now: number): TripStanding {
  const became = real[trip.id];
  if (became?.doffedAt !== undefined) return 'done';
  if (became) return became.leftAt === undefined && now > leavesRoomAt(trip) + lateAfterMs ? 'over-time' : 'under-way';
  if (now < trip.donningAt) return 'ahead';
  return now < trip.donningAt + lateAfterMs ? 'due' : 'late';
}

/** Keeps what happens beside the trip it belongs to. Facts that belong to none leave the rotation as it is. */
export function noteReality(state: UnitState, fact: NumberedFact): UnitState {
  const { rotation } = state;
  const next = rotation && realityAfter(rotation, fact);
  return next && next !== rotation ? { ...state, rotation: next } : state;
}

function realityAfter(rotation: AdoptedRotation, fact: NumberedFact): AdoptedRotation {
  switch (fact.kind) {
    case 'worker-called': {
      const trip = nextTripOf(rotation, fact.data.worker, fact.at);
      return trip ? withReality(rotation, trip.id, { entry: fact.data.entry, calledAt: fact.at }) : rotation;
    }
    case 'entry-cancelled':
      return without(rotation, fact.data.entry);
    case 'inspection-passed':
      return noted(rotation, fact.data.entry, { donnedAt: fact.at });
    case 'room-left':
    case 'emergency-declared':
      return noted(rotation, fact.data.entry, { leftAt: fact.at });
    case 'lane-left':
      return noted(rotation, fact.data.entry, { doffedAt: fact.at });
    default:
      return rotation;
  }
}

export function nextTripOf({ trips, real }: AdoptedRotation, worker: PersonId, now: number): PlannedTrip | undefined {
  return trips
    .filter((trip) => trip.worker === worker && !real[trip.id] && Math.abs(trip.donningAt - now) <= sameTripMs)
    .sort((one, other) => one.donningAt - other.donningAt)[0];
}

const tripIdOf = ({ real }: AdoptedRotation, entry: string): string | undefined =>
  Object.entries(real).find(([, became]) => became.entry === entry)?.[0];

function noted(rotation: AdoptedRotation, entry: string, more: Partial<Reality>): AdoptedRotation {
  const trip = tripIdOf(rotation, entry);
  const became = trip === undefined ? undefined : rotation.real[trip];
  return trip !== undefined && became ? withReality(rotation, trip, { ...became, ...more }) : rotation;
}

const withReality = (rotation: AdoptedRotation, trip: string, became: Reality): AdoptedRotation => ({
  ...rotation,
  real: { ...rotation.real, [trip]: became },
});

/** The entry came to nothing: the trip is ahead again. */
function without(rotation: AdoptedRotation, entry: string): AdoptedRotation {
  const trip = tripIdOf(rotation, entry);
  if (trip === undefined) return rotation;
  const { [trip]: _gone, ...real } = rotation.real;
  return { ...rotation, real };
}

/** The same rotation made anew keeps what has become of the trips that it still has. */
export function adoptedFrom(state: UnitState, adopted: Rotation, now: number): AdoptedRotation {
  const before = state.rotation?.real ?? {};
  const kept = adopted.trips.flatMap(({ id, worker }) => {
    const became = before[id];
    const wasOf = state.rotation?.trips.find((trip) => trip.id === id)?.worker;
    return became && wasOf === worker ? [[id, became] as const] : [];
  });
  const real = Object.fromEntries(kept);
  return withRunning(state, { ...adopted, adoptedAt: now, real });
}

/** Entries that are open already when a rotation is adopted belong to the trip that plans them. */
function withRunning(state: UnitState, rotation: AdoptedRotation): AdoptedRotation {
  let sofar = rotation;
  for (const trip of rotation.trips) {
    const entry = at(state.workers, trip.worker)?.machine.context.entry;
    if (!entry || tripIdOf(sofar, entry.id) !== undefined || sofar.real[trip.id]) continue;
    if (nextTripOf(sofar, trip.worker, entry.calledAt)?.id !== trip.id) continue;
    const { donnedAt, leftRoomAt, doffedAt } = entry;
    sofar = withReality(sofar, trip.id, {
      entry: entry.id,
      calledAt: entry.calledAt,
      ...(donnedAt !== undefined && { donnedAt }),
      ...(leftRoomAt !== undefined && { leftAt: leftRoomAt }),
      ...(doffedAt !== undefined && { doffedAt }),
    });
  }
  return sofar;
}
