import type { Procedure } from '../../../machines/procedure/procedure.ts';
import { governingLimit, noAdvice } from '../../../machines/unit/limit.ts';
import { placeOf, procedureOf } from '../../../machines/unit/questions.ts';
import { at, entriesOf, procedureKey, type UnitState } from '../../../machines/unit/state.ts';
import type { PersonId } from '../../../machines/wire/ids.ts';
import type { ScenarioPerson } from './scenario.ts';
import { minutesBetween, spreadOf, type FilledOptions, type PlanEntry } from './scenario-options.ts';

/** Entries of the adopted plan that have not begun, as people who are expected. */
export function expectedFromPlan(state: UnitState, now: number, options: FilledOptions): ScenarioPerson[] {
  const latest = now + options.horizonMinutes * 60_000;
  return options.plan
    .filter((one) => one.donningStartAt <= latest && isStillToCome(state, one, now, options))
    .flatMap((one) => expected(state, one, now, options) ?? []);
}

/** A planned start this long ago, with nobody called, will not happen any more. */
const lateMost = 60;

/**
 * What has begun is in the state already: a worker in an entry has begun the planned entry that is nearest to their call, and
 * all before it.
 */
function isStillToCome(state: UnitState, one: PlanEntry, now: number, options: FilledOptions): boolean {
  const worker = at(state.workers, one.worker as PersonId);
  if (!worker || one.donningStartAt < now - lateMost * 60_000) return false;
  const entry = worker.machine.context.entry;
  if (!entry || placeOf(worker.machine) === 'rest')
    return !hasWornSince(worker.machine.context.worn, one.donningStartAt);
  const distance = (plan: PlanEntry) => Math.abs(plan.donningStartAt - entry.calledAt);
  const theirs = options.plan.filter((plan) => plan.worker === one.worker);
  const begun = theirs.reduce((best, plan) => (distance(plan) < distance(best) ? plan : best));
  return one.donningStartAt > Math.max(begun.donningStartAt, now);
}

const hasWornSince = (worn: readonly { from: number }[], since: number): boolean =>
  worn.some(({ from }) => from >= since);

function expected(state: UnitState, one: PlanEntry, now: number, options: FilledOptions): ScenarioPerson | undefined {
  const procedure = procedureFor(state, one.room);
  const worker = at(state.workers, one.worker as PersonId);
  if (!procedure || !worker) return undefined;
  const startAt = Math.max(now, one.donningStartAt);
  const { limitAt, callOutAt } = governingLimit(state.rules, procedure, worker, startAt, noAdvice);
  return {
    stage: 'expected',
    id: `${one.worker} at ${new Date(one.donningStartAt).toISOString()}`,
    worker: one.worker,
    emergency: false,
    startsInMinutes: minutesBetween(now, startAt),
    donning: spreadOf(options, procedure, 'donning', procedure.expected.donningMinutes),
    inside: spreadOf(options, procedure, 'inside', one.insideMinutes),
    doffing: spreadOf(options, procedure, 'doffing', procedure.expected.doffingMinutes),
    callOutAfterMinutes: minutesBetween(startAt, callOutAt),
    limitAfterMinutes: minutesBetween(startAt, limitAt),
  };
}

/** A plan does not name procedures: the one in use for the room now, else the adopted one with the shortest limit. */
function procedureFor(state: UnitState, room: string): Procedure | undefined {
  const inUse = Object.values(state.workers).find(({ machine }) => machine.context.entry?.room === room);
  if (inUse?.machine.context.entry) return procedureOf(state, inUse.machine.context.entry);
  return entriesOf(state.adopted)
    .flatMap(([id, version]) => state.procedures[procedureKey(id, version)] ?? [])
    .sort((a, b) => a.limit.minutes - b.limit.minutes)[0];
}
