import type { Clock } from '../clock.ts';

/**
 * The clock of a drill. It starts some time ago and jumps from one event to the next, so that a shift is under way when the
 * first screen opens; from `goLive` on it is the real clock and stays so. It never runs backwards. Timers set while it jumps
 * start to run when it is live: what would be due in between is settled with the next report.
 */
export class DrillClock implements Clock {
  private readonly real: Clock;
  private virtual: number | undefined;
  private readonly held = new Set<() => void>();

  constructor(real: Clock, startAt: number) {
    this.real = real;
    this.virtual = startAt;
  }

  now(): number {
    return this.virtual ?? this.real.now();
  }

  get isLive(): boolean {
    return this.virtual === undefined;
  }

  /** Moves on to `instant`; real time is the end of the line. */
  advanceTo(instant: number): void {
    if (this.virtual === undefined) return;
    if (instant >= this.real.now()) this.goLive();
    else this.virtual = Math.max(this.virtual, Math.ceil(instant));
  }

  goLive(): void {
    this.virtual = undefined;
    for (const start of this.held) start();
    this.held.clear();
  }

  setTimer(delayMs: number, ring: () => void): () => void {
    if (this.isLive) return this.real.setTimer(delayMs, ring);
    let stop = (): void => void this.held.delete(start);
    const start = (): void => {
      stop = this.real.setTimer(delayMs, ring);
    };
    this.held.add(start);
    return () => stop();
  }
}
