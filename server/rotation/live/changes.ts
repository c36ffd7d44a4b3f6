import { leavesRoomAt, type PlannedTrip, type Rotation } from '../../../machines/unit/rotation.ts';

/** What is different between two rotations, trip by trip. Pure. */
export const changeKinds = ['added', 'left-out', 'moved', 'stay', 'room', 'lane', 'observer'] as const;
export type ChangeKind = (typeof changeKinds)[number];

export interface Change {
  trip: string;
  what: ChangeKind;
  before: PlannedTrip | null;
  after: PlannedTrip | null;
}

/** A trip that begins this much earlier or later is still taken for the same one. */
const sameTripMs = 90 * 60_000;

/**
 * The rotation with the names of the one before: a worker's trip that has only moved keeps its id. Each earlier trip gives its
 * name once, to the nearest.
 */
export function withNamesOf(before: readonly PlannedTrip[], rotation: Rotation): Rotation {
  const known = new Set(before.map(({ id }) => id));
  const free = before.filter(({ id }) => !rotation.trips.some((trip) => trip.id === id));
  const taken = new Set(rotation.trips.map(({ id }) => id));
  const trips = rotation.trips.map((trip) => {
    if (known.has(trip.id)) return trip;
    const same = nearest(free, trip);
    if (!same || (taken.has(same.id) && same.id !== trip.id)) return trip;
    free.splice(free.indexOf(same), 1);
    taken.add(same.id);
    return { ...trip, id: same.id };
  });
  return { ...rotation, trips };
}

function nearest(trips: readonly PlannedTrip[], { worker, donningAt }: PlannedTrip): PlannedTrip | undefined {
  const off = (one: PlannedTrip) => Math.abs(one.donningAt - donningAt);
  return trips
    .filter((one) => one.worker === worker && off(one) <= sameTripMs)
    .sort((one, other) => off(one) - off(other))[0];
}

/** @param hasBegun by the id of a trip: when it began is no longer a decision, only when it ends. */
export function changesBetween(
  before: readonly PlannedTrip[],
  after: readonly PlannedTrip[],
  hasBegun: (id: string) => boolean = () => false,
): Change[] {
  const later = new Map(after.map((trip) => [trip.id, trip]));
  const earlier = new Set(before.map(({ id }) => id));
  const changed = before.flatMap((trip): Change[] => {
    const now = later.get(trip.id) ?? null;
    const what = now ? difference(trip, now, hasBegun(trip.id)) : 'left-out';
    return what ? [{ trip: trip.id, what, before: trip, after: now }] : [];
  });
  const added = after.filter(({ id }) => !earlier.has(id));
  const all = [
    ...changed,
    ...added.map((trip): Change => ({ trip: trip.id, what: 'added', before: null, after: trip })),
  ];
  return all.sort((one, other) => startOf(one) - startOf(other));
}

const startOf = ({ before, after }: Change): number => (after ?? before)?.donningAt ?? 0;

/** The weightiest difference alone; who reads it sees both trips anyway. */
function difference(before: PlannedTrip, after: PlannedTrip, hasBegun: boolean): ChangeKind | undefined {
  if (before.room !== after.room) return 'room';
  if (!hasBegun && before.donningAt !== after.donningAt) return 'moved';
  if (leavesRoomAt(before) !== leavesRoomAt(after)) return 'stay';
  if (before.lane !== after.lane) return 'lane';
  const sameDonning = hasBegun || before.observerDonning === after.observerDonning;
  return sameDonning && before.observerDoffing === after.observerDoffing ? undefined : 'observer';
}
