import type { AlertContext } from '../../machines/alert/alert-machine.ts';
import { freeLanes, waitingForLane } from '../../machines/unit/questions.ts';
import { type UnitState } from '../../machines/unit/state.ts';
import type { DeviationKind } from '../../machines/procedure/corrective.ts';
import { minutesInPpe } from '../../machines/worker/worker-machine.ts';
import { wallClock } from '../board/clock.ts';
import type { FloorNames } from '../board/floor-names.ts';
import { words } from '../words/words.ts';
import { breachOf, deviationOf, entryOf } from './guidance.ts';

const text = words.safety.happened;

/**
 * What happened, in sentences with names: facts name nobody. An alert whose cause is no longer in the state is told in the
 * words it was raised with.
 */
export function accountOf(state: UnitState, alert: AlertContext, names: FloorNames, now: number): string[] {
  const told = tell(state, alert, names, now);
  return told.length > 0 ? told : [alert.because];
}

function tell(state: UnitState, alert: AlertContext, names: FloorNames, now: number): string[] {
  const name = alert.worker ? names.person(alert.worker) : '';
  switch (alert.kind) {
    case 'limit-approaching':
    case 'call-out':
    case 'limit-reached':
      return tellLimit(state, alert, name, now);
    case 'deviation':
      return tellDeviation(state, alert, name);
    case 'no-observer':
      return [alert.observer ? text.observerSilent(name, names.person(alert.observer)) : text.noObserver(name)];
    case 'tablet-silent': {
      const observer = alert.observer ? names.person(alert.observer) : '';
      return [alert.worker ? text.tabletSilentWith(observer, name) : text.tabletSilent(observer)];
    }
    case 'lane-clash':
      return tellClash(state, names);
    case 'breach':
      return tellBreach(state, alert, name);
    case 'emergency-exit': {
      const entry = entryOf(state, alert);
      return entry ? [text.emergency(name, names.room(entry.room))] : [];
    }
    case 'vitals-out-of-bounds':
      return [entryOf(state, alert)?.doffedAt === undefined ? text.heldBefore(name) : text.heldAfter(name)];
    case 'not-ready':
      return [text.notReady(name)];
    case 'rest-too-short':
      return [text.restTooShort(name)];
    case 'check-due':
      return [text.checkDue(name)];
    default: {
      const never: never = alert.kind;
      throw new Error(`no alert ${String(never)}`);
    }
  }
}

function tellLimit(state: UnitState, alert: AlertContext, name: string, now: number): string[] {
  const entry = entryOf(state, alert);
  const limit = entry?.limit;
  if (!entry || !limit) return [];
  const callOut = wallClock(limit.callOutAt);
  if (alert.kind === 'limit-approaching') return [text.limitApproaching(name, callOut)];
  const minutes = Math.round(limit.minutes);
  if (alert.kind === 'call-out') return [text.callOut(name, callOut, minutes)];
  return [text.limitReached(name, Math.floor(minutesInPpe(entry, now)), minutes, wallClock(limit.limitAt))];
}

function tellDeviation(state: UnitState, alert: AlertContext, name: string): string[] {
  const found = deviationOf(state, alert);
  if (!found) return [];
  const { deviation, step } = found;
  const how = words.safety.deviations[deviation.kind as DeviationKind] ?? deviation.kind;
  const actor = words.safety.actors[deviation.actor] ?? deviation.actor;
  return [text.deviation(name, how, actor), ...(step ? [text.deviationAt(step.words)] : [])];
}

function tellClash(state: UnitState, names: FloorNames): string[] {
  const waiting = waitingForLane(state).map(([id]) => names.person(id));
  return waiting.length === 0
    ? []
    : [text.laneClash(waiting.join(', '), freeLanes(state).length, state.rules.lanes.length)];
}

function tellBreach(state: UnitState, alert: AlertContext, name: string): string[] {
  const found = breachOf(state, alert);
  if (!found) return [];
  const { breach, rule } = found;
  const kind = text.breachClass[breach.class];
  return [text.breach(name, rule?.name ?? breach.kind), ...(kind ? [kind] : [])];
}

/** Whom an alert is about: a person, a lane, or the unit. */
export function subjectOf(alert: AlertContext, names: FloorNames): string {
  if (alert.worker) return names.person(alert.worker);
  if (alert.observer) return names.person(alert.observer);
  return alert.lane ? names.lane(alert.lane) : words.safety.unit;
}
