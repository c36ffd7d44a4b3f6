import { leavesRoomAt, standingOf, type AdoptedRotation, type PlannedTrip } from '../../machines/unit/rotation.ts';
import { wallClock } from '../board/clock.ts';
import type { FloorNames } from '../board/floor-names.ts';
import { words } from '../words/words.ts';
import type { Change, Departure, PlanAnswer } from './answers.ts';
import { minuteMs, spansOf, type Times } from './times.ts';

const { rotation: text } = words;

/** How close a plan is known to be to the best possible, in plain words. */
export function qualityWords({ status, gapPct, boundSource }: PlanAnswer): string {
  const { progress } = text;
  if (gapPct === undefined) return progress.noneYet;
  if (gapPct <= 0) return progress.provenBest;
  // The first bound is a quick one; a better one usually follows while the plan is made.
  if (status === 'planning' && boundSource === 'closed form') return progress.pending;
  return gapPct < 50 ? progress.within(percent(gapPct)) : progress.notProven;
}

/** Rounded up: what is said to be within is within. */
const percent = (gapPct: number): string => {
  const digits = gapPct < 10 ? 1 : 0;
  const factor = 10 ** digits;
  return (Math.ceil(gapPct * factor - 1e-9) / factor).toFixed(digits);
};

export function statusWords({ status, secondsSoFar, seconds, sentence }: PlanAnswer): string {
  const { progress } = text;
  switch (status) {
    case 'planning':
      return progress.planning(Math.min(Math.round(secondsSoFar), seconds), seconds);
    case 'finished':
      return progress.finished(Math.max(1, Math.round(secondsSoFar)));
    case 'cancelled':
      return progress.cancelled(Math.round(secondsSoFar));
    case 'failed':
      return `${progress.failed}. ${sentence ?? ''}`;
    default: {
      const never: never = status;
      throw new Error(`no status ${String(never)}`);
    }
  }
}

export const coveredWords = (uncoveredMinutes: number): string =>
  uncoveredMinutes === 0 ? text.progress.covered : text.progress.uncovered(Math.round(uncoveredMinutes));

const cost = (value: number): string => value.toFixed(value < 100 ? 1 : 0);
export const costWords = (objective: number, lowerBound: number): string =>
  text.progress.cost(cost(objective), cost(lowerBound));

/** Where a planned trip stands in reality. */
export function standingWords(rotation: AdoptedRotation, trip: PlannedTrip, now: number): string {
  const { standing } = text;
  const is = standingOf(rotation, trip, now);
  const minutesAfter = (instant: number) => Math.max(1, Math.floor((now - instant) / minuteMs));
  switch (is) {
    case 'ahead':
      return standing.ahead(wallClock(trip.donningAt));
    case 'late':
      return standing.late(minutesAfter(trip.donningAt));
    case 'over-time':
      return standing['over-time'](minutesAfter(leavesRoomAt(trip)));
    case 'done':
      return standing.done(wallClock(rotation.real[trip.id]?.doffedAt ?? now));
    case 'due':
    case 'under-way':
      return standing[is];
    default: {
      const never: never = is;
      throw new Error(`no standing ${String(never)}`);
    }
  }
}

export function tripWords(trip: PlannedTrip, names: FloorNames, times: Times): string {
  const { inside, doffing } = spansOf(trip, times);
  return text.timeline.tripSaid(
    names.person(trip.worker),
    names.room(trip.room),
    wallClock(trip.donningAt),
    wallClock(inside.from),
    wallClock(inside.to),
    wallClock(doffing.to),
  );
}

export function departureWords(one: Departure, names: FloorNames): string {
  const { departures } = text.repair;
  switch (one.kind) {
    case 'late':
    case 'over-time':
    case 'not-available':
      return departures[one.kind](names.person(one.worker));
    case 'out-early':
    case 'out-late':
      return departures[one.kind](names.person(one.worker), one.minutes);
    case 'lane-closed':
    case 'lane-reopened':
      return departures[one.kind](names.lane(one.lane));
    case 'observer-off':
      return departures['observer-off'](names.person(one.observer));
    default: {
      const never: never = one;
      throw new Error(`no departure ${JSON.stringify(never)}`);
    }
  }
}

/** From the call to the end of doffing, as a change tells it. */
const roughly = (trip: PlannedTrip): string =>
  `${wallClock(trip.donningAt)}–${wallClock(leavesRoomAt(trip) + trip.doffingMinutes * minuteMs)}`;

export function changeWords({ what, before, after }: Change, names: FloorNames): string {
  const { changes } = text.repair;
  const trip = after ?? before;
  if (!trip) return '';
  const name = names.person(trip.worker);
  const said = (told: (one: PlannedTrip) => string) => [before ? told(before) : '', after ? told(after) : ''] as const;
  switch (what) {
    case 'added':
    case 'left-out':
      return changes[what](name, `${roughly(trip)}, ${names.room(trip.room)}`);
    case 'moved':
      return changes.moved(name, ...said((one) => wallClock(one.donningAt)));
    case 'stay':
      return changes.stay(name, ...said((one) => wallClock(leavesRoomAt(one))));
    case 'room':
      return changes.room(name, ...said((one) => names.room(one.room)));
    case 'lane':
      return changes.lane(name, ...said((one) => (one.lane ? names.lane(one.lane) : text.trip.noLane)));
    case 'observer':
      return changes.observer(name, wallClock(trip.donningAt));
    default: {
      const never: never = what;
      throw new Error(`no change ${String(never)}`);
    }
  }
}
