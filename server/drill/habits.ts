import { audienceOf } from '../../machines/alert/audience.ts';
import { openSteps, stepsOf } from '../../machines/procedure/order.ts';
import type { Phase, Procedure } from '../../machines/procedure/procedure.ts';
import { acceptReport } from '../../machines/unit/accept.ts';
import {
  assistantsFree,
  boundFor,
  detailOf,
  holderOf,
  isAt,
  lanesFor,
  phaseOf,
  placeOf,
  procedureOf,
  waitingForLane,
  workersIn,
} from '../../machines/unit/questions.ts';
import type { Vitals } from '../../machines/unit/settings.ts';
import { at, entriesOf, type UnitState, type UnitWorker } from '../../machines/unit/state.ts';
import type { DeviceId, PersonId, ProcedureId, RoomId } from '../../machines/wire/ids.ts';
import { wireVersion, type Report, type ReportData, type ReportKind } from '../../machines/wire/report.ts';
import type { Role } from '../../machines/wire/rights.ts';
import { nextCorrective, type Deviation, type Entry } from '../../machines/worker/worker-machine.ts';
import type { Chance } from '../seeded-chance.ts';
import { between, pick } from './chance.ts';

/**
 * What invented people do next in a drill, from nothing but the state their screen shows: so a drill that is stopped and
 * started again goes on from where the log left it. Durations are invented, after the working values for donning and doffing
 * (minutes, a few hesitations); nothing here is a claim about real people.
 */
export interface Player {
  role: Role;
  person: PersonId;
  device: DeviceId;
}

export interface Intent {
  kind: ReportKind;
  data: ReportData<ReportKind>;
  /** How long it takes before it is done and reported, in seconds. */
  seconds: number;
}

const intend = <K extends ReportKind>(kind: K, data: ReportData<K>, seconds: number): Intent => ({
  kind,
  data,
  seconds,
});

/** How often something goes wrong by itself. */
export interface Luck {
  deviationPerStep: number;
  outOfBoundsPerScreening: number;
}
export const everydayLuck: Luck = { deviationPerStep: 0.012, outOfBoundsPerScreening: 0.04 };
export const cleanLuck: Luck = { deviationPerStep: 0, outOfBoundsPerScreening: 0 };

export function nextIntent(
  state: UnitState,
  me: Player,
  now: number,
  chance: Chance,
  luck: Luck = everydayLuck,
): Intent | undefined {
  const intents: Record<Role, () => Intent | undefined> = {
    observer: () => observerIntent(state, me, chance, luck),
    coordinator: () => coordinatorIntent(state, me, now, chance),
    'safety-officer': () => officerIntent(state, me, chance),
    lead: () => undefined,
    wall: () => undefined,
  };
  return intents[me.role]();
}

/** Whether the unit, as this player sees it, would accept the report now. */
export function wouldBeAccepted(state: UnitState, me: Player, intent: Intent, now: number): boolean {
  const report = {
    v: wireVersion,
    id: 'dry-run',
    unit: state.unit,
    device: me.device,
    sequence: 1,
    person: me.person,
    observedAt: now,
    kind: intent.kind,
    data: intent.data,
  } as unknown as Report;
  return !('refusal' in acceptReport(state, { report, role: me.role, receivedAt: now, salt: 'dry-run-only-salt' }));
}

function observerIntent(state: UnitState, me: Player, chance: Chance, luck: Luck): Intent | undefined {
  const observer = at(state.observers, me.person);
  if (!observer) return undefined;
  if (observer.value === 'off-shift') return intend('start-duty', {}, between(chance, 1, 4));
  const worker = observer.context.worker;
  if (worker) return answerIntent(state, me, chance) ?? guideIntent(state, worker, chance, luck);
  if (observer.value !== 'available') return undefined;
  return answerIntent(state, me, chance) ?? takeIntent(state, me, chance);
}

/**
 * An available observer takes whoever needs one most: doffing before leaving before the post-check before the pre-check. Who has
 * no lane to go to is left to wait: an observer beside them could not help, and would be missing where a lane is.
 */
