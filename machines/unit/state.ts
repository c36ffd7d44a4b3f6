import type { AlertState } from '../alert/alert-machine.ts';
import type { DeviceState } from '../device/device-machine.ts';
import type { LaneState } from '../lane/lane-machine.ts';
import type { ObserverState } from '../observer/observer-machine.ts';
import type { Procedure } from '../procedure/procedure.ts';
import type { FactData } from '../wire/fact.ts';
import type { AlertId, DeviceId, LaneId, PersonId, ProcedureId, ReportId, UnitId } from '../wire/ids.ts';
import type { WorkerState } from '../worker/worker-machine.ts';

/**
 * A change to what a fold makes of the same facts must raise this: a stored snapshot of an older fold is then not used, and
 * the log is folded from its start.
 */
export const foldVersion = 2;

export type UnitRules = FactData<'unit-opened'>['rules'];
export type RosterEntry = FactData<'unit-opened'>['roster'][number];

export interface UnitWorker {
  machine: WorkerState;
  /** The number of the last fact about this worker; reports say which version they were based on. */
  version: number;
  /** The time of that fact: nothing about this worker may count from earlier. */
  lastAt: number;
  /** Who is expected to watch this entry. Who is guiding at this moment is the observer's state. */
  observer?: PersonId;
}

/** A report that was refused but is too weighty to forget, or a fact that arrived late: somebody must look at it. */
export interface Review {
  number: number;
  at: number;
  receivedAt: number;
  claimedAt?: number;
  worker?: PersonId;
  report?: ReportId;
  code: string;
  sentence: string;
}

/** Everything a unit is at one number of its log. Plain JSON, replaced and never edited. */
export interface UnitState {
  unit: UnitId;
  /** Number of the last fact folded in. */
  number: number;
  /** When the server received that fact. */
  at: number;
  rules: UnitRules;
  roster: Readonly<Record<PersonId, RosterEntry>>;
  /** Every version an open entry may still need, by `procedureKey`. */
  procedures: Readonly<Record<string, Procedure>>;
  /** The version that a new entry gets. */
  adopted: Readonly<Record<ProcedureId, number>>;
  workers: Readonly<Record<PersonId, UnitWorker>>;
  observers: Readonly<Record<PersonId, ObserverState>>;
  lanes: Readonly<Record<LaneId, LaneState>>;
  devices: Readonly<Record<DeviceId, DeviceState>>;
  /** Alerts that are not cleared, and the last few that are. */
  alerts: Readonly<Record<AlertId, AlertState>>;
  endedAlerts: readonly EndedAlert[];
  reviews: readonly Review[];
  /** Conditions a person has ended though they still hold, as `kind:subject`. */
  settled: readonly string[];
}

export interface EndedAlert {
  alert: AlertState['context'];
  endedAt: number;
  reason: string;
}

export const endedAlertsKept = 20;
export const procedureKey = (id: ProcedureId, version: number): string => `${id}@${version}`;

/** Reads a record by an id that may not be in it. */
export function at<Id extends string, Value>(record: Readonly<Record<Id, Value>>, id: Id): Value | undefined {
  return Object.hasOwn(record, id) ? record[id] : undefined;
}

/** The entries of a record, with their ids keeping their brand. */
export function entriesOf<Id extends string, Value>(record: Readonly<Record<Id, Value>>): [Id, Value][] {
  return Object.entries(record) as [Id, Value][];
}
