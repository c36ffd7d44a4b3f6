import { onSlot } from './breaks.ts';
import type { Chance } from '../seeded-chance.ts';
import type { Entry } from './entries.ts';
import type { PlannedBreak } from './instance.ts';
import { fixedSpan, isFixedIn, nextFixed } from './naming.ts';
import type { Job } from './naming.ts';
import type { Roster } from './roster.ts';
import type { BreakPeriod, NumberedSpan, Problem } from './slots.ts';

/** Who watches which donning and doffing, and everybody's breaks. */
export interface Observers {
  donning: Map<Entry, number>;
  doffing: Map<Entry, number>;
  breaks: PlannedBreak[];
}

/**
 * Work is dealt in the order of time; a break is what an observer's gap leaves room for. So breaks are placed last, and dealing only
 * sees to it that everybody gets a gap of that length in every period. null: some break found no gap, although the count says that
 * it might (then another try, with some chance in the choice, may find it).
 */
export function dealObservers(
  roster: Roster,
  entries: Entry[],
  chance: Chance,
  attempt: number,
  breaksNeeded: boolean,
): Observers | null {
  const { problem } = roster;
  const { work, fixed, donning, doffing } = workOf(problem, entries);
  work.sort((a, b) => a.job.fromSlot - b.job.fromSlot);
  const jobs = work.map(({ job }) => job);
  const dealing = new Dealing(problem, fixed, attempt === 0 ? () => 0 : chance);
  if (!jobs.every((job) => dealing.deal(job))) return null;
  const breaks = breaksOf(problem, jobs, fixed);
  const told = problem.breakPeriods.length * problem.observers;
  if (breaksNeeded && told - breaks.length > roster.breaksMissing) return null;
  for (const { job, tell } of work) tell(job.number);
  return { donning, doffing, breaks };
}

function workOf(problem: Problem, entries: Entry[]) {
  const fixed = [...problem.observerSpans];
  const donning = new Map<Entry, number>();
  const doffing = new Map<Entry, number>();
  const work: { job: Job; tell: (number: number) => void }[] = [];
  const take = (
    entry: Entry,
    names: Map<Entry, number>,
    number: number | null | undefined,
    fromSlot: number,
    toSlot: number,
  ) => {
    if (entry.fixed) fixed.push(...fixedSpan(number, fromSlot, toSlot));
    else if (toSlot > fromSlot) {
      work.push({ job: { fromSlot, toSlot, number: -1 }, tell: (observer) => names.set(entry, observer) });
    }
  };
  for (const entry of entries) {
    take(entry, donning, entry.fixed?.observerDonning, Math.max(0, entry.start), entry.donningEnd);
    take(entry, doffing, entry.fixed?.observerDoffing, entry.exit, entry.doffingEnd);
  }
  return { work, fixed, donning, doffing };
}

class Dealing {
  private readonly problem: Problem;
  private readonly fixed: NumberedSpan[];
  private readonly chance: Chance;
  private readonly freeFrom: Int32Array;
  /** Per observer × period: there has been a gap that is long enough. */
  private readonly had: Uint8Array;

  constructor(problem: Problem, fixed: NumberedSpan[], chance: Chance) {
    this.problem = problem;
    this.fixed = [...fixed].sort((a, b) => a.fromSlot - b.fromSlot);
    this.chance = chance;
    this.freeFrom = new Int32Array(problem.observers);
    this.had = new Uint8Array(problem.observers * problem.breakPeriods.length);
    for (const [number, { excused }] of problem.breakPeriods.entries()) {
      for (const { observer } of excused) this.had[observer * problem.breakPeriods.length + number] = 1;
    }
  }

  deal(job: Job): boolean {
    this.passFixed(job.fromSlot);
    let best = -1;
    let bestRank = Number.POSITIVE_INFINITY;
    for (let observer = 0; observer < this.problem.observers; observer++) {
      if (this.freeFrom[observer]! > job.fromSlot || isFixedIn(this.fixed, observer, job)) continue;
      const rank = this.rank(observer, job);
      if (rank >= bestRank) continue;
      best = observer;
      bestRank = rank;
    }
    if (best < 0) return false;
    job.number = best;
    this.occupy(best, job);
    return true;
  }

  /** Fixed spans that have begun are work like any other. */
  private passFixed(until: number): void {
    while (this.fixed.length > 0 && this.fixed[0]!.fromSlot <= until) {
      const span = this.fixed.shift()!;
      this.occupy(span.number, span);
    }
  }

  private occupy(observer: number, span: { fromSlot: number; toSlot: number }): void {
    const { breakPeriods, breakSlots } = this.problem;
    const from = this.freeFrom[observer]!;
    for (const [number, period] of breakPeriods.entries()) {
      const gap = Math.min(span.fromSlot, period.toSlot) - Math.max(from, period.fromSlot);
      if (gap >= breakSlots) this.had[observer * breakPeriods.length + number] = 1;
    }
    this.freeFrom[observer] = Math.max(from, span.toSlot);
  }

  /**
   * Lowest first: who has had the break of this period, or has it by now; then who loses least of a gap that is growing; last who
   * would find no time for the break after this job.
   */
  private rank(observer: number, job: Job): number {
    const { breakPeriods, breakSlots } = this.problem;
    const number = breakPeriods.findIndex((period) => job.fromSlot < period.toSlot);
    const tight = Math.min(200, nextFixed(this.fixed, observer, job.toSlot) - job.toSlot) / 1000;
    const noise = this.chance() * 3 + tight;
    const period = breakPeriods[number];
    if (!period || this.had[observer * breakPeriods.length + number]) return noise;
    const gap = job.fromSlot - Math.max(this.freeFrom[observer]!, period.fromSlot);
    if (gap >= breakSlots) return 1 + noise;
    return (period.toSlot - job.toSlot >= breakSlots ? 10 : 1000) + Math.max(0, gap) + noise;
  }
}

/** One break per observer and period, in the first gap that holds it; an absence that stands for a break is told as one. */
function breaksOf(problem: Problem, jobs: Job[], fixed: NumberedSpan[]): PlannedBreak[] {
  const breaks: PlannedBreak[] = [];
  for (let observer = 0; observer < problem.observers; observer++) {
    const busy: { fromSlot: number; toSlot: number }[] = [...jobs, ...fixed].filter((job) => job.number === observer);
    busy.sort((a, b) => a.fromSlot - b.fromSlot);
    for (const period of problem.breakPeriods) {
      const excused = period.excused.find((absence) => absence.observer === observer)?.startSlot;
      const start = excused ?? firstGap(problem, busy, period);
      if (start !== null) breaks.push({ observer, startMinute: start * problem.grid });
    }
  }
  return breaks.sort((a, b) => a.startMinute - b.startMinute || a.observer - b.observer);
}

function firstGap(problem: Problem, busy: { fromSlot: number; toSlot: number }[], period: BreakPeriod): number | null {
  let free = onSlot(problem, period.fromSlot);
  for (const span of busy) {
    if (span.fromSlot - free >= problem.breakSlots) break;
    free = onSlot(problem, Math.max(free, span.toSlot));
  }
  return free + problem.breakSlots <= period.toSlot ? free : null;
}
