import type { AlertContext } from '../../machines/alert/alert-machine.ts';
import { openSteps } from '../../machines/procedure/order.ts';
import type { Step } from '../../machines/procedure/procedure.ts';
import { isAt, phaseOf, procedureOf } from '../../machines/unit/questions.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import type { AlertId, BreachId, PersonId } from '../../machines/wire/ids.ts';
import type { Refusal } from '../../machines/wire/refusal.ts';
import type { ReportData, ReportKind } from '../../machines/wire/report.ts';
import type { Breach } from '../../machines/worker/worker-machine.ts';
import { refusalOf, type Sender } from '../board/dry-run.ts';
import { againFor } from '../heat/again.ts';

/**
 * What the safety officer can do about somebody, beside answering the alert. Whether a deed is offered is asked of the very
 * rules the server will ask, so a press never offers what would be refused.
 */
export type Deed =
  | { kind: 'release-hold'; worker: PersonId; check: 'pre-check' | 'post-check' }
  | { kind: 'override-step'; worker: PersonId; phase: 'exit' | 'doffing'; steps: readonly Step[]; outstanding: number }
  | { kind: 'clear-breach'; worker: PersonId; breach: Breach }
  | { kind: 'clear-alert'; worker: PersonId; alert: AlertId }
  | { kind: 'stand-down'; worker: PersonId }
  | { kind: 'lift-stand-down'; worker: PersonId }
  | { kind: 'allow-again'; worker: PersonId }
  | { kind: 'call-out'; worker: PersonId }
  | { kind: 'declare-breach'; worker: PersonId }
  | { kind: 'declare-emergency'; worker: PersonId };
export type DeedKind = Deed['kind'];

/** A deed that fits where the worker is but is refused at this moment, with the sentence that says why. */
export interface Barred {
  kind: DeedKind;
  refusal: Refusal;
}

export interface Deeds {
  open: Deed[];
  barred: Barred[];
}

const someReason = 'a reason still to be given';

/** Everything the officer can do about one worker now. */
export function deedsFor(state: UnitState, sender: Sender, worker: PersonId, now: number): Deeds {
  const fitting = [
    ...holdDeeds(state, worker),
    ...breachDeeds(state, worker),
    ...restDeeds(state, worker),
    ...stepDeeds(state, worker),
    ...simpleDeeds(worker),
  ];
  const asked = fitting.map((deed) => ({ deed, refusal: refusalOfDeed(state, sender, deed, now) }));
  return {
    open: asked.flatMap(({ deed, refusal }) => (refusal ? [] : [deed])),
    barred: asked.flatMap(({ deed, refusal }) =>
      refusal && deed.kind === 'override-step' ? [{ kind: deed.kind, refusal }] : [],
    ),
  };
}

function holdDeeds(state: UnitState, worker: PersonId): Deed[] {
  const machine = at(state.workers, worker)?.machine;
  if (!machine) return [];
  if (isAt(machine, 'pre-check', 'held')) return [{ kind: 'release-hold', worker, check: 'pre-check' }];
  return isAt(machine, 'post-check', 'held') ? [{ kind: 'release-hold', worker, check: 'post-check' }] : [];
}

function breachDeeds(state: UnitState, worker: PersonId): Deed[] {
  const breaches = at(state.workers, worker)?.machine.context.breaches ?? [];
  return breaches.map((breach) => ({ kind: 'clear-breach', worker, breach }));
}

function restDeeds(state: UnitState, worker: PersonId): Deed[] {
  return Object.values(state.alerts)
    .filter(({ context }) => context.kind === 'rest-too-short' && context.worker === worker)
    .map(({ context }) => ({ kind: 'clear-alert', worker, alert: context.id }));
}

function stepDeeds(state: UnitState, worker: PersonId): Deed[] {
  const machine = at(state.workers, worker)?.machine;
  const entry = machine?.context.entry;
  const phase = machine && phaseOf(machine);
  if (!entry || !phase || phase === 'donning') return [];
  const outstanding = entry.outstanding[phase];
  const steps = openSteps(procedureOf(state, entry), phase, outstanding);
  return steps.length === 0 ? [] : [{ kind: 'override-step', worker, phase, steps, outstanding: outstanding.length }];
}

function simpleDeeds(worker: PersonId): Deed[] {
  return (
    ['lift-stand-down', 'allow-again', 'stand-down', 'call-out', 'declare-breach', 'declare-emergency'] as const
  ).map((kind) => ({ kind, worker }));
}

/** What the officer chooses and writes before a deed is sent. */
export interface Filled {
  reason: string;
  /** The step of an override, or the kind of a breach. */
  choice?: string;
}

/** The report a deed is sent as. */
export type DeedReport = { [K in DeedKind]: { kind: K; data: ReportData<K> } }[DeedKind];