function takeIntent(state: UnitState, me: Player, chance: Chance): Intent | undefined {
  const free = ([id]: [PersonId, UnitWorker]) => !holderOf(state, id) && id !== me.person;
  const mineFirst = ([, a]: [PersonId, UnitWorker], [, b]: [PersonId, UnitWorker]) =>
    Number(b.observer === me.person) - Number(a.observer === me.person);
  const onTheirWay = [...workersIn(state, 'doffing'), ...workersIn(state, 'inside', 'leaving')].filter(free);
  const needing = [
    ...onTheirWay.filter(
      ([id, worker]) => worker.machine.context.entry?.lane !== undefined || lanesFor(state, id).length > 0,
    ),
    ...workersIn(state, 'post-check').filter(free),
    ...workersIn(state, 'donned').filter(free),
    ...workersIn(state, 'pre-check').filter(free).sort(mineFirst),
  ];
  // Two free observers do not run to the same worker: the first in line takes the first, the second the second.
  const rank = entriesOf(state.observers)
    .filter(([, one]) => one.value === 'available')
    .findIndex(([id]) => id === me.person);
  const chosen = needing[rank];
  return chosen && intend('take-worker', { worker: chosen[0] }, between(chance, 3, 12));
}

function guideIntent(state: UnitState, worker: PersonId, chance: Chance, luck: Luck): Intent | undefined {
  const found = at(state.workers, worker);
  const entry = found?.machine.context.entry;
  if (!found || !entry) return intend('release-worker', { worker }, 5);
  switch (detailOf(found.machine) ?? placeOf(found.machine)) {
    case 'screening':
      return screeningIntent(state, worker, entry, chance, chance() < luck.outOfBoundsPerScreening);
    case 'held':
      return isAt(found.machine, 'pre-check') ? screeningIntent(state, worker, entry, chance, false, 240) : undefined;
    case 'kit':
      return kitIntent(worker, entry, chance);
    case 'inspection':
      return intend('pass-inspection', { worker }, between(chance, 30, 70));
    case 'donned':
      return intend('enter-room', { worker }, between(chance, 15, 60));
    case 'at-threshold':
      return laneIntent(state, worker, entry, chance);
    case 'measuring':
      return intend(
        'record-post-check',
        { worker, vitals: vitalsWithin(state.rules.postCheck.bounds, chance) },
        between(chance, 60, 140),
      );
    default:
      return stepIntent(state, worker, found, entry, chance, luck);
  }
}

function screeningIntent(
  state: UnitState,
  worker: PersonId,
  entry: Entry,
  chance: Chance,
  feverish: boolean,
  wait = 0,
): Intent {
  const vitals = vitalsWithin(state.rules.preCheck.bounds, chance);
  const points = procedureOf(state, entry).readiness.map((point) => point.id);
  if (feverish) vitals.temperatureC = 38.2;
  return intend('record-screening', { worker, points, vitals }, wait + between(chance, 45, 100));
}

function kitIntent(worker: PersonId, entry: Entry, chance: Chance): Intent | undefined {
  const item = entry.outstanding.kit[0];
  return item && intend('confirm-kit-item', { worker, item }, between(chance, 4, 9));
}

function laneIntent(state: UnitState, worker: PersonId, entry: Entry, chance: Chance): Intent | undefined {
  const procedure = procedureOf(state, entry);
  const lane = lanesFor(state, worker)[0];
  const assistant = procedure.doffingAssistant
    ? pick(
        chance,
        assistantsFree(state).filter((one) => one !== worker),
      )
    : undefined;
  if (!lane || (procedure.doffingAssistant && !assistant)) return undefined;
  const confirmed = procedure.laneReadiness.map((point) => point.id);
  return intend('enter-lane', { worker, lane, confirmed, ...(assistant && { assistant }) }, between(chance, 20, 45));
}

