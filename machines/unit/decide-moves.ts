import { observers } from '../observer/observer-machine.ts';
import type { LaneId, PersonId } from '../wire/ids.ts';
import type { DraftFact } from '../wire/fact.ts';
import type { Entry } from '../worker/worker-machine.ts';
import {
  accept,
  draft,
  elsewhere,
  guiding,
  onDuty,
  refuse,
  withEntry,
  type Case,
  type Decider,
  type Decision,
} from './decision.ts';
import { releaseFacts } from './decide-duty.ts';
import { breachIdOf } from './report-ids.ts';
import {
  assistantsFree,
  assistedBy,
  freeLanes,
  guideOf,
  holderOf,
  isAt,
  isInPpe,
  lanesFor,
  procedureOf,
} from './questions.ts';
import { at, entriesOf } from './state.ts';

/** Reports by which a worker moves: into the room, out of it, into a lane; and help, which nothing may block. */

export const enterRoom: Decider<'enter-room'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) =>
    guiding(one, one.report.data.worker, () => {
      const id = one.report.data.worker;
      if (!isAt(worker.machine, 'donned')) return elsewhere(worker, 'at the door with the inspection passed');
      const entered = draft(one, 'room-entered', { worker: id, entry: entry.id, room: entry.room });
      return accept(entered, ...releaseFacts(one, id, entry.id));
    }),
  );

export const callOut: Decider<'call-out'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) => {
    const { worker: id, reason } = one.report.data;
    if (isAt(worker.machine, 'inside', 'leaving')) return accept();
    if (!isAt(worker.machine, 'inside', 'working')) return elsewhere(worker, 'inside');
    return accept(draft(one, 'called-out', { worker: id, entry: entry.id, reason: reason ?? 'called out' }));
  });

/** Through the door. From `donned` it means turning back; from inside, the exit steps are done or overridden. */
export const leaveRoom: Decider<'leave-room'> = (one) =>
  onDuty(one, () =>
    withEntry(one, one.report.data.worker, (worker, entry) => {
      const id = one.report.data.worker;
      if (isAt(worker.machine, 'inside', 'working')) return elsewhere(worker, 'called out; send the exit call first');
      if (!isAt(worker.machine, 'inside', 'leaving') && !isAt(worker.machine, 'donned'))
        return elsewhere(worker, 'leaving the room');
      if (isAt(worker.machine, 'inside') && entry.outstanding.exit.length > 0)
        return refuse(
          'step/out-of-order',
          'The steps at the door are not done yet. In an emergency use emergency exit.',
        );
      return accept(...handOver(one, id, entry), draft(one, 'room-left', { worker: id, entry: entry.id }));
    }),
  );

/** Whoever guided the donning of somebody who turned back goes on guiding the doffing. */
function handOver(one: Case, worker: PersonId, entry: Entry): DraftFact[] {
  const holder = holderOf(one.state, worker);
  const observer = holder && at(one.state.observers, holder);
  if (!holder || !observer || typeof observer.value !== 'object' || observer.value.guiding === 'doffing') return [];
  const about = { worker, entry: entry.id, observer: holder };
  return [draft(one, 'worker-released', about), draft(one, 'worker-taken', { ...about, guiding: 'doffing' })];
}

export const enterLane: Decider<'enter-lane'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) =>
    guiding(one, one.report.data.worker, () => {
      const { worker: id, lane, assistant, confirmed } = one.report.data;
      if (!isAt(worker.machine, 'doffing', 'at-threshold')) return elsewhere(worker, 'at the doffing threshold');
      const blocked =
        laneRefusal(one, id, lane) ??
        (entry.emergency ? undefined : readinessRefusal(one, entry, confirmed, assistant));
      if (blocked) return blocked;
      if (assistant && !assistantsFree(one.state).includes(assistant))
        return refuse(
          'assistant/not-free',
          'This person cannot assist now: not an assistant, in an entry, or busy with another worker.',
        );
      return accept(
        ...otherHolds(one, id, lane),
        draft(one, 'lane-entered', { lane, worker: id, entry: entry.id, ...(assistant && { assistant }), confirmed }),
      );
    }),
  );

function laneRefusal(one: Case, worker: PersonId, lane: LaneId): Decision | undefined {
  const found = at(one.state.lanes, lane);
  if (!found) return refuse('lane/unknown', `There is no lane "${lane}" in this unit.`);
  if (lanesFor(one.state, worker).includes(lane)) return undefined;
  const instead = lanesFor(one.state, worker)[0];
  return refuse(
    'lane/not-free',
    `This lane is ${String(found.value)}. ${instead ? `Lane "${instead}" may be entered.` : 'No lane may be entered now; the coordinator has been told.'}`,
  );
}

