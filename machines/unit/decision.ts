import type { Confidential, DraftFact, FactData, FactKind } from '../wire/fact.ts';
import type { DeviceId, PersonId } from '../wire/ids.ts';
import type { Refusal, RefusalCode } from '../wire/refusal.ts';
import type { Report, ReportKind } from '../wire/report.ts';
import type { Role } from '../wire/rights.ts';
import type { Entry } from '../worker/worker-machine.ts';
import { holderOf, placeOf, detailOf } from './questions.ts';
import { at, type UnitState, type UnitWorker } from './state.ts';

/** A report as the server received it. What only a shell can know (the time, a salt) comes with it. */
export interface Received<R extends Report = Report> {
  report: R;
  role: Role;
  receivedAt: number;
  /** Random, for the digest of confidential values. */
  salt: string;
}

/** Facts to write, in order, or why not. An empty list is an acceptance that changes nothing. */
export type Decision = { facts: DraftFact[] } | { refusal: Refusal };

/** What every decider is given: the state, the report, and the time it counts from. */
export interface Case<R extends Report = Report> extends Received<R> {
  state: UnitState;
  person: PersonId;
  device: DeviceId;
  /** The observed time, bounded by the previous fact of the same worker and by the receipt. */
  at: number;
}

export type Decider<K extends ReportKind> = (one: Case<Extract<Report, { kind: K }>>) => Decision;

export function draft<K extends FactKind>(
  one: Case,
  kind: K,
  data: FactData<K>,
  confidential?: Confidential,
): DraftFact {
  const { report, role, receivedAt, at: counted } = one;
  return {
    kind,
    data,
    at: counted,
    receivedAt,
    ...(report.observedAt !== counted && { claimedAt: report.observedAt }),
    by: { device: one.device, role, person: one.person },
    report: {
      id: report.id,
      sequence: report.sequence,
      ...(report.basedOn !== undefined && { basedOn: report.basedOn }),
      ...(report.clockErrorMs !== undefined && { clockErrorMs: report.clockErrorMs }),
      ...(isLate(one) && { late: true }),
    },
    ...(confidential && { confidential }),
  } as DraftFact;
}

export function isLate({
  state,
  report,
  receivedAt,
}: {
  state: UnitState;
  report: Report;
  receivedAt: number;
}): boolean {
  return receivedAt - report.observedAt > state.rules.reports.lateAfterSeconds * 1000;
}

export const accept = (...facts: DraftFact[]): Decision => ({ facts });
export const refuse = (code: RefusalCode, sentence: string): Decision => ({ refusal: { code, sentence } });

/** A worker with an open entry, or the refusal that says why not. */
export function withEntry(one: Case, worker: PersonId, then: (worker: UnitWorker, entry: Entry) => Decision): Decision {
  const found = at(one.state.workers, worker);
  if (!found)
    return refuse(
      'worker/unknown',
      `Nobody called "${worker}" is a worker of this unit. Choose somebody from the board.`,
    );
  const entry = found.machine.context.entry;
  if (!entry)
    return refuse(
      'worker/elsewhere',
      'This worker is resting and has no open entry. The coordinator calls them first.',
    );
  return then(found, entry);
}

/** Where somebody is, in the words of the screens. */
export function whereabouts(worker: UnitWorker): string {
  const detail = detailOf(worker.machine);
  return placeWords[detail ?? placeOf(worker.machine)] ?? placeOf(worker.machine);
}

const placeWords: Readonly<Record<string, string>> = {
  ready: 'ready on the cold side',
  recovering: 'resting',
  'stood-down': 'stood down',
  screening: 'at the pre-check',
  kit: 'at the kit check',
  donning: 'donning',
  inspection: 'at the final inspection',
  held: 'held at a check',
  donned: 'at the door',
  working: 'inside',
  leaving: 'leaving the room',
  'at-threshold': 'at the doffing threshold',
  stepping: 'doffing',
  corrective: 'doffing, putting a deviation right',
  measuring: 'at the post-check',
};

export function elsewhere(worker: UnitWorker, needed: string): Decision {
  return refuse(
    'worker/elsewhere',
    `This worker is ${whereabouts(worker)}, not ${needed}. Look at the screen again: somebody was faster.`,
  );
}

/** The reporting observer must be the one guiding this worker: two tablets on one worker is how steps get lost. */
export function guiding(one: Case, worker: PersonId, then: () => Decision): Decision {
  const holder = holderOf(one.state, worker);
  if (holder === one.person) return then();
  return refuse(
    'observer/not-with-worker',
    holder
      ? 'Another observer is guiding this worker. Take the worker over first.'
      : 'Take this worker first, so that everybody sees who is watching.',
  );
}

/** The reporting observer must be on duty. */
export function onDuty(one: Case, then: () => Decision): Decision {
  const observer = at(one.state.observers, one.person);
  if (!observer)
    return refuse('observer/unknown', 'You are not an observer of this unit. The lead can add you to the roster.');
  if (observer.value === 'off-shift') return refuse('observer/not-on-duty', 'Start your duty on this tablet first.');
  return then();
}