export function reportOf(deed: Deed, { reason, choice }: Filled): DeedReport {
  const { worker } = deed;
  switch (deed.kind) {
    case 'release-hold':
    case 'stand-down':
    case 'lift-stand-down':
    case 'allow-again':
      return { kind: deed.kind, data: { worker, reason } } as DeedReport;
    case 'override-step': {
      const step = deed.steps.find((one) => one.id === choice) ?? deed.steps[0];
      if (!step) throw new Error('an override without an open step');
      return { kind: 'override-step', data: { worker, step: step.id, reason } };
    }
    case 'clear-breach':
      return { kind: 'clear-breach', data: { worker, breach: deed.breach.id as BreachId, reason } };
    case 'clear-alert':
      return { kind: 'clear-alert', data: { alert: deed.alert, reason } };
    case 'call-out':
    case 'declare-emergency':
      return { kind: deed.kind, data: { worker, ...(reason && { reason }) } } as DeedReport;
    case 'declare-breach':
      return { kind: 'declare-breach', data: { worker, breachKind: choice ?? '', ...(reason && { note: reason }) } };
    default: {
      const never: never = deed;
      throw new Error(`no deed ${JSON.stringify(never)}`);
    }
  }
}

/** Of one worker several breaches can be open, and several short rests never. */
export const isSameDeed = (a: Deed, b: Deed): boolean =>
  a.kind === b.kind &&
  a.worker === b.worker &&
  (a.kind !== 'clear-breach' || (b.kind === 'clear-breach' && a.breach.id === b.breach.id));

/** A reason has to be given, except where somebody has to get out at once. */
export const needsReason = (kind: DeedKind): boolean =>
  kind !== 'declare-emergency' && kind !== 'declare-breach' && kind !== 'call-out';

function refusalOfDeed(state: UnitState, sender: Sender, deed: Deed, now: number): Refusal | undefined {
  const worker = at(state.workers, deed.worker);
  if (!worker) return { code: 'worker/unknown', sentence: '' };
  // Standing somebody down twice, or calling out twice, is accepted and changes nothing: it is not offered.
  if (deed.kind === 'stand-down' && isAt(worker.machine, 'rest', 'stood-down'))
    return { code: 'worker/stood-down', sentence: '' };
  // A bar that is over, or was never there, needs nobody to allow anything.
  if (deed.kind === 'allow-again' && againFor(state, deed.worker, now)?.is !== 'barred')
    return { code: 'worker/elsewhere', sentence: '' };
  if (deed.kind === 'call-out' && !isAt(worker.machine, 'inside', 'working'))
    return { code: 'worker/elsewhere', sentence: '' };
  if (deed.kind === 'declare-emergency' && worker.machine.context.entry?.emergency)
    return { code: 'worker/elsewhere', sentence: '' };
  const choice = deed.kind === 'declare-breach' ? state.rules.breaches[0]?.kind : undefined;
  const { kind, data } = reportOf(deed, { reason: someReason, ...(choice && { choice }) });
  return refusalOf(state, sender, kind as ReportKind, data as ReportData<ReportKind>, now);
}

/** Which deeds belong to an alert of this kind, the likeliest first; the rest is one press further, with the person. */
const deedsOfAlert: Readonly<Record<AlertContext['kind'], readonly DeedKind[]>> = {
  'limit-approaching': ['call-out', 'declare-emergency'],
  'call-out': ['call-out', 'declare-emergency'],
  'limit-reached': ['call-out', 'declare-emergency', 'override-step'],
  deviation: ['override-step', 'declare-emergency'],
  'no-observer': ['override-step', 'declare-emergency'],
  'tablet-silent': ['override-step', 'declare-emergency'],
  'lane-clash': ['declare-emergency'],
  breach: ['clear-breach', 'call-out', 'declare-emergency'],
  'emergency-exit': ['override-step'],
  'vitals-out-of-bounds': ['release-hold', 'stand-down'],
  'not-ready': ['release-hold', 'stand-down'],
  'rest-too-short': ['clear-alert', 'stand-down'],
  'check-due': ['call-out', 'declare-emergency'],
};

/** The deeds to offer on the message itself. Of several breaches only the one the alert is about. */
export function deedsOnMessage(deeds: Deeds, alert: AlertContext): Deeds {
  const kinds = deedsOfAlert[alert.kind];
  const belongs = (deed: Deed) =>
    kinds.includes(deed.kind) &&
    (deed.kind !== 'clear-breach' || `${deed.worker}/${deed.breach.id}` === alert.subject) &&
    (deed.kind !== 'clear-alert' || deed.alert === alert.id);
  return {
    open: deeds.open.filter(belongs).sort((a, b) => kinds.indexOf(a.kind) - kinds.indexOf(b.kind)),
    barred: deeds.barred.filter((one) => kinds.includes(one.kind)),
  };
}
