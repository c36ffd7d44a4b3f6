import { doffedAt, leavesRoomAt, type AdoptedRotation, type PlannedTrip } from '../../machines/unit/rotation.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { PersonId, RoomId } from '../../machines/wire/ids.ts';
import type { Entry } from '../../machines/worker/worker-machine.ts';
import { personIn, type Forecast } from '../forecast/forecast.ts';
import { againOf } from '../heat/again.ts';
import { expectedTrips } from '../rotation/next.ts';
import { minuteMs } from './clock.ts';
import type { InEquipment, Stand, Standing } from './standing.ts';

/**
 * Reality against the adopted rotation, one person at a time: what the plan has them do next, when, and how many minutes they are off.
 * Pure. Minutes are signed: positive is later than planned. The plan expects and forces nothing; neither does this.
 */
export type AgainstPlan =
  /**
   * In an entry, or on the cold side, and the plan has nothing for that. An entry that was begun `before` the rotation was adopted is no
   * departure from it; who is planned again later has the time of that.
   */
  | { is: 'not-in-plan'; before?: true; nextAt?: number }
  /** On the cold side with a trip that has not begun. `minutes` is how late the call is, 0 while there is time. */
  | { is: 'to-be-called'; plannedAt: number; minutes: number }
  /** It is planned, and they can't go at that time. */
  | { is: 'cannot-go'; plannedAt: number; because: CannotGo; minutes: number }
  /** On their way in, in the room, or out of it, with the trip of the plan. */
  | ({ is: 'goes-in' | 'came-out' | 'doffed'; plannedAt: number; minutes: number } & Elsewhere)
  | ({ is: 'comes-out'; plannedAt: number; minutes: number; by: ComesOutBy } & Elsewhere);

export type CannotGo = 'stood-down' | 'barred' | 'resting';
/**
 * What the expected time to leave the room goes by: what the server forecasts; without it the call-out time of the limit, which is the
 * latest and so says only how much too early it is; or that the planned time is over.
 */
export type ComesOutBy = 'forecast' | 'call-out' | 'clock';
interface Elsewhere {
  /** The planned room, where they are in another. */
  otherRoom?: RoomId;
}

/** What the slots of a plan hide anyway (5 minutes, as in the planner). */
export const onPlanWithinMinutes = 5;

/** Everybody on the floor, as far as there is a plan that is not over. */
export function againstPlan(
  state: UnitState,
  people: readonly Standing[],
  forecast: Forecast | undefined,
  now: number,
): Map<PersonId, AgainstPlan> {
  const { rotation } = state;
  if (!rotation || now >= rotation.endAt) return new Map();
  const next = new Map<PersonId, PlannedTrip>();
  for (const trip of expectedTrips(state, now)) if (!next.has(trip.worker)) next.set(trip.worker, trip);
  return new Map(
    people.flatMap((one): [PersonId, AgainstPlan][] => {
      const against =
        'entry' in one.stand
          ? inEntry(rotation, one, one.stand, { next: next.get(one.id), forecast, now })
          : outside(one, next, now);
      return against ? [[one.id, against]] : [];
    }),
  );
}

/** Whose tile has a line: on the cold side only those who are in the plan, else it would be on every tile. */
export const withALine = (
  against: ReadonlyMap<PersonId, AgainstPlan>,
  people: readonly Standing[],
): Map<PersonId, AgainstPlan> =>
  new Map(
    people.flatMap(({ id, stand }): [PersonId, AgainstPlan][] => {
      const mine = against.get(id);
      return mine && (mine.is !== 'not-in-plan' || 'entry' in stand) ? [[id, mine]] : [];
    }),
  );

function outside({ id, stand, again }: Standing, next: ReadonlyMap<PersonId, PlannedTrip>, now: number) {
  const trip = next.get(id);
  // Somebody who assists in a lane is busy there; only a trip that expects them says anything.
  if (!trip && stand.at === 'assisting') return undefined;
  if (!trip) return { is: 'not-in-plan' } as const;
  const plannedAt = trip.donningAt;
  const minutes = Math.max(0, wholeMinutes(now - plannedAt));
  const because = cannotGo(stand, againOf(again, now)?.is === 'barred', Math.max(plannedAt, now));
  return because
    ? ({ is: 'cannot-go', plannedAt, because, minutes } as const)
    : ({ is: 'to-be-called', plannedAt, minutes } as const);
}

function cannotGo(stand: Stand, isBarred: boolean, at: number): CannotGo | undefined {
  if (stand.at === 'stood-down') return 'stood-down';
  if (isBarred) return 'barred';
  return stand.at === 'resting' && stand.againAt > at ? 'resting' : undefined;
}

type StandInEntry = Extract<Stand, { entry: Entry }>;

function inEntry(
  rotation: AdoptedRotation,
  { id }: Standing,
  stand: StandInEntry,
  { next, forecast, now }: { next: PlannedTrip | undefined; forecast: Forecast | undefined; now: number },
): AgainstPlan {
  const trip = rotation.trips.find((one) => rotation.real[one.id]?.entry === stand.entry.id);
  const real = trip && rotation.real[trip.id];
  if (!trip || !real)
    return {
      is: 'not-in-plan',
      ...(stand.entry.calledAt <= rotation.adoptedAt && { before: true as const }),
      ...(next && { nextAt: next.donningAt }),
    };
  const elsewhere = stand.room === trip.room ? {} : { otherRoom: trip.room };
  switch (stand.at) {
    case 'pre-check': {
      const plannedAt = trip.donningAt + trip.donningMinutes * minuteMs;
      const comes = Math.max(now, real.calledAt + trip.donningMinutes * minuteMs);
      return { is: 'goes-in', plannedAt, minutes: wholeMinutes(comes - plannedAt), ...elsewhere };
    }
    case 'door':
    case 'room':
      return { is: 'comes-out', ...comesOut(trip, id, stand, forecast, now), ...elsewhere };
    case 'threshold':
    case 'lane': {
      const plannedAt = leavesRoomAt(trip);
      const leftAt = real.leftAt ?? stand.entry.leftRoomAt ?? now;
      return { is: 'came-out', plannedAt, minutes: wholeMinutes(leftAt - plannedAt), ...elsewhere };
    }
    case 'post-check': {
      const plannedAt = doffedAt(trip);
      const doffed = real.doffedAt ?? stand.entry.doffedAt ?? stand.since;
      return { is: 'doffed', plannedAt, minutes: wholeMinutes(doffed - plannedAt), ...elsewhere };
    }
    default:
      return stand satisfies never;
  }
}

function comesOut(
  trip: PlannedTrip,
  worker: PersonId,
  { limit }: InEquipment,
  forecast: Forecast | undefined,
  now: number,
): { plannedAt: number; minutes: number; by: ComesOutBy } {
  const plannedAt = leavesRoomAt(trip);
  const comesAt = forecast && personIn(forecast, worker)?.comesAt;
  const by = comesAt !== undefined ? 'forecast' : limit && limit.callOutAt < plannedAt ? 'call-out' : 'clock';
  const expectedAt = comesAt ?? (limit ? Math.min(limit.callOutAt, plannedAt) : plannedAt);
  // Whoever is inside can't have left before now, whatever was expected.
  const minutes = wholeMinutes(Math.max(now, expectedAt) - plannedAt);
  return { plannedAt, minutes, by: now > expectedAt && now >= plannedAt ? 'clock' : by };
}

/** Towards zero: nobody is said to be later, or earlier, than they are. */
const wholeMinutes = (ms: number): number => Math.trunc(ms / minuteMs) || 0;
