import { seededChance } from '../seeded-chance.ts';
import { ExitQueue } from './exit-queue.ts';
import type { Plan, PlannedEntry, RotationInstance } from './instance.ts';
import { exitBefore, fillGaps, startRepair } from './repair-start.ts';
import type { PlanSearch } from './search.ts';
import type { FoundPlan, SearchOptions } from './search.ts';

export interface RepairedPlan extends FoundPlan {
  /** Entries of the earlier plan that begin or end within two hours and are not in this one. */
  changed: number;
}

/** Of the budget, for trying orders of exits. */
const queueShare = 0.5;
const movesPerLook = 4;

/**
 * The plan of a moment ago, made to fit what has happened since: people inside are `instance.inside`, whoever is sick is no longer
 * among its workers, lanes and observers that are away are in the options. `previous` is told in minutes from now (`shiftPlan`).
 *
 * In three stages, each of which leaves a plan that can be told. First everything stays that still holds, and what is broken goes to
 * somebody else or moves a little (`repair-start.ts`): that alone takes some milliseconds. If somebody overruns then or something is
 * uncovered, orders of exits are tried (`exit-queue.ts`). The rest of the budget is searched. Each entry changed within the next two
 * hours costs `changeWeight`, so that a later stage changes only what pays.
 */
export function repairPlan(
  instance: RotationInstance,
  previous: Plan,
  options: Omit<SearchOptions, 'previous'>,
): RepairedPlan {
  const start = options.now();
  const isOver = (share = 1) => options.now() >= start + share * options.budgetMs || options.shouldStop?.() === true;
  const search = startRepair(instance, previous, options);
  fillGaps(search.workshop, isOver);
  search.look();
  const { roster } = search;
  if (roster.uncoveredSlots > 0 || roster.overrunMinutes > 0) {
    const wishOf = (frame: ExitFrame) => exitBefore(roster, frame, previous.entries);
    const queue = new ExitQueue(search, seededChance(options.seed), wishOf);
    while (!isOver(queueShare)) queue.try(isOver);
    queue.settle();
  }
  while (!isOver()) search.move(movesPerLook);
  return { ...search.best, changed: changedIn(search, previous) };
}

type ExitFrame = Parameters<typeof exitBefore>[1];

/** The plan as it reads `minutes` later: what was over by then is left out; who is inside then, is ongoing. */
export function shiftPlan(instance: RotationInstance, plan: Plan, minutes: number): Plan {
  const { donning } = instance.durations;
  const entries = plan.entries.map((entry): PlannedEntry => {
    const donningStartMinute = entry.donningStartMinute - minutes;
    if (donningStartMinute + donning > 0) return { ...entry, donningStartMinute };
    return { ...entry, donningStartMinute, observerDonning: null, ongoing: true };
  });
  return {
    entries: entries.filter((entry) => entry.donningStartMinute + donning + entry.insideMinutes > 0),
    breaks: plan.breaks
      .map((one) => ({ ...one, startMinute: one.startMinute - minutes }))
      .filter((one) => one.startMinute + instance.observerBreak.minutes > 0),
  };
}

function changedIn(search: PlanSearch, previous: Plan): number {
  const { hopes, problem } = search.roster;
  const told = search.best.plan.entries;
  const inside = problem.instance.durations.donning;
  const again = hopes.filter((hope) =>
    told.some((entry) => {
      const exit = (entry.donningStartMinute + inside + entry.insideMinutes) / problem.grid;
      const start = entry.donningStartMinute / problem.grid;
      const sameStart = hope.start < 0 ? entry.donningStartMinute < 0 : start === hope.start;
      return entry.worker === problem.workers[hope.worker]!.id && exit === hope.exit && sameStart;
    }),
  );
  return hopes.length - again.length + lostWorkers(search, previous);
}

/** Entries within two hours of people who are no longer there: no hope was left for those. */
function lostWorkers({ problem }: PlanSearch, previous: Plan): number {
  const known = new Set(problem.workers.map(({ id }) => id));
  return previous.entries.filter((entry) => !known.has(entry.worker) && entry.donningStartMinute < 120).length;
}
