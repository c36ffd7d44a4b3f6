import type { Procedure } from '../../../machines/procedure/procedure.ts';
import { governingLimit, noAdvice } from '../../../machines/unit/limit.ts';
import { detailOf, guideOf, placeOf, procedureOf } from '../../../machines/unit/questions.ts';
import { entriesOf, type UnitState, type UnitWorker } from '../../../machines/unit/state.ts';
import type { EntryId, PersonId } from '../../../machines/wire/ids.ts';
import type { Entry } from '../../../machines/worker/worker-machine.ts';
import { lanesOf, observersOf } from './places-of.ts';
import { expectedFromPlan } from './plan-of.ts';
import type { Scenario, ScenarioPerson } from './scenario.ts';
import { defaultSpreads } from './scenario.ts';
import {
  minutesBetween,
  optionDefaults,
  spreadOf,
  type FilledOptions,
  type PlanEntry,
  type ScenarioOptions,
} from './scenario-options.ts';
import type { Spread } from './spread.ts';

/**
 * The state as the forecast plays it. Observers who are off shift or silent are not counted on. Whoever is at the door counts as
 * inside; whoever is held at the pre-check counts as beginning it again.
 *
 * @param now milliseconds since 1970
 */
export function scenarioOf(state: UnitState, now: number, options: ScenarioOptions = {}): Scenario {
  const filled = { ...optionDefaults, ...options };
  const { horizonMinutes, runs, seed, waitQuantile, postCheckMinutes, assignedObserverWaitMinutes } = filled;
  const observers = observersOf(state, now, filled);
  const onDuty = new Set(observers.map(({ id }) => id));
  const inEntry = entriesOf(state.workers).flatMap(([id, worker]) => {
    const person = personOf(state, id, worker, now, filled, onDuty);
    return person ? [person] : [];
  });
  return {
    lanes: lanesOf(state, now, filled),
    observers,
    people: [...inEntry, ...expectedFromPlan(state, now, filled)],
    settings: {
      ...{ horizonMinutes, runs, seed, waitQuantile, postCheckMinutes, assignedObserverWaitMinutes },
      ...defaultSpreads,
    },
  };
}

const minutesFrom = (now: number, at: number): number => Math.min(1440, Math.max(-1440, (at - now) / 60_000));

function personOf(
  state: UnitState,
  id: PersonId,
  worker: UnitWorker,
  now: number,
  options: FilledOptions,
  onDuty: ReadonlySet<string>,
): ScenarioPerson | undefined {
  const entry = worker.machine.context.entry;
  if (!entry) return undefined;
  const guide = guideOf(state, id);
  const assigned = worker.observer !== undefined && onDuty.has(worker.observer) ? worker.observer : undefined;
  const here: Here = { state, id, worker, entry, now, options, procedure: procedureOf(state, entry), guide, assigned };
  const place = placeOf(worker.machine);
  switch (place) {
    case 'pre-check':
      return beforeTheDoor(here);
    case 'donned':
    case 'inside':
      return inside(here);
    case 'doffing':
      return onTheWayOut(here);
    case 'post-check':
    case 'rest':
      return undefined;
    default:
      return place satisfies never;
  }
}

interface Here {
  state: UnitState;
  id: PersonId;
  worker: UnitWorker;
  entry: Entry;
  now: number;
  options: FilledOptions;
  procedure: Procedure;
  guide: PersonId | undefined;
  assigned: string | undefined;
}

const leavingMinutes = defaultSpreads.leaving.median;

function everybody({ id, entry, assigned, options, procedure }: Here) {
  return {
    id: entry.id as EntryId,
    worker: id,
    emergency: entry.emergency,
    ...(assigned !== undefined && { observer: assigned }),
    leaving: spreadOf(options, procedure, 'leaving', leavingMinutes),
    doffing: spreadOf(options, procedure, 'doffing', entry.ownDoffingMinutes ?? procedure.expected.doffingMinutes),
  };
}

