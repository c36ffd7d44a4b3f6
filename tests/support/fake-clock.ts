import type { Clock } from '../../server/clock.ts';

interface Timer {
  at: number;
  ring: () => void;
}

/** Time that moves only when a test moves it, and everything that is due on the way happens on the way. */
export class FakeClock implements Clock {
  private time: number;
  private timers: Timer[] = [];
  /** How often a timer was set: a watch that spins shows here. */
  timersSet = 0;

  constructor(time: number) {
    this.time = time;
  }

  now(): number {
    return this.time;
  }

  setTimer(delayMs: number, ring: () => void): () => void {
    const timer = { at: this.time + Math.max(0, delayMs), ring };
    this.timers.push(timer);
    this.timersSet += 1;
    return () => {
      this.timers = this.timers.filter((one) => one !== timer);
    };
  }

  /** Moves on, from one timer to the next, letting what each one starts come to an end. */
  async advance(ms: number): Promise<void> {
    const until = this.time + ms;
    await settled();
    for (let next = this.nextBefore(until); next; next = this.nextBefore(until)) {
      this.time = Math.max(this.time, next.at);
      this.timers = this.timers.filter((one) => one !== next);
      next.ring();
      await settled();
    }
    this.time = until;
    await settled();
  }

  /** Time passes and nothing rings: the machine was asleep. The timers ring late, at the next `advance`. */
  sleep(ms: number): void {
    this.time += ms;
  }

  private nextBefore(until: number): Timer | undefined {
    const due = this.timers.filter((timer) => timer.at <= until);
    return due.sort((a, b) => a.at - b.at)[0];
  }
}

/** Lets promises and immediates that are under way run to their end, as far as nothing outside this process is awaited. */
export async function settled(turns = 10): Promise<void> {
  for (let turn = 0; turn < turns; turn += 1) await new Promise(setImmediate);
}
