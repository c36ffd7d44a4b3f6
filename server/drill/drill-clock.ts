import type { Clock } from '../clock.ts';

/**
 * The clock of a drill. It starts some time ago and jumps from one event to the next, so that a shift is under way when the
 * first screen opens; from `goLive` on it is the real clock and stays so. It never runs backwards.
 */
export class DrillClock implements Clock {
  private readonly real: Clock;
  private virtual: number | undefined;

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
    else this.virtual = Math.max(this.virtual, instant);
  }

  goLive(): void {
    this.virtual = undefined;
  }

  setTimer(delayMs: number, ring: () => void): () => void {
    return this.real.setTimer(delayMs, ring);
  }
}
