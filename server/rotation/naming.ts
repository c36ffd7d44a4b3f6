import type { Chance } from '../seeded-chance.ts';
import { dealObservers } from './observers.ts';
import type { Observers } from './observers.ts';
import type { Entry } from './entries.ts';
import type { Plan } from './instance.ts';
import type { Roster } from './roster.ts';
import type { NumberedSpan, Problem } from './slots.ts';

/** Something that takes one lane or one observer for [fromSlot, toSlot). */
export interface Job {
  fromSlot: number;
  toSlot: number;
  number: number;
}

/**
 * Deals the counted lanes, observers and breaks to numbered ones; null when it finds no way. Lanes always work out unless some are
 * taken by fixed spans; observers can fail because each must have a break in every period, hence a few tries.
 */
export function nameRoster(roster: Roster, chance: Chance, tries = 30, breaksNeeded = true): Plan | null {
  const { problem } = roster;
  const entries = roster.chains.flat().sort((a, b) => a.start - b.start || a.worker - b.worker);
  const lanes = dealLanes(problem, entries, chance, tries);
  if (!lanes) return null;
  for (let attempt = 0; attempt < tries; attempt++) {
    const observers = dealObservers(roster, entries, chance, attempt, breaksNeeded);
    if (observers) return planOf(problem, entries, lanes, observers);
  }
  return null;
}

function planOf(problem: Problem, entries: Entry[], lanes: Map<Entry, number>, observers: Observers): Plan {
  const planned = entries.map((entry) => {
    if (entry.fixed) return entry.fixed;
    const inside = problem.instance.durations.donning;
    const since = entry.exit * problem.grid - entry.insideMinutes;
    return {
      worker: problem.workers[entry.worker]!.id,
      room: problem.positions[entry.position]!.room,
      donningStartMinute: since - inside,
      insideMinutes: entry.insideMinutes,
      lane: lanes.get(entry) ?? 0,
      observerDonning: entry.kind === 'ongoing' ? null : (observers.donning.get(entry) ?? 0),
      observerDoffing: observers.doffing.get(entry) ?? 0,
      ...(entry.kind === 'ongoing' ? { ongoing: true as const } : {}),
    };
  });
  return { entries: planned, breaks: observers.breaks };
}

function dealLanes(problem: Problem, entries: Entry[], chance: Chance, tries: number): Map<Entry, number> | null {
  const fixed = [
    ...problem.laneSpans,
    ...entries.flatMap((entry) => fixedSpan(entry.fixed?.lane, entry.exit, entry.laneEnd)),
  ];
  const free = entries.filter((entry) => !entry.fixed).sort((a, b) => a.exit - b.exit);
  for (let attempt = 0; attempt < tries; attempt++) {
    const taken = free.map((entry) => ({ entry, job: { fromSlot: entry.exit, toSlot: entry.laneEnd, number: -1 } }));
    const jobs = taken.map(({ job }) => job);
    const rank = attempt === 0 ? () => 0 : () => chance();
    if (dealInOrder(problem.lanes, jobs, fixed, rank))
      return new Map(taken.map(({ entry, job }) => [entry, job.number]));
    if (fixed.length === 0) return null;
  }
  return null;
}

export function fixedSpan(number: number | null | undefined, fromSlot: number, toSlot: number): NumberedSpan[] {
  return number === null || number === undefined || toSlot <= fromSlot ? [] : [{ number, fromSlot, toSlot }];
}

/** Each job to the one who is free for all of it and whose next fixed span comes soonest: the tightest place that fits. */
function dealInOrder(count: number, jobs: Job[], fixed: NumberedSpan[], rank: () => number): boolean {
  const freeFrom = new Int32Array(count);
  for (const job of jobs) {
    if (job.toSlot <= job.fromSlot) job.number = 0;
    if (job.toSlot <= job.fromSlot) continue;
    let best = -1;
    let bestRoom = Number.POSITIVE_INFINITY;
    for (let number = 0; number < count; number++) {
      if (freeFrom[number]! > job.fromSlot || isFixedIn(fixed, number, job)) continue;
      const room = nextFixed(fixed, number, job.toSlot) + (rank() > 0.8 ? -1e6 : 0) - freeFrom[number]! / 1e6;
      if (room >= bestRoom) continue;
      best = number;
      bestRoom = room;
    }
    if (best < 0) return false;
    job.number = best;
    freeFrom[best] = job.toSlot;
  }
  return true;
}

export const isFixedIn = (fixed: NumberedSpan[], number: number, job: Job): boolean =>
  fixed.some((span) => span.number === number && span.fromSlot < job.toSlot && span.toSlot > job.fromSlot);

export const nextFixed = (fixed: NumberedSpan[], number: number, after: number): number =>
  fixed.reduce(
    (next, span) => (span.number === number && span.fromSlot >= after ? Math.min(next, span.fromSlot) : next),
    1e5,
  );

/**
 * A plan in any case, for a roster that found no numbers as a whole: entries that are still free are left out, the latest first and
 * half of them at a time, until the rest can be named; then breaks give way. The roster itself stays as it is.
 */
export function nameByDropping(roster: Roster, chance: Chance): { plan: Plan; without: Entry[] } {
  const free = roster.chains.flat().filter((entry) => entry.kind === 'new');
  free.sort((a, b) => a.start - b.start);
  const without: Entry[] = [];
  let plan = nameRoster(roster, chance);
  while (!plan && free.length > 0) {
    for (const entry of free.splice(Math.floor(free.length / 2))) {
      roster.remove(entry);
      without.push(entry);
    }
    plan = nameRoster(roster, chance);
  }
  plan ??= nameRoster(roster, chance, 1, false) ?? { entries: [], breaks: [] };
  for (const entry of without) roster.add(entry);
  return { plan, without };
}
