import type { PlannedTrip } from '../../machines/unit/rotation.ts';
import { leavesRoomAt } from '../../machines/unit/rotation.ts';
import type { UnitRules } from '../../machines/unit/state.ts';
import type { LaneId } from '../../machines/wire/ids.ts';

/** What the unit's own rules say about the time around a trip, in minutes. */
export interface Times {
  handover: number;
  postCheck: number;
  rest: number;
  turnover: (lane: LaneId | undefined) => number;
}

export function timesOf(rules: UnitRules): Times {
  const turnovers = new Map(rules.lanes.map(({ id, turnoverMinutes }) => [id, turnoverMinutes]));
  return {
    handover: rules.rotation?.handoverMinutes ?? 0,
    postCheck: rules.rotation?.postCheckMinutes ?? 0,
    rest: rules.rest.minutes,
    turnover: (lane) => (lane && turnovers.get(lane)) ?? 0,
  };
}

export const minuteMs = 60_000;
export const slotMs = 5 * minuteMs;

export interface Span {
  from: number;
  to: number;
}

/** The parts of a trip one after the other; milliseconds. */
export interface TripSpans {
  donning: Span;
  inside: Span;
  doffing: Span;
  check: Span;
  rest: Span;
  /** The lane is taken for doffing and turnover. */
  lane: Span;
  /** From the call to the end of the rest. */
  busy: Span;
}

export function spansOf(trip: PlannedTrip, times: Times): TripSpans {
  const enters = trip.donningAt + trip.donningMinutes * minuteMs;
  const leaves = leavesRoomAt(trip);
  const doffed = leaves + trip.doffingMinutes * minuteMs;
  const checked = doffed + times.postCheck * minuteMs;
  const rested = checked + times.rest * minuteMs;
  return {
    donning: { from: trip.donningAt, to: enters },
    inside: { from: enters, to: leaves },
    doffing: { from: leaves, to: doffed },
    check: { from: doffed, to: checked },
    rest: { from: checked, to: rested },
    lane: { from: leaves, to: doffed + times.turnover(trip.lane) * minuteMs },
    busy: { from: trip.donningAt, to: rested },
  };
}

export const meets = (one: Span, other: Span): boolean => one.from < other.to && other.from < one.to;
