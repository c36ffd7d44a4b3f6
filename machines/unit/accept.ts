import { sentenceMost, type DraftFact, type NumberedFact } from '../wire/fact.ts';
import type { ObserverState } from '../observer/observer-machine.ts';
import type { DeviceId, PersonId } from '../wire/ids.ts';
import type { Refusal, RefusalCode } from '../wire/refusal.ts';
import type { Report, ReportKind } from '../wire/report.ts';
import { maySend, roles, type Role } from '../wire/rights.ts';
import { byWatch, settle } from './deadlines.ts';
import { draft, isLate, refuse, type Case, type Decider, type Decision, type Received } from './decision.ts';
import * as alertDeciders from './decide-alerts.ts';
import * as deviationDeciders from './decide-deviations.ts';
import * as dutyDeciders from './decide-duty.ts';
import * as entryDeciders from './decide-entry.ts';
import * as heatDeciders from './decide-heat.ts';
import * as laneDeciders from './decide-lanes.ts';
import * as moveDeciders from './decide-moves.ts';
import { adoptProcedure } from './decide-procedures.ts';
import * as rotationDeciders from './decide-rotation.ts';
import * as stepDeciders from './decide-steps.ts';
import { add, type Gathering } from './number.ts';
import { at, entriesOf, type UnitState } from './state.ts';

/**
 * Everything that can change a unit comes through here: a report, a device that joins, falls silent or is heard again, or
 * time itself. Each answers with facts, numbered and folded in, or with a refusal. Pure: server, screens (for their own
 * unsent reports) and tests call the same function.
 */
export interface Accepted {
  facts: NumberedFact[];
  state: UnitState;
  /** What the sender should know although the report was accepted. */
  notice?: Refusal;
}
export interface Refused {
  refusal: Refusal;
  /** The number under which the refused report is kept for review, with the fact to write. */
  kept?: Accepted;
}

const deciders: { [K in ReportKind]: Decider<K> } = {
  'start-duty': dutyDeciders.startDuty,
  'end-duty': dutyDeciders.endDuty,
  'start-break': dutyDeciders.startBreak,
  'end-break': dutyDeciders.endBreak,
  'take-worker': dutyDeciders.takeWorker,
  'release-worker': dutyDeciders.releaseWorker,
  'call-worker': entryDeciders.callWorker,
  'cancel-entry': entryDeciders.cancelEntry,
  'assign-observer': entryDeciders.assignObserver,
  'record-screening': entryDeciders.recordScreening,
  'release-hold': entryDeciders.releaseHold,
  'confirm-kit-item': entryDeciders.confirmKitItem,
  'verify-step': stepDeciders.verifyStep,
  'override-step': stepDeciders.overrideStep,
  'note-deviation': deviationDeciders.noteDeviation,
  'verify-corrective': deviationDeciders.verifyCorrective,
  'correct-deviation': deviationDeciders.correctDeviation,
  'pass-inspection': stepDeciders.passInspection,
  'fail-inspection': stepDeciders.failInspection,
  'enter-room': moveDeciders.enterRoom,
  'call-out': moveDeciders.callOut,
  'plan-call-out': rotationDeciders.planCallOut,
  'adopt-rotation': rotationDeciders.adoptRotation,
  'drop-rotation': rotationDeciders.dropRotation,
  'leave-room': moveDeciders.leaveRoom,
  'enter-lane': moveDeciders.enterLane,
  'declare-emergency': moveDeciders.declareEmergency,
  'declare-breach': moveDeciders.declareBreach,
  'clear-breach': moveDeciders.clearBreach,
  'record-climate': heatDeciders.recordClimate,
  'set-work': heatDeciders.setWork,
  'record-check': heatDeciders.recordCheck,
  'allow-again': heatDeciders.allowAgain,
  'record-post-check': entryDeciders.recordPostCheck,
  'stand-down': entryDeciders.standDown,
  'lift-stand-down': entryDeciders.liftStandDown,
  'hold-lane': laneDeciders.holdLane,
  'release-lane-hold': laneDeciders.releaseLaneHold,
  'clear-lane': laneDeciders.clearLane,
  'close-lane': laneDeciders.closeLane,
  'reopen-lane': laneDeciders.reopenLane,
  'tell-alert': alertDeciders.tellAlert,
  'acknowledge-alert': alertDeciders.acknowledgeAlert,
  'clear-alert': alertDeciders.clearAlert,
  'close-review': alertDeciders.closeReview,
  'adopt-procedure': adoptProcedure,
};

/** Report → facts or refusal: the rules about the worker, the lane, the step; nothing is folded in yet. */
export function decide(state: UnitState, received: Received): Decision {
  const early = earlyRefusal(state, received);
  if (early) return early;
  const one = caseOf(state, received);
  return (deciders[received.report.kind] as (one: Case) => Decision)(one);
}