/** The share of donning steps that are done tells how far it is; the log does not say when the first was begun. */
function beforeTheDoor(here: Here): ScenarioPerson {
  const { state, worker, entry, now, options, procedure, guide } = here;
  const { limitAt, callOutAt } = governingLimit(state.rules, procedure, worker, now, noAdvice);
  const shared = {
    ...everybody(here),
    donning: spreadOf(options, procedure, 'donning', procedure.expected.donningMinutes),
    callOutAfterMinutes: minutesBetween(now, callOutAt),
    limitAfterMinutes: minutesBetween(now, limitAt),
  };
  const inside = plannedInside(here);
  const detail = detailOf(worker.machine);
  if (detail === 'donning' || detail === 'inspection') {
    const elapsedMinutes = donningShare(procedure, entry) * procedure.expected.donningMinutes;
    return { stage: 'donning', elapsedMinutes, ...(guide && { guidedBy: guide }), ...shared, ...inside };
  }
  const passed = detail === 'held' ? 0 : minutesBetween(entry.calledAt, now);
  return { stage: 'expected', startsInMinutes: Math.max(1, options.preCheckMinutes - passed), ...shared, ...inside };
}

function donningShare({ steps }: Procedure, { outstanding }: Entry): number {
  const all = steps.filter(({ phase }) => phase === 'donning').length;
  return all === 0 ? 1 : 1 - outstanding.donning.length / all;
}

/** What the plan says about the time inside of an entry that has begun: the planned entry nearest to its call. */
function plannedInside({ id, entry, options, procedure }: Here): { inside?: Spread } {
  const theirs = options.plan.filter(({ worker, room }) => worker === id && room === entry.room);
  const nearest = theirs.reduce<PlanEntry | undefined>((best, one) => {
    const distance = (plan: PlanEntry) => Math.abs(plan.donningStartAt - entry.calledAt);
    return best && distance(best) <= distance(one) ? best : one;
  }, undefined);
  return nearest
    ? { inside: spreadOf(options, procedure, 'inside', nearest.insideMinutes) }
    : historyInside(options, procedure);
}

/** Without plan and history: until called out. */
const historyInside = (options: FilledOptions, procedure: Procedure): { inside?: Spread } => {
  const inside = options.history[procedure.id]?.inside;
  return inside ? { inside } : {};
};

function inside(here: Here): ScenarioPerson {
  const { worker, entry, now, guide } = here;
  if (detailOf(worker.machine) === 'leaving') {
    const elapsedMinutes = minutesBetween(entry.calledOutAt ?? worker.lastAt, now);
    return {
      stage: 'leaving',
      elapsedMinutes,
      ...(guide && { guidedBy: guide }),
      ...everybody(here),
      ...limitFromNow(here),
    };
  }
  return {
    stage: 'inside',
    elapsedMinutes: entry.insideAt === undefined ? 0 : minutesBetween(entry.insideAt, now),
    ...(entry.limit && { callOutInMinutes: minutesFrom(now, entry.limit.callOutAt) }),
    ...everybody(here),
    ...limitFromNow(here),
    ...plannedInside(here),
  };
}

const limitFromNow = ({ entry, now }: Here): { limitInMinutes?: number } =>
  entry.limit ? { limitInMinutes: minutesFrom(now, entry.limit.limitAt) } : {};

function onTheWayOut(here: Here): ScenarioPerson {
  const { state, worker, entry, now, guide } = here;
  const shared = { ...(guide && { guidedBy: guide }), ...everybody(here), ...limitFromNow(here) };
  const isInLane = entry.lane !== undefined && state.lanes[entry.lane]?.value === 'occupied';
  if (isInLane && entry.lane !== undefined)
    return { stage: 'doffing', lane: entry.lane, elapsedMinutes: minutesBetween(entry.laneAt ?? now, now), ...shared };
  return { stage: 'waiting', elapsedMinutes: minutesBetween(entry.leftRoomAt ?? worker.lastAt, now), ...shared };
}