function stepIntent(
  state: UnitState,
  worker: PersonId,
  found: UnitWorker,
  entry: Entry,
  chance: Chance,
  luck: Luck,
): Intent | undefined {
  const phase = phaseOf(found.machine);
  if (!phase) return undefined;
  const deviation = entry.deviations[0];
  if (deviation) return correctiveIntent(worker, deviation, chance);
  const [step] = openSteps(procedureOf(state, entry), phase, entry.outstanding[phase]);
  if (!step) return phase === 'exit' ? intend('leave-room', { worker }, between(chance, 10, 30)) : undefined;
  if (chance() < luck.deviationPerStep)
    return intend(
      'note-deviation',
      { worker, step: step.id, deviationKind: 'touched', actor: 'worker' },
      between(chance, 8, 20),
    );
  const contact = step.hygiene?.contactSeconds ?? 0;
  const seconds = contact + between(chance, 0.6, 1.3) * secondsPerStep(procedureOf(state, entry), phase);
  return intend(
    'verify-step',
    { worker, step: step.id, ...(contact > 0 && { tookSeconds: Math.round(contact + 2) }) },
    seconds,
  );
}

/** Walks through what is to be done about it, and only then says that it is put right. */
function correctiveIntent(worker: PersonId, deviation: Deviation, chance: Chance): Intent {
  const index = nextCorrective(deviation);
  const step = index === undefined ? undefined : deviation.corrective?.[index];
  if (index === undefined || !step)
    return intend('correct-deviation', { worker, deviation: deviation.id }, between(chance, 20, 50));
  const contact = step.contactSeconds;
  return intend(
    'verify-corrective',
    { worker, deviation: deviation.id, index, ...(contact !== undefined && { tookSeconds: contact + 2 }) },
    (contact ?? 0) + between(chance, 5, 15),
  );
}

/** What is left of the expected minutes of a phase when the contact times are taken off, shared out over its steps. */
function secondsPerStep(procedure: Procedure, phase: Phase): number {
  const steps = stepsOf(procedure, phase);
  const contact = steps.reduce((sum, step) => sum + (step.hygiene?.contactSeconds ?? 0), 0);
  const minutes = { donning: procedure.expected.donningMinutes, exit: 3, doffing: procedure.expected.doffingMinutes }[
    phase
  ];
  return Math.max(6, (minutes * 60 - contact) / Math.max(1, steps.length));
}

/** Vital signs somewhere inside the bounds of the unit. */
function vitalsWithin(bounds: UnitState['rules']['preCheck']['bounds'], chance: Chance): Vitals {
  const vitals: Vitals = {};
  for (const [name, bound] of Object.entries(bounds) as [keyof Vitals, { low?: number; high?: number }][]) {
    const low = bound.low ?? (bound.high ?? 100) * 0.7;
    const high = bound.high ?? low * 1.05;
    vitals[name] = Math.round(between(chance, low + (high - low) * 0.2, high - (high - low) * 0.2) * 10) / 10;
  }
  return vitals;
}

function coordinatorIntent(state: UnitState, me: Player, now: number, chance: Chance): Intent | undefined {
  return (
    clearLanesIntent(state, now, chance) ??
    callOutIntent(state, now, chance) ??
    holdIntent(state, chance) ??
    answerIntent(state, me, chance) ??
    callIntent(state, me, now, chance)
  );
}

function clearLanesIntent(state: UnitState, now: number, chance: Chance): Intent | undefined {
  const served = entriesOf(state.lanes).find(
    ([, lane]) => lane.value === 'turnover' && now >= (lane.context.turnoverUntil ?? 0),
  );
  return served && intend('clear-lane', { lane: served[0] }, between(chance, 15, 60));
}

/** Calls people out a little before their time, and one after the other when the lanes are busy. */
function callOutIntent(state: UnitState, now: number, chance: Chance): Intent | undefined {
  const due = workersIn(state, 'inside', 'working')
    .filter(([, { machine }]) => now >= (machine.context.entry?.limit?.callOutAt ?? Infinity) - 120_000)
    .sort(
      ([, a], [, b]) => (a.machine.context.entry?.limit?.limitAt ?? 0) - (b.machine.context.entry?.limit?.limitAt ?? 0),
    )[0];
  return due && intend('call-out', { worker: due[0], reason: 'time' }, between(chance, 5, 30));
}

function holdIntent(state: UnitState, chance: Chance): Intent | undefined {
  const first = waitingForLane(state)[0];
  const free = entriesOf(state.lanes).find(([, lane]) => lane.value === 'free');
  return first && free && intend('hold-lane', { lane: free[0], worker: first[0] }, between(chance, 5, 15));
}

