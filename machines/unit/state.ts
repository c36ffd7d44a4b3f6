import type { AlertState } from '../alert/alert-machine.ts';
import type { DeviceState } from '../device/device-machine.ts';
import type { LaneState } from '../lane/lane-machine.ts';
import type { ObserverState } from '../observer/observer-machine.ts';
import type { Procedure } from '../procedure/procedure.ts';
import type { AfterEntryEffect, FactData } from '../wire/fact.ts';
import type { AlertId, DeviceId, LaneId, PersonId, ProcedureId, ReportId, RoomId, UnitId } from '../wire/ids.ts';
import type { WorkerState } from '../worker/worker-machine.ts';
import type { Climate, WorkRate } from './heat-settings.ts';
import type { AdoptedRotation } from './rotation.ts';

/**
 * A change to what a fold makes of the same facts must raise this: a stored snapshot of an older fold is then not used, and
 * the log is folded from its start.
 */
export const foldVersion = 3;

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
  /** When the kit was complete and donning began. */
  donningSince?: number;
  /** How hard they work, as it was set in this entry, oldest first. */
  work?: readonly { at: number; work: WorkRate }[];
  /** The next check inside, because the heat is over the screening limit. */
  check?: { dueAt: number; everyMinutes: number; reason: string; source: string };
  /** The call-out was brought forward by somebody, and why. */
  callOutPlan?: { callOutAt: number; reason: string };
  /** A check in this entry found them over a bound: from then on they are to come out. */
  overSince?: number;
  /** What measurements after the last entry leave of the next one. */
  after?: AfterEntryEffect;
}

export interface ClimateReading {
  at: number;
  climate: Climate;
  sensor?: string;
}

/** Readings of a room that are kept in the state: enough for the longest entry at one a quarter of an hour. */
export const climateReadingsKept = 60;

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
  /** Of those, what was adopted on a screen rather than from the unit's files. */
  adoptions: Readonly<Record<ProcedureId, Adoption>>;
  /** Minutes of the last donnings with each procedure, from the complete kit to the passed inspection, oldest first. */
  donnings: Readonly<Record<ProcedureId, readonly number[]>>;
  /** Minutes of the last doffings with each procedure, oldest first; emergencies and overridden steps don't count. */
  doffings: Readonly<Record<ProcedureId, readonly number[]>>;
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
  /** The plan of entries over the shift that was adopted last. */
  rotation?: AdoptedRotation;
  /** Readings of the rooms, oldest first. */
  climate: Readonly<Record<RoomId, readonly ClimateReading[]>>;
}

export interface Adoption {
  version: number;
  at: number;
  by?: PersonId;
  how: 'proved' | 'override';
}

/** Enough for a ninth decile that is more than the last bad day. */
export const timesKept = 50;

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
