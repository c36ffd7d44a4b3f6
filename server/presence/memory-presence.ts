import type { DeviceId, UnitId } from '../../machines/wire/ids.ts';
import type { Presence } from './presence.ts';

/** Presence for a single server. After a restart nobody has been heard yet, which is true. */
export class MemoryPresence implements Presence {
  private readonly units = new Map<UnitId, Map<DeviceId, number>>();

  heard(unit: UnitId, device: DeviceId, atMs: number): Promise<void> {
    const devices = this.units.get(unit) ?? new Map<DeviceId, number>();
    this.units.set(unit, devices.set(device, Math.max(atMs, devices.get(device) ?? atMs)));
    return Promise.resolve();
  }

  lastHeard(unit: UnitId): Promise<ReadonlyMap<DeviceId, number>> {
    return Promise.resolve(new Map(this.units.get(unit)));
  }

  forget(unit: UnitId, device: DeviceId): Promise<void> {
    this.units.get(unit)?.delete(device);
    return Promise.resolve();
  }

  close(): Promise<void> {
    this.units.clear();
    return Promise.resolve();
  }
}
