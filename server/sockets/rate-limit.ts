/** A bucket of tokens: `perSecond` on average, a burst of `burst` at once. Past a hundred bursts in debt it is a flood. */
export class RateLimit {
  private readonly perSecond: number;
  private readonly burst: number;
  private tokens: number;
  private turnedAway = 0;
  private filledAt: number;

  constructor(perSecond: number, burst: number, now: number) {
    this.perSecond = perSecond;
    this.burst = burst;
    this.tokens = burst;
    this.filledAt = now;
  }

  take(now: number): 'taken' | 'too-many' | 'flood' {
    this.tokens = Math.min(this.burst, this.tokens + ((now - this.filledAt) / 1000) * this.perSecond);
    this.filledAt = now;
    if (this.tokens >= 1) {
      this.tokens -= 1;
      this.turnedAway = 0;
      return 'taken';
    }
    this.turnedAway += 1;
    return this.turnedAway > this.burst * 100 ? 'flood' : 'too-many';
  }
}
