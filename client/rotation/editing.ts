import { leavesRoomAt, type AdoptedRotation, type PlannedTrip, type Rotation } from '../../machines/unit/rotation.ts';
import { minuteMs, slotMs } from './times.ts';

/** What somebody has changed on a plan by hand, beside the plan itself, so that each change can be taken back. */
export interface Edits {
  /** By the id of a trip: when donning begins now. */
  moves: Readonly<Record<string, number>>;
  /** By the id of a trip: what was decided here about staying. */
  locks: Readonly<Record<string, boolean>>;
}

export const noEdits: Edits = { moves: {}, locks: {} };

export function edited(rotation: Rotation, { moves, locks }: Edits): Rotation {
  const trips = rotation.trips.map(({ locked: before, ...trip }): PlannedTrip => {
    const isLocked = locks[trip.id] ?? before === true;
    return { ...trip, donningAt: moves[trip.id] ?? trip.donningAt, ...(isLocked && { locked: true as const }) };
  });
  const { quality, ...rest } = rotation;
  // What was proven was about the trips where they were.
  const isAsProven = Object.keys(moves).length === 0;
  return { ...rest, trips, ...(quality && isAsProven && { quality }) };
}

export type MayMove = { may: true } | { may: false; because: 'begun' | 'stays' };

/** What has begun, or should have, is where it is; what stays is let go first. */
export function mayMove(trip: PlannedTrip, real: AdoptedRotation['real'], now: number): MayMove {
  if (real[trip.id] !== undefined || trip.donningAt <= now) return { may: false, because: 'begun' };
  return trip.locked ? { may: false, because: 'stays' } : { may: true };
}

/** Donning at a whole slot, after now and inside the rotation. */
export function movedTo(rotation: Rotation, wantedAt: number, now: number): number {
  const earliest = Math.ceil(Math.max(now + 1, rotation.startAt) / slotMs) * slotMs;
  const latest = Math.floor((rotation.endAt - 1) / slotMs) * slotMs;
  return Math.min(Math.max(Math.round(wantedAt / slotMs) * slotMs, earliest), Math.max(earliest, latest));
}

/** A move back to where the plan has the trip is no move. */
export function withMove(edits: Edits, rotation: Rotation, id: string, donningAt: number): Edits {
  const { [id]: _before, ...moves } = edits.moves;
  const isHome = rotation.trips.find((trip) => trip.id === id)?.donningAt === donningAt;
  return { ...edits, moves: isHome ? moves : { ...moves, [id]: donningAt } };
}

export function withoutMove(edits: Edits, id: string): Edits {
  const { [id]: _gone, ...moves } = edits.moves;
  return { ...edits, moves };
}

export const withLock = (edits: Edits, id: string, isLocked: boolean): Edits => ({
  ...edits,
  locks: { ...edits.locks, [id]: isLocked },
});

/** What the next plan is made around: what is to stay, and what was put where it is by hand. */
export function stayingTrips(rotation: Rotation, { moves }: Edits, procedure: string, now: number): PlannedTrip[] {
  return rotation.trips
    .filter((trip) => (trip.locked || moves[trip.id] !== undefined) && trip.donningAt > now)
    .filter((trip) => trip.procedure === procedure)
    .map((trip) => ({ ...trip, locked: true as const }));
}

/** Keys that move a trip, in slots. */
export const slotsOfKey = (key: string): number => (key === 'ArrowLeft' ? -1 : key === 'ArrowRight' ? 1 : 0);

/**
 * What is left of a rotation that was withdrawn, to be adopted again: from now on, without what is over. The unit forgets with a rotation
 * what became of its trips, so a trip that is done would come back as one that nobody began.
 */
export function whatIsLeft(
  { adoptedAt: _at, real, quality: _proven, ...rotation }: AdoptedRotation,
  now: number,
): Rotation {
  const isOver = (trip: PlannedTrip) =>
    real[trip.id] ? real[trip.id]?.doffedAt !== undefined : leavesRoomAt(trip) <= now;
  return {
    ...rotation,
    startAt: Math.max(rotation.startAt, Math.floor(now / slotMs) * slotMs),
    trips: rotation.trips.filter((trip) => !isOver(trip)),
    breaks: rotation.breaks.filter(({ at, minutes }) => at + minutes * minuteMs > now),
  };
}
