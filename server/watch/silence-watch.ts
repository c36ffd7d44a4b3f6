import type { Logger } from 'pino';
import { silenceAllowedMs } from '../../machines/unit/accept.ts';
import { entriesOf } from '../../machines/unit/state.ts';
import type { DeviceId } from '../../machines/wire/ids.ts';
import type { Clock } from '../clock.ts';
import type { Presence } from '../presence/presence.ts';
import type { Authority } from '../unit/authority.ts';

const lookEveryMs = 1_000;
/** If this server itself was stopped for longer, it could hear nobody, and must not call that their silence. */
const ownSilenceMs = 3_000;

/** Looks every second whether a device has been silent for longer than it may be, and tells the authority. */
export class SilenceWatch {
  private readonly authority: Authority;
  private readonly presence: Presence;
  private readonly clock: Clock;
  private readonly logger: Logger;
  /** A device heard before this is counted from here: this server, or its machine, has only just begun to listen. */
  private listeningSince: number;
  private lookedAt: number;
  private stopTimer: () => void;
  private stopped = false;

  constructor(authority: Authority, presence: Presence, clock: Clock, logger: Logger) {
    this.authority = authority;
    this.presence = presence;
    this.clock = clock;
    this.logger = logger;
    this.listeningSince = clock.now();
    this.lookedAt = this.listeningSince;
    this.stopTimer = clock.setTimer(lookEveryMs, () => void this.look());
  }

  stop(): void {
    this.stopped = true;
    this.stopTimer();
  }

  private async look(): Promise<void> {
    const now = this.clock.now();
    if (now - this.lookedAt > ownSilenceMs) this.listeningSince = now;
    this.lookedAt = now;
    try {
      const heard = await this.presence.lastHeard(this.authority.unit);
      await Promise.all(this.silentDevices(heard, now).map(([device, at]) => this.authority.silence(device, at)));
    } catch (error) {
      // Nobody is called silent on the word of a presence that can't be asked.
      this.logger.warn({ err: error, unit: this.authority.unit }, 'presence out of reach');
    }
    if (!this.stopped) this.stopTimer = this.clock.setTimer(lookEveryMs, () => void this.look());
  }

  private silentDevices(heard: ReadonlyMap<DeviceId, number>, now: number): [DeviceId, number][] {
    const { state } = this.authority;
    return entriesOf(state.devices)
      .filter(([, device]) => device.value === 'live')
      .map(([id]): [DeviceId, number] => [id, Math.max(heard.get(id) ?? 0, this.listeningSince)])
      .filter(([id, at]) => now - at > silenceAllowedMs(state, id));
  }
}
