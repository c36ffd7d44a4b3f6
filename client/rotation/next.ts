import { standingOf, type PlannedTrip } from '../../machines/unit/rotation.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { wallClock } from '../board/clock.ts';
import { words } from '../words/words.ts';

/** Trips that the adopted rotation still expects, the next first. Those that are late come first of all. */
export function expectedTrips({ rotation }: UnitState, now: number): PlannedTrip[] {
  if (!rotation) return [];
  const isOpen = (trip: PlannedTrip) => ['ahead', 'due', 'late'].includes(standingOf(rotation, trip, now));
  return rotation.trips
    .filter((trip) => isOpen(trip) && now < trip.donningAt + forgottenAfterMs)
    .sort((one, other) => one.donningAt - other.donningAt);
}

/** A call this late is no longer taken for that trip (machines/unit/rotation.ts). */
const forgottenAfterMs = 90 * 60_000;

/** "next: NAME 14:35" for the cold side, whole and in two parts: in a narrow place the name is cut and never the time. */
export function nextWords(state: UnitState, nameOf: (id: PersonId) => string, now: number) {
  const [next] = expectedTrips(state, now);
  if (!next) return undefined;
  const who = words.rotation.next(nameOf(next.worker));
  const time = wallClock(next.donningAt);
  return { said: `${who} ${time}`, who, time };
}