function caseOf(state: UnitState, received: Received): Case {
  const { report, receivedAt } = received;
  const lowest = lastAtOf(state, report);
  const counted = Math.min(receivedAt, Math.max(report.observedAt, lowest));
  return { ...received, state, person: report.person, device: report.device, at: counted };
}

/** Nothing about a worker or a lane, or about who holds that lane, counts from before what is on record about them. */
function lastAtOf(state: UnitState, report: Report): number {
  const worker = 'worker' in report.data ? at(state.workers, report.data.worker) : undefined;
  const lane = 'lane' in report.data ? at(state.lanes, report.data.lane) : undefined;
  const holder = lane?.context.worker && at(state.workers, lane.context.worker);
  return Math.max(worker?.lastAt ?? 0, lane?.context.since ?? 0, holder?.lastAt ?? 0);
}

/** Help is never refused for a clock or a screen that is out of step: what happened counts from its receipt at the latest. */
const isHelp = (kind: ReportKind): boolean => kind === 'declare-emergency' || kind === 'declare-breach';

/** What is wrong with a report before anybody asks what it says. */
function earlyRefusal(state: UnitState, { report, role, receivedAt }: Received): Decision | undefined {
  const person = at(state.roster, report.person);
  if (!person)
    return refuse(
      'session/unknown-person',
      `Nobody called "${report.person}" is on the roster. Choose who you are again.`,
    );
  if (!maySend(role, report.kind))
    return refuse('rights/not-yours', `A ${role} screen cannot send "${report.kind}". ${whoMay(report.kind)}`);
  if (!person.roles.some((one) => one === role))
    return refuse('session/role-not-held', `The roster does not list you as ${role}. The lead can change that.`);
  if (isHelp(report.kind)) return undefined;
  const ahead = report.observedAt - receivedAt;
  if (ahead > state.rules.reports.futureToleranceSeconds * 1000)
    return refuse(
      'report/from-the-future',
      `This report says it happened ${Math.ceil(ahead / 1000)} s from now. Set this device's clock, then send it again.`,
    );
  if ((report.basedOn ?? 0) > state.number)
    return refuse(
      'report/ahead-of-log',
      `This screen has seen fact ${report.basedOn}, the log ends at ${state.number}. Reload the page.`,
    );
  return undefined;
}

function whoMay(kind: ReportKind): string {
  const allowed = roles.filter((role) => maySend(role, kind));
  return `It is for: ${allowed.join(', ')}.`;
}

/**
 * What fell due by the receipt comes first: a report is never decided on a rest that is over or an alert that has been
 * overtaken, only because the watch had not looked yet.
 */
export function acceptReport(state: UnitState, received: Received): Accepted | Refused {
  const due = settle({ state, facts: [] }, received.receivedAt);
  const decision = decide(due.state, received);
  if ('refusal' in decision) return { refusal: decision.refusal, ...keep(state, received, decision.refusal) };
  const changed = decision.facts.length > 0;
  const settled = changed ? settle(decision.facts.reduce(add, due), received.receivedAt) : { state, facts: [] };
  return { ...settled, ...(isLate({ state, ...received }) && { notice: lateNotice(state, received) }) };
}

function lateNotice(state: UnitState, { report, receivedAt }: Received): Refusal {
  const minutes = Math.round((receivedAt - report.observedAt) / 60_000);
  return {
    code: 'report/late',
    sentence: `Accepted ${minutes} min after it was seen (late from ${state.rules.reports.lateAfterSeconds} s on). It counts from a time the record allows and is listed for review.`,
  };
}

/**
 * A refused report is kept for review when it may be true all the same: it came late, it claims a time to come, or it was
 * made on an older picture of the worker, or on one that this log has lost. A press that simply came too soon is not.
 */
function keep(state: UnitState, received: Received, refusal: Refusal): { kept?: Accepted } {
  const { report } = received;
  const worker = 'worker' in report.data ? at(state.workers, report.data.worker) : undefined;
  const behind =
    report.basedOn !== undefined &&
    worker !== undefined &&
    report.basedOn < worker.version &&
    isContradiction(refusal.code);
  const weighty =
    refusal.code === 'report/from-the-future' ||
    refusal.code === 'report/ahead-of-log' ||
    (isLate({ state, ...received }) && !isOnlyAboutScreens(refusal.code)) ||
    behind;
  if (!weighty || !at(state.roster, report.person)) return {};
  const counted = { ...caseOf(state, received), at: received.receivedAt };
  const data = {
    message: withoutConfidential(report),
    ...(worker && 'worker' in report.data && { worker: report.data.worker }),
    code: refusal.code,
    sentence: refusal.sentence.slice(0, sentenceMost),
  };
  const fact = draft(counted, 'report-kept', data);
  return { kept: add({ state, facts: [] }, fact) };
}