function readinessRefusal(
  one: Case,
  entry: Entry,
  confirmed: readonly string[],
  assistant?: PersonId,
): Decision | undefined {
  const procedure = procedureOf(one.state, entry);
  const missing = procedure.laneReadiness.find((point) => !confirmed.includes(point.id));
  if (missing) return refuse('lane/not-ready', `Before the worker steps in: "${missing.words}"`);
  if (procedure.doffingAssistant && !assistant)
    return refuse('assistant/needed', 'This ensemble comes off with a doffing assistant. Choose who assists.');
  return undefined;
}

/** The lane the worker holds, if it is another one than they step into. */
function otherHolds(one: Case, worker: PersonId, lane: LaneId): DraftFact[] {
  return entriesOf(one.state.lanes)
    .filter(([id, other]) => id !== lane && other.value === 'held' && other.context.worker === worker)
    .map(([id]) => draft(one, 'lane-hold-released', { lane: id, worker }));
}

/**
 * Emergency exit, from any state in equipment, by one press. It takes a lane if there is one to take, even from somebody who
 * only holds it, and an observer if the one who pressed is free.
 */
export const declareEmergency: Decider<'declare-emergency'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) => {
    const { worker: id, reason } = one.report.data;
    if (!isInPpe(worker.machine)) return elsewhere(worker, 'in equipment; cancel the entry instead');
    if (entry.emergency) return accept();
    return accept(
      draft(one, 'emergency-declared', { worker: id, entry: entry.id, reason: reason ?? 'emergency exit' }),
      ...(isAt(worker.machine, 'doffing') ? [] : handOver(one, id, entry)),
      ...emergencyObserver(one, id, entry),
      ...(entry.lane ? [] : emergencyLane(one, id)),
    );
  });

function emergencyObserver(one: Case, worker: PersonId, entry: Entry): DraftFact[] {
  const me = at(one.state.observers, one.person);
  if (guideOf(one.state, worker) || worker === one.person || !me || assistedBy(one.state, one.person)) return [];
  if (!observers.can(me, { type: 'take worker', at: one.at, worker, guiding: 'doffing' })) return [];
  return [
    // Whoever had this worker does not answer, or there would be a guide.
    ...releaseFacts(one, worker, entry.id),
    draft(one, 'worker-taken', { worker, entry: entry.id, observer: one.person, guiding: 'doffing' }),
  ];
}

function emergencyLane(one: Case, worker: PersonId): DraftFact[] {
  const held = entriesOf(one.state.lanes).filter(([, lane]) => lane.value === 'held');
  if (held.some(([, lane]) => lane.context.worker === worker)) return [];
  const free = freeLanes(one.state)[0];
  if (free) return [draft(one, 'lane-held', { lane: free, worker })];
  const yielding = held.find(([, lane]) => !isEmergency(one, lane.context.worker));
  const holder = yielding?.[1].context.worker;
  if (!yielding || !holder) return [];
  const [lane] = yielding;
  // The report is about another worker, but nothing about the holder counts from before what is on record about them.
  const later = { ...one, at: Math.max(one.at, at(one.state.workers, holder)?.lastAt ?? 0) };
  return [draft(later, 'lane-hold-released', { lane, worker: holder }), draft(later, 'lane-held', { lane, worker })];
}

function isEmergency(one: Case, worker: PersonId | undefined): boolean {
  return worker !== undefined && (at(one.state.workers, worker)?.machine.context.entry?.emergency ?? false);
}

/** A breach is noted wherever the worker is, with what the unit's rules say to do now; it never blocks leaving. */
export const declareBreach: Decider<'declare-breach'> = (one) => {
  const { worker: id, breachKind, note } = one.report.data;
  const worker = at(one.state.workers, id);
  if (!worker) return refuse('worker/unknown', `Nobody called "${id}" is a worker of this unit.`);
  const rule = one.state.rules.breaches.find((rule) => rule.kind === breachKind);
  if (!rule) {
    const known = one.state.rules.breaches.map((rule) => rule.kind).join(', ');
    return refuse('breach/unknown', `The unit's rules know no breach "${breachKind}". Use one of: ${known}.`);
  }
  const entry = worker.machine.context.entry;
  return accept(
    draft(one, 'breach-declared', {
      worker: id,
      ...(entry && { entry: entry.id }),
      breach: breachIdOf(one.report.id),
      breachKind,
      breachClass: rule.class,
      now: rule.now,
      then: rule.then,
      leaveRoom: rule.leaveRoom,
      ...(note && { note }),
    }),
  );
};

export const clearBreach: Decider<'clear-breach'> = (one) => {
  const { worker: id, breach, reason } = one.report.data;
  const open = at(one.state.workers, id)?.machine.context.breaches.some((one) => one.id === breach);
  if (!open) return refuse('breach/unknown', 'This breach is not open. It may have been signed off already.');
  return accept(draft(one, 'breach-cleared', { worker: id, breach, reason }));
};
