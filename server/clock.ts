/** Time as a part, so that a test moves it by hand. Milliseconds since 1970, whole numbers. */
export interface Clock {
  now(): number;
  /** Rings once after `delayMs`; returns what stops it. */
  setTimer(delayMs: number, ring: () => void): () => void;
}

/**
 * The clock of this machine, except that it never runs backwards: when somebody sets the machine's clock back, time goes on
 * from where it was at its usual pace. A jump forward (the machine slept, or was set) is followed at once.
 */
export function systemClock(): Clock {
  let last = Date.now();
  let lastReading = performance.now();
  return {
    now() {
      const reading = performance.now();
      last = Math.max(Date.now(), last + (reading - lastReading));
      lastReading = reading;
      return Math.floor(last);
    },
    setTimer(delayMs, ring) {
      const timer = setTimeout(ring, delayMs);
      return () => clearTimeout(timer);
    },
  };
}
