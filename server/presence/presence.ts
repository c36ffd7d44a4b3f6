import type { DeviceId, UnitId } from '../../machines/wire/ids.ts';

/**
 * When each device of a unit was last heard, by whichever server heard it.
 *
 * Not part of the log: a heartbeat every few seconds is no fact, and losing the last ones costs nothing but one more
 * heartbeat. What follows from silence ("device-silent", an alert) is a fact, written by the watch. Shared by all servers of a
 * unit, so that a tablet that moved to another server does not look silent to the first.
 */
export interface Presence {
  /** Times only move forward: a heartbeat that comes late takes nothing back. */
  heard(unit: UnitId, device: DeviceId, atMs: number): Promise<void>;
  lastHeard(unit: UnitId): Promise<ReadonlyMap<DeviceId, number>>;
  /** For a device that left: it is not silent, it is gone. */
  forget(unit: UnitId, device: DeviceId): Promise<void>;
  close(): Promise<void>;
}
