import { leavesRoomAt, type AdoptedRotation, type PlannedTrip } from '../../../machines/unit/rotation.ts';
import { at, procedureKey, type UnitState } from '../../../machines/unit/state.ts';
import type { PersonId, RoomId } from '../../../machines/wire/ids.ts';
import type { Plan, PlannedEntry } from '../instance.ts';
import { readInstance } from '../read-instance.ts';
import { departuresOf, tripsAhead } from './departures.ts';
import { instanceOf, slotMinutes, type RotationProblem } from './instance-of.ts';

/** The adopted rotation and what is left of it, as a problem for the planner, with the plan as it was. Pure. */
export interface RepairProblem {
  problem: RotationProblem;
  previous: Plan;
  /** Trips that are running or ahead, as adopted. */
  trips: PlannedTrip[];
  locked: PlannedTrip[];
}

const minuteMs = 60_000;
/** With less than this left there is nothing to repair. */
const minutesLeftMin = 30;

/** undefined: there is nothing to repair, or nothing that can be planned. */
export function repairProblem(state: UnitState, now: number): RepairProblem | undefined {
  const { rotation } = state;
  const { rotation: settings } = state.rules;
  const procedure = rotation && procedureIn(state, rotation);
  if (!rotation || !settings || !procedure) return undefined;
  const startAt = Math.ceil(now / (slotMinutes * minuteMs)) * slotMinutes * minuteMs;
  const hours = (rotation.endAt - startAt) / (60 * minuteMs);
  if (hours * 60 < minutesLeftMin) return undefined;
  const observersAway = departuresOf(state, now).flatMap((one) => (one.kind === 'observer-off' ? [one.observer] : []));
  const ahead = tripsAhead(rotation, now).filter((trip) => trip.procedure === procedure.id);
  const locked = ahead.filter((trip) => trip.locked);
  const ask = {
    hours,
    procedure,
    staffInside: staffInsideOf(rotation),
    observers: 'roster',
    observersAway,
    locked,
  } as const;
  const problem = instanceOf(state, settings, ask, now);
  if (!readInstance(problem.instance).ok) return undefined;
  const running = rotation.trips.filter(({ id }) => isRunning(rotation, id));
  const previous = { entries: previousEntries(problem, running, ahead), breaks: previousBreaks(problem, rotation) };
  return { problem, previous, trips: [...running, ...ahead], locked };
}

function procedureIn(state: UnitState, { trips }: AdoptedRotation) {
  const [first] = trips;
  const version = first && at(state.adopted, first.procedure);
  return first && version !== undefined ? at(state.procedures, procedureKey(first.procedure, version)) : undefined;
}

export const isRunning = ({ real }: AdoptedRotation, trip: string): boolean =>
  real[trip] !== undefined && real[trip].leftAt === undefined;

/** As it was asked for; where nobody has said, the most that the plan has in a room at once, relief apart. */
export function staffInsideOf({ staffInside, trips }: AdoptedRotation): Record<RoomId, number> {
  if (staffInside) return staffInside;
  const counts: Record<RoomId, number> = {};
  for (const trip of trips) {
    const enters = trip.donningAt + trip.donningMinutes * minuteMs;
    const middle = (enters + leavesRoomAt(trip)) / 2;
    const there = trips.filter(
      (one) =>
        one.room === trip.room && one.donningAt + one.donningMinutes * minuteMs <= middle && leavesRoomAt(one) > middle,
    ).length;
    counts[trip.room] = Math.max(counts[trip.room] ?? 0, there);
  }
  return counts;
}

function previousEntries(
  { frame, instance }: RotationProblem,
  running: readonly PlannedTrip[],
  ahead: readonly PlannedTrip[],
): PlannedEntry[] {
  const minuteOf = (instant: number) => Math.floor((instant - frame.startAt) / minuteMs / slotMinutes) * slotMinutes;
  const number = (list: readonly string[], id: string | undefined) => Math.max(0, list.indexOf(id ?? ''));
  const about = ({ worker, room, lane, observerDonning, observerDoffing }: PlannedTrip) => ({
    ...{ worker, room, lane: number(frame.lanes, lane) },
    observerDonning: number(frame.observers, observerDonning),
    observerDoffing: number(frame.observers, observerDoffing),
  });
  const going = running.flatMap((trip): PlannedEntry[] => {
    const inside = instance.inside.find(({ worker }) => worker === trip.worker);
    if (!inside) return [];
    const donningStartMinute = inside.sinceMinute - instance.durations.donning;
    const insideMinutes = Math.max(slotMinutes, minuteOf(leavesRoomAt(trip))) - inside.sinceMinute;
    return [{ ...about(trip), donningStartMinute, insideMinutes, observerDonning: null, ongoing: true }];
  });
  // Whoever should have been called by now is called at once, and stays as long as planned.
  const coming = ahead.map((trip) => ({
    ...about(trip),
    donningStartMinute: Math.max(0, minuteOf(trip.donningAt)),
    insideMinutes: trip.insideMinutes,
  }));
  return [...going, ...coming.filter(({ worker }) => frame.workers.includes(worker as PersonId))];
}

function previousBreaks({ frame }: RotationProblem, { breaks }: AdoptedRotation): Plan['breaks'] {
  return breaks.flatMap((one) => {
    const observer = frame.observers.indexOf(one.observer);
    const startMinute = Math.round((one.at - frame.startAt) / minuteMs / slotMinutes) * slotMinutes;
    return observer >= 0 && startMinute >= 0 ? [{ observer, startMinute }] : [];
  });
}
