import type { FactData } from '../wire/fact.ts';
import type { Limit } from '../worker/worker-machine.ts';
import { accept, draft, elsewhere, refuse, withEntry, type Decider, type Decision } from './decision.ts';
import { minutesMs, withCallOut } from './limit.ts';
import { isCallable } from './questions.ts';
import { doffedAt, type PlannedTrip, type Rotation } from './rotation.ts';
import { at, type UnitState } from './state.ts';

/** Reports about the plan: the rotation that is adopted, and a call-out that is brought forward so that exits don't clash. */

export const adoptRotation: Decider<'adopt-rotation'> = (one) => {
  const { rotation } = one.report.data;
  const problem = rotationProblem(one.state, rotation);
  return problem ?? accept(draft(one, 'rotation-adopted', { rotation }));
};

export const dropRotation: Decider<'drop-rotation'> = (one) =>
  one.state.rotation ? accept(draft(one, 'rotation-dropped', { reason: one.report.data.reason })) : accept();

function rotationProblem(state: UnitState, { startAt, endAt, trips, breaks }: Rotation): Decision | undefined {
  if (endAt <= startAt) return refuse('rotation/not-sound', 'The rotation ends before it starts.');
  const ids = trips.map((trip) => trip.id);
  const twice = ids.find((id, index) => ids.indexOf(id) !== index);
  if (twice !== undefined) return refuse('rotation/not-sound', `Two trips are called "${twice}".`);
  const stranger = breaks.find(({ observer }) => !at(state.observers, observer));
  if (stranger) return refuse('observer/unknown', `Nobody called "${stranger.observer}" is an observer of this unit.`);
  for (const trip of trips) {
    const problem = tripProblem(state, trip);
    if (problem) return problem;
  }
  return overlap(trips);
}

function tripProblem(state: UnitState, trip: PlannedTrip): Decision | undefined {
  const { worker, room, procedure, lane, observerDonning, observerDoffing } = trip;
  if (!at(state.workers, worker))
    return refuse('worker/unknown', `Nobody called "${worker}" is a worker of this unit.`);
  if (!state.rules.rooms.some((one) => one.id === room))
    return refuse('room/unknown', `There is no room "${room}" in this unit.`);
  if (at(state.adopted, procedure) === undefined)
    return refuse('procedure/unknown', `No procedure called "${procedure}" is adopted in this unit.`);
  if (lane && !at(state.lanes, lane)) return refuse('lane/unknown', `There is no lane "${lane}" in this unit.`);
  const observer = [observerDonning, observerDoffing].find((id) => id && !at(state.observers, id));
  if (observer) return refuse('observer/unknown', `Nobody called "${observer}" is an observer of this unit.`);
  return undefined;
}

/** Nobody can be in two trips at once; that somebody is tired is for the planner, and for whoever calls them. */
function overlap(trips: readonly PlannedTrip[]): Decision | undefined {
  const sorted = [...trips].sort((one, other) => one.donningAt - other.donningAt);
  for (const [index, trip] of sorted.entries()) {
    const other = sorted.slice(index + 1).find((later) => later.worker === trip.worker);
    if (other && other.donningAt < doffedAt(trip))
      return refuse(
        'rotation/not-sound',
        `"${trip.worker}" would be in two trips at once: ${trip.id} and ${other.id}.`,
      );
  }
  return undefined;
}

/**
 * Brings a call-out forward (or, without a time, back to what the limit says). Never later than the limit allows: that is not a
 * matter of planning.
 */
export const planCallOut: Decider<'plan-call-out'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) => {
    const { worker: id, callOutAt, reason } = one.report.data;
    const { limit, donnedAt } = entry;
    if (!isCallable(worker.machine) || !limit || donnedAt === undefined)
      return elsewhere(worker, 'in equipment with the call-out still ahead');
    const latest = latestCallOut(limit, donnedAt);
    if (callOutAt !== undefined && callOutAt > latest)
      return refuse('call-out/after-limit', 'That is later than the limit allows. Choose an earlier time.');
    const about = { worker: id, entry: entry.id };
    const moved = withCallOut(limit, callOutAt ?? latest, one.state.rules.callOut.warnBeforeMinutes, donnedAt);
    return accept(
      draft(one, 'call-out-planned', { ...about, ...(callOutAt !== undefined && { callOutAt }), reason }),
      draft(one, 'limit-set', { ...about, ...limitData(moved) }),
    );
  });

/** What the limit itself says, whatever was planned before. */
function latestCallOut(limit: Limit, donnedAt: number): number {
  const { doffingMinutes = 0, waitMinutes = 0, marginMinutes = 0 } = limit;
  return Math.max(donnedAt, limit.limitAt - minutesMs(doffingMinutes + waitMinutes + marginMinutes));
}

function limitData(limit: Limit): Omit<FactData<'limit-set'>, 'worker' | 'entry'> {
  const { kind, doffingMinutes = 0, waitMinutes = 0, marginMinutes = 0, ...rest } = limit;
  return { ...rest, doffingMinutes, waitMinutes, marginMinutes, ...(kind && { limitKind: kind }) };
}