/** Calls the next worker when the lanes can take them out again: no more in the chain than the lanes turn over, well apart. */
function callIntent(state: UnitState, me: Player, now: number, chance: Chance): Intent | undefined {
  const onDuty = Object.values(state.observers).filter((one) => one.value !== 'off-shift').length;
  const entries = Object.values(state.workers).flatMap(({ machine }) => machine.context.entry ?? []);
  const inChain = entries.filter((entry) => entry.doffedAt === undefined).length;
  const lastCallAt = Math.max(0, ...entries.map((entry) => entry.calledAt));
  if (onDuty === 0 || inChain > 2 * state.rules.lanes.length || now - lastCallAt < minutesBetweenCalls(state) * 60_000)
    return undefined;
  const room = state.rules.rooms
    .map((one) => ({ id: one.id, short: one.places - boundFor(state, one.id).length }))
    .sort((a, b) => b.short - a.short)[0];
  if (!room || room.short <= 0) return undefined;
  const ready = workersIn(state, 'rest', 'ready').map(([id]) => id);
  const procedures = Object.keys(state.adopted) as ProcedureId[];
  for (let tries = 0; tries < 8; tries++) {
    const intent = callOf(
      pick(chance, ready),
      room.id,
      pick(chance, procedures),
      pickObserver(state, chance),
      between(chance, 10, 40),
    );
    if (intent && wouldBeAccepted(state, me, intent, now)) return intent;
  }
  return undefined;
}

/** One exit occupies a lane for a doffing and a turnover; people are called no faster than all lanes together take them out. */
function minutesBetweenCalls(state: UnitState): number {
  const lanes = state.rules.lanes;
  const turnover = lanes.reduce((sum, lane) => sum + lane.turnoverMinutes, 0) / lanes.length;
  const doffing = Math.max(...Object.values(state.procedures).map((one) => one.expected.doffingMinutes));
  return (turnover + doffing) / lanes.length;
}

function callOf(
  worker: PersonId | undefined,
  room: RoomId,
  procedure: ProcedureId | undefined,
  observer: PersonId | undefined,
  seconds: number,
): Intent | undefined {
  if (!worker || !procedure) return undefined;
  return intend(
    'call-worker',
    { worker, room, procedure, ...(observer && observer !== worker && { observer }) },
    seconds,
  );
}

function pickObserver(state: UnitState, chance: Chance): PersonId | undefined {
  return pick(
    chance,
    entriesOf(state.observers)
      .filter(([, one]) => one.value !== 'off-shift')
      .map(([id]) => id),
  );
}

function officerIntent(state: UnitState, me: Player, chance: Chance): Intent | undefined {
  const held = [...workersIn(state, 'pre-check', 'held'), ...workersIn(state, 'post-check', 'held')][0];
  const answer = answerIntent(state, me, chance);
  if (answer) return answer;
  if (held)
    return intend(
      'release-hold',
      { worker: held[0], reason: 'Measured again by the officer, within bounds' },
      between(chance, 300, 420),
    );
  const hurt = entriesOf(state.workers).find(
    ([, { machine }]) => machine.context.breaches.length > 0 && placeOf(machine) === 'rest',
  );
  const breach = hurt?.[1].machine.context.breaches[0];
  if (hurt && breach)
    return intend(
      'clear-breach',
      { worker: hurt[0], breach: breach.id, reason: 'Seen, washed, file opened' },
      between(chance, 120, 300),
    );
  const review = state.reviews[0];
  return (
    review &&
    intend('close-review', { review: review.number, reason: 'Looked at with the observer' }, between(chance, 30, 90))
  );
}

/** Answers the oldest alert that calls this player. */
function answerIntent(state: UnitState, me: Player, chance: Chance): Intent | undefined {
  const mine = entriesOf(state.alerts).find(
    ([, alert]) => alert.value === 'unanswered' && audienceOf(state, alert, me.role, me.person) === 'called',
  );
  return mine && intend('acknowledge-alert', { alert: mine[0] }, between(chance, 4, 25));
}
