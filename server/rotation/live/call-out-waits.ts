import { minutesMs } from '../../../machines/unit/limit.ts';
import { isCallable } from '../../../machines/unit/questions.ts';
import { at, entriesOf, type UnitState } from '../../../machines/unit/state.ts';
import type { EntryId, PersonId } from '../../../machines/wire/ids.ts';
import type { Limit } from '../../../machines/worker/worker-machine.ts';

/**
 * The wait that a call-out leaves room for is forecast from call-out times, and moves them: a circle. Two exits at once would
 * send each other back and forth for ever, because whoever is moved forward no longer waits, and so is moved back. It is cut
 * here: these waits are forecast on the unit with no call-out moved for waiting. What such waits have made of call-out times
 * does not enter, so the same state gives the same waits however often it is asked. What somebody planned, and who was really
 * called out, does enter: then the others' waits are forecast anew from where people really are.
 */
export function withoutWaits(state: UnitState): UnitState {
  const workers = entriesOf(state.workers).map(([id, worker]) => {
    const { entry } = worker.machine.context;
    if (!entry?.limit || entry.donnedAt === undefined || !isCallable(worker.machine)) return [id, worker] as const;
    const limit = unmoved(entry.limit, entry.donnedAt, worker.callOutPlan?.callOutAt);
    const context = { ...worker.machine.context, entry: { ...entry, limit } };
    return [id, { ...worker, machine: { ...worker.machine, context } }] as const;
  });
  return { ...state, workers: Object.fromEntries(workers) as UnitState['workers'] };
}

function unmoved(limit: Limit, donnedAt: number, planned: number | undefined): Limit {
  const { doffingMinutes = 0, marginMinutes = 0 } = limit;
  const latest = limit.limitAt - minutesMs(doffingMinutes + marginMinutes);
  return { ...limit, callOutAt: Math.max(donnedAt, Math.min(latest, planned ?? latest)) };
}

/** What the forecasts of the last minute say of one wait: the least and the most of it. Minutes. */
export interface WaitForecast {
  least: number;
  most: number;
}

/** A wait is given back only when this much less is to be expected: more than chance moves a quantile by. Minutes. */
const givenBackFrom = 5;
const takenFrom = 2;

/**
 * The wait to leave room for, whole minutes, beside the one that is left room for now. More only when every forecast of the last
 * minute says so, because a lane that is closed for a moment must not call everybody out; less only when it is clearly less.
 *
 * @param forecast undefined when there is no forecast of now
 */
export function steadyWait(now: number, forecast: WaitForecast | undefined): number {
  if (forecast === undefined) return now;
  const [least, most] = [Math.round(forecast.least), Math.round(forecast.most)];
  if (least >= now + takenFrom) return least;
  return most <= now - givenBackFrom ? most : now;
}

/** Of those who are still to be called out; for everybody else it stays what it was when they were called. */
export function waitToLeave(state: UnitState, worker: PersonId, forecast: WaitForecast | undefined): number {
  const machine = at(state.workers, worker)?.machine;
  const now = machine?.context.entry?.limit?.waitMinutes ?? 0;
  return machine && isCallable(machine) ? steadyWait(now, forecast) : now;
}

/** Those whose call-out should move for waiting now, by the wait to leave room for. */
export function movedWaits(
  state: UnitState,
  forecastWaitOf: (worker: PersonId) => WaitForecast | undefined,
): { worker: PersonId; entry: EntryId; waitMinutes: number }[] {
  return entriesOf(state.workers).flatMap(([worker, { machine }]) => {
    const { entry } = machine.context;
    if (!entry?.limit || !isCallable(machine)) return [];
    const waitMinutes = waitToLeave(state, worker, forecastWaitOf(worker));
    return waitMinutes === (entry.limit.waitMinutes ?? 0) ? [] : [{ worker, entry: entry.id, waitMinutes }];
  });
}
