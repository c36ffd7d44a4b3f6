import type { DeviceId } from '../../machines/wire/ids.ts';
import type { Report } from '../../machines/wire/report.ts';

/**
 * Keeps the reports of a device in order when one of them was turned away for now (the log is out of reach, the device sends
 * too fast). If the ones after it were taken, its number would be used up and it could never be taken: it would be lost.
 */
export class SequenceGate {
  private readonly firstTurnedAway = new Map<DeviceId, number>();

  turnedAway({ device, sequence }: Report): void {
    this.firstTurnedAway.set(device, Math.min(sequence, this.firstTurnedAway.get(device) ?? sequence));
  }

  /** True when an earlier report of the same device has still to come. */
  isBehind({ device, sequence }: Report): boolean {
    const first = this.firstTurnedAway.get(device);
    return first !== undefined && sequence > first;
  }

  /** May this report be taken? The first one that was turned away opens the gate when it comes again. */
  admits(report: Report): boolean {
    if (this.isBehind(report)) return false;
    this.firstTurnedAway.delete(report.device);
    return true;
  }

  /** A device that says hello starts anew, with the oldest report it still has. */
  forget(device: DeviceId): void {
    this.firstTurnedAway.delete(device);
  }
}
