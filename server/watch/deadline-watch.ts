import { deadlines } from '../../machines/unit/deadlines.ts';
import type { Authority } from '../unit/authority.ts';
import type { Clock } from '../clock.ts';

/** A timer never sleeps longer than this: what a clock that was set, or a missed wake-up, can delay is bounded by it. */
const sleepMostMs = 10_000;
const retryMs = 1_000;

/**
 * Wakes when the next thing falls due and has the authority write what that leads to. What fell due while no server ran is
 * due at once. The state says what falls due; this only looks at the clock.
 */
export class DeadlineWatch {
  private readonly authority: Authority;
  private readonly clock: Clock;
  private readonly stopListening: () => void;
  private stopTimer: () => void = () => undefined;
  private tried = { number: -1, upTo: 0 };
  private stopped = false;

  constructor(authority: Authority, clock: Clock) {
    this.authority = authority;
    this.clock = clock;
    this.stopListening = authority.onFacts(() => this.look());
    this.look();
  }

  stop(): void {
    this.stopped = true;
    this.stopListening();
    this.stopTimer();
  }

  private look(): void {
    if (this.stopped) return;
    this.stopTimer();
    const now = this.clock.now();
    const ahead = deadlines(this.authority.state);
    if (ahead.some((one) => this.isUntriedAndDue(one.at, now))) void this.tick(now);
    const next = ahead.find((one) => one.at > now)?.at ?? Infinity;
    this.sleep(Math.min(next - now, sleepMostMs));
  }

  /**
   * Some deadlines stay due though nothing follows from them any more, a person having settled the matter. They are tried
   * once per state and not again, or the watch would spin.
   */
  private isUntriedAndDue(at: number, now: number): boolean {
    return at <= now && (this.authority.head.number !== this.tried.number || at > this.tried.upTo);
  }

  private async tick(now: number): Promise<void> {
    this.tried = { number: this.authority.head.number, upTo: now };
    const answer = await this.authority.tick();
    if (answer.accepted || this.stopped) return;
    // The log is out of reach: what is due stays due.
    this.tried = { number: -1, upTo: 0 };
    this.sleep(retryMs);
  }

  private sleep(delayMs: number): void {
    this.stopTimer();
    this.stopTimer = this.clock.setTimer(delayMs, () => this.look());
  }
}
