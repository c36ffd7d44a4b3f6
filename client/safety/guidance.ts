import type { AlertContext } from '../../machines/alert/alert-machine.ts';
import { stepOf } from '../../machines/unit/questions.ts';
import { at, type UnitState, type UnitWorker } from '../../machines/unit/state.ts';
import type { Step } from '../../machines/procedure/procedure.ts';
import type { BreachRule } from '../../machines/unit/settings.ts';
import type { Breach, Deviation, Entry } from '../../machines/worker/worker-machine.ts';

/** What the unit has laid down for what an alert is about: what to do now, what then, and who says so. */
export interface Guidance {
  from: 'breach' | 'step' | 'limit' | 'check' | 'pre-check' | 'post-check' | 'rest' | 'alert';
  now: readonly string[];
  then: readonly string[];
  /** A breach of this kind leaves the room. */
  leaveRoom: boolean;
  source: string | undefined;
}

export function guidanceOf(state: UnitState, alert: AlertContext): Guidance {
  return (
    breachGuidance(state, alert) ??
    stepGuidance(state, alert) ??
    limitGuidance(state, alert) ??
    insideGuidance(state, alert) ??
    checkGuidance(state, alert) ??
    restGuidance(state, alert) ?? { from: 'alert', now: [alert.because], then: [], leaveRoom: false, source: undefined }
  );
}

/** The breach an alert is about, as it was declared, with the unit's rule for its kind where there still is one. */
export function breachOf(state: UnitState, alert: AlertContext): { breach: Breach; rule?: BreachRule } | undefined {
  if (alert.kind !== 'breach' || !alert.worker) return undefined;
  const worker = at(state.workers, alert.worker);
  const breach = worker?.machine.context.breaches.find((one) => `${alert.worker}/${one.id}` === alert.subject);
  return breach && { breach, rule: state.rules.breaches.find((rule) => rule.kind === breach.kind) };
}

function breachGuidance(state: UnitState, alert: AlertContext): Guidance | undefined {
  const found = breachOf(state, alert);
  if (!found) return undefined;
  const { now, then, leaveRoom } = found.breach;
  return { from: 'breach', now, then, leaveRoom, source: found.rule?.source };
}

/** The deviation an alert is about, with the step it happened at. */
export function deviationOf(
  state: UnitState,
  alert: AlertContext,
): { deviation: Deviation; step: Step | undefined } | undefined {
  const entry = alert.kind === 'deviation' ? entryOf(state, alert) : undefined;
  const deviation = entry?.deviations.find((one) => `${alert.worker}/${one.id}` === alert.subject);
  return entry && deviation && { deviation, step: stepOf(state, entry, deviation.step) };
}

function stepGuidance(state: UnitState, alert: AlertContext): Guidance | undefined {
  const found = deviationOf(state, alert);
  return (
    found && { from: 'step', now: [found.deviation.doNow], then: [], leaveRoom: false, source: found.step?.source }
  );
}

function limitGuidance(state: UnitState, alert: AlertContext): Guidance | undefined {
  if (alert.kind !== 'limit-approaching' && alert.kind !== 'call-out' && alert.kind !== 'limit-reached')
    return undefined;
  const limit = entryOf(state, alert)?.limit;
  return limit && { from: 'limit', now: [alert.because], then: [], leaveRoom: false, source: limit.source };
}

/** The check that is due inside: by which table, which the alert's own sentence does not say. */
function insideGuidance(state: UnitState, alert: AlertContext): Guidance | undefined {
  if (alert.kind !== 'check-due') return undefined;
  const source = checkOf(state, alert)?.source;
  return { from: 'check', now: [alert.because], then: [], leaveRoom: false, source };
}

export function checkOf(state: UnitState, alert: AlertContext): UnitWorker['check'] {
  return alert.worker && at(state.workers, alert.worker)?.check;
}

function checkGuidance(state: UnitState, alert: AlertContext): Guidance | undefined {
  if (alert.kind !== 'vitals-out-of-bounds') return undefined;
  const check = entryOf(state, alert)?.doffedAt === undefined ? 'pre-check' : 'post-check';
  const { source } = check === 'pre-check' ? state.rules.preCheck : state.rules.postCheck;
  return { from: check, now: [alert.because], then: [], leaveRoom: false, source };
}

function restGuidance(state: UnitState, alert: AlertContext): Guidance | undefined {
  if (alert.kind !== 'rest-too-short') return undefined;
  return { from: 'rest', now: [], then: [], leaveRoom: false, source: state.rules.rest.source };
}

export function entryOf(state: UnitState, alert: AlertContext): Entry | undefined {
  return alert.worker && at(state.workers, alert.worker)?.machine.context.entry;
}