const isContradiction = (code: RefusalCode): boolean => /^(worker|step|lane|observer|deviation|room)\//.test(code);
/** Alerts and reviews are answered over and over by screens that were away; nothing that happened to anybody is lost with them. */
const isOnlyAboutScreens = (code: RefusalCode): boolean => /^(alert|review|rights)\//.test(code);

/** Vital values never go into the open part, not even of a report that was refused. */
function withoutConfidential(report: Report): string {
  const { vitals: _vitals, strain: _strain, ...data } = report.data as { vitals?: unknown; strain?: unknown };
  return JSON.stringify({ ...report, data });
}

export function acceptTime(state: UnitState, now: number): Accepted {
  return settle({ state, facts: [] }, now);
}

/** A device says hello. Only what is new about it is a fact. */
export function acceptJoin(
  state: UnitState,
  device: DeviceId,
  role: Role,
  person: PersonId | undefined,
  now: number,
): Accepted {
  const known = at(state.devices, device);
  const by = { device, role, ...(person && { person }) };
  const fact = (kind: 'device-joined' | 'device-back', data: object) =>
    ({ kind, data, at: now, receivedAt: now, by }) as DraftFact;
  const same = known && known.value !== 'gone' && known.context.role === role && known.context.person === person;
  if (same) return acceptHeard(state, device, now);
  const joined = add({ state, facts: [] }, fact('device-joined', { device, role, ...(person && { person }) }));
  return settle(reach(leftBehind(joined, device, now), device, now), now);
}

/** Somebody else is at the tablet now, or it has become another screen: the observer who had it no longer hears anything. */
function leftBehind(gathering: Gathering, device: DeviceId, now: number): Gathering {
  return observersAt(gathering.state, device)
    .filter(([id, observer]) => isReachable(observer) && !isAtTheirTablet(gathering.state, device, id))
    .reduce((sofar, [observer]) => add(sofar, byWatch('observer-unreachable', { observer }, now, now)), gathering);
}

function isAtTheirTablet(state: UnitState, device: DeviceId, observer: PersonId): boolean {
  const known = at(state.devices, device);
  return known?.context.role === 'observer' && known.context.person === observer;
}

const isReachable = (observer: ObserverState): boolean =>
  observer.value !== 'off-shift' && observer.value !== 'unreachable';

/** A silent device is heard again, and with it the observer whose tablet it is. */
export function acceptHeard(state: UnitState, device: DeviceId, now: number): Accepted {
  if (at(state.devices, device)?.value !== 'silent') return { state, facts: [] };
  const back = add({ state, facts: [] }, byWatch('device-back', { device }, now, now));
  return settle(reach(back, device, now), now);
}

function reach(gathering: Gathering, device: DeviceId, now: number): Gathering {
  return observersAt(gathering.state, device)
    .filter(([id, observer]) => observer.value === 'unreachable' && isAtTheirTablet(gathering.state, device, id))
    .reduce((sofar, [observer]) => add(sofar, byWatch('observer-reachable', { observer }, now, now)), gathering);
}

/** A device has not answered since `lastHeardAt`. Its observer, if on duty, is unreachable. */
export function acceptSilence(state: UnitState, device: DeviceId, lastHeardAt: number, now: number): Accepted {
  if (at(state.devices, device)?.value !== 'live') return { state, facts: [] };
  const silent = add({ state, facts: [] }, byWatch('device-silent', { device, lastHeardAt }, now, now));
  const unreachable = observersAt(state, device)
    .filter(([, observer]) => isReachable(observer))
    .reduce((sofar, [observer]) => add(sofar, byWatch('observer-unreachable', { observer }, now, now)), silent);
  return settle(unreachable, now);
}

/** A device signs off. An observer whose tablet signs off while guiding is treated as silent, not as gone. */
export function acceptLeave(state: UnitState, device: DeviceId, now: number): Accepted {
  const known = at(state.devices, device);
  if (!known || known.value === 'gone') return { state, facts: [] };
  const busy = observersAt(state, device).some(([, observer]) => observer.value !== 'off-shift');
  if (busy) return acceptSilence(state, device, now, now);
  return settle(add({ state, facts: [] }, byWatch('device-left', { device }, now, now)), now);
}

function observersAt(state: UnitState, device: DeviceId) {
  return entriesOf(state.observers).filter(([, observer]) => observer.context.device === device);
}

/** How long a device may be silent before it is a fact: short while its observer is guiding somebody. */
export function silenceAllowedMs(state: UnitState, device: DeviceId): number {
  const guiding = observersAt(state, device).some(([, observer]) => observer.context.worker !== undefined);
  return (guiding ? state.rules.silence.whileGuidingSeconds : state.rules.silence.otherwiseSeconds) * 1000;
}
