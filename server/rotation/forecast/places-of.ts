import { isLane, placeOf } from '../../../machines/unit/questions.ts';
import { at, entriesOf, type UnitState } from '../../../machines/unit/state.ts';
import type { LaneId, PersonId } from '../../../machines/wire/ids.ts';
import type { LaneState } from '../../../machines/lane/lane-machine.ts';
import type { ObserverState } from '../../../machines/observer/observer-machine.ts';
import type { ScenarioLane, ScenarioObserver } from './scenario.ts';
import { minutesBetween, type FilledOptions } from './scenario-options.ts';

/** Lanes and observers of a state as the forecast plays them. */

export function lanesOf(state: UnitState, now: number, options: FilledOptions): ScenarioLane[] {
  return entriesOf(state.lanes)
    .filter(([id, lane]) => isLane(state, id) || lane.value === 'occupied')
    .map(([id, lane]) => ({
      id,
      turnoverMinutes: turnoverMinutes(state, id, options),
      ...laneNow(state, lane, now, options),
    }));
}

/** A lane that is no longer in the settings takes nobody after the one who is in it. */
const neverAgainMinutes = 240;

function turnoverMinutes(state: UnitState, id: LaneId, { clearingMinutes }: FilledOptions): number {
  const rule = state.rules.lanes.find((one) => one.id === id);
  return rule ? Math.min(neverAgainMinutes, rule.turnoverMinutes + clearingMinutes) : neverAgainMinutes;
}

function laneNow(state: UnitState, lane: LaneState, now: number, { clearingMinutes }: FilledOptions) {
  const { context, value } = lane;
  switch (value) {
    case 'free':
    case 'occupied':
      return {};
    case 'held':
      return heldFor(state, context.worker);
    case 'turnover': {
      const left = minutesBetween(now, context.turnoverUntil ?? now);
      return { freeInMinutes: Math.min(1440, left + clearingMinutes) };
    }
    case 'closed':
      return { closedForMinutes: null };
    default:
      return value satisfies never;
  }
}

function heldFor(state: UnitState, worker: PersonId | undefined): { heldFor?: string } {
  const entry = worker && at(state.workers, worker)?.machine.context.entry;
  return entry ? { heldFor: entry.id } : {};
}

/** Those who can be counted on: on duty, heard of, and in no entry of their own. */
export function observersOf(state: UnitState, now: number, options: FilledOptions): ScenarioObserver[] {
  return entriesOf(state.observers).flatMap(([id, observer]) => {
    const worker = at(state.workers, id);
    const isResting = !worker || placeOf(worker.machine) === 'rest';
    if (!isResting || observer.value === 'off-shift' || observer.value === 'unreachable') return [];
    return [
      {
        id,
        availableInMinutes: awayMinutes(state, observer, now, options),
        breaks: breaksOf(id, now, options),
      },
    ];
  });
}

/** On a break for what is usually left of one, or with somebody whose post-check is not over. */
function awayMinutes(state: UnitState, { value, context }: ObserverState, now: number, options: FilledOptions): number {
  if (value === 'break') return Math.max(1, options.breakMinutes - minutesBetween(context.since, now));
  const worker = context.worker === undefined ? undefined : at(state.workers, context.worker);
  if (!worker || placeOf(worker.machine) !== 'post-check') return 0;
  const since = worker.machine.context.entry?.doffedAt ?? context.since;
  return Math.max(1, options.postCheckMinutes - minutesBetween(since, now));
}

function breaksOf(id: PersonId, now: number, { plannedBreaks }: FilledOptions): ScenarioObserver['breaks'] {
  return plannedBreaks
    .filter(({ observer, startAt }) => observer === id && startAt >= now)
    .map(({ startAt, minutes }) => ({ startsInMinutes: minutesBetween(now, startAt), minutes }));
}
