import type { Fact } from '../../machines/wire/fact.ts';

/** More missing facts than this are worth less than the state itself. */
export const missingMost = 500;

/** The last facts of a unit, so that a screen that was away for a moment is served without reading the log. */
export class RecentFacts {
  private facts: Fact[] = [];

  add(facts: readonly Fact[]): void {
    this.facts.push(...facts);
    // Trimmed rarely, so that not every batch copies the whole list.
    if (this.facts.length > missingMost * 2) this.facts = this.facts.slice(-missingMost);
  }

  /** All facts with a number above `after`, or undefined when they are not all here or too many. */
  after(after: number, head: number): Fact[] | undefined {
    const missing = head - after;
    if (missing < 0 || missing > Math.min(missingMost, this.facts.length)) return undefined;
    return this.facts.slice(this.facts.length - missing);
  }
}
