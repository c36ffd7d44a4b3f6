import { keptEntry, ongoingEntry } from './entries.ts';
import type { Entry } from './entries.ts';
import type { PlannedEntry } from './instance.ts';
import type { Roster } from './roster.ts';
import type { OngoingFrame } from './slots.ts';
import type { Hole, Workshop } from './workshop.ts';

/** Kept entries first: whatever they break is not for the search to mend. */
export function putKept(roster: Roster, keep: PlannedEntry[]): void {
  const { problem } = roster;
  const byCover = [...keep].sort((a, b) => a.donningStartMinute - b.donningStartMinute);
  for (const planned of byCover) {
    const worker = problem.workers.findIndex(({ id }) => id === planned.worker);
    const position = positionFor(roster, planned.room, planned.worker);
    if (worker >= 0 && position >= 0) roster.add(keptEntry(problem, planned, worker, position));
  }
}

/**
 * The position of the room whose cover ends first. Dealing entries in the order of their start like this turns any cover that is
 * enough for the room into one that is enough for each position: no position gets two entries over a moment another one lacks.
 */
export function positionFor(roster: Roster, room: string, ongoingWorker: string | null = null): number {
  const { positions, ongoing, workers } = roster.problem;
  const own = ongoing.find((frame) => workers[frame.worker]!.id === ongoingWorker);
  if (own && positions[own.position]!.room === room) return own.position;
  let best = -1;
  let bestEnd = Number.POSITIVE_INFINITY;
  for (const [i, position] of positions.entries()) {
    const end = coverEnd(roster.chains[i]!);
    if (position.room !== room || end >= bestEnd) continue;
    best = i;
    bestEnd = end;
  }
  return best;
}

export function coverEnd(chain: Entry[]): number {
  return chain.reduce((end, entry) => Math.max(end, entry.exit), 0);
}

/**
 * Everybody who is inside gets a time to leave, so that a lane is there for each. With an earlier plan, first those who can't leave
 * as it says, then all others as it says. Who is left: from the latest due backwards, each as late as possible without overrun, else
 * with as little as possible. When that finds nothing for somebody, all are put forwards: earliest due first, which is best for one
 * lane, each as soon as it goes. Somebody whom not even the overrun allows for leaves later still, because they have to leave; only
 * with no lane at all they stay.
 */
export function putOngoing(
  roster: Roster,
  wished: (frame: OngoingFrame) => number | undefined = () => undefined,
): void {
  const { ongoing } = roster.problem;
  let waiting = ongoing.filter((frame) =>
    roster.byWorker[frame.worker]!.every((entry) => entry.fixed?.ongoing !== true),
  );
  const orderly = (frame: OngoingFrame) => {
    const wish = wished(frame);
    return wish === undefined || (wish >= frame.exitSlotFirst && wish <= frame.exitSlotLast);
  };
  waiting.sort((a, b) => a.exitSlotLast - b.exitSlotLast || a.exitSlotDue - b.exitSlotDue);
  waiting = waiting.filter((frame) => orderly(frame) || !(putLate(roster, frame) || putOverrun(roster, frame)));
  waiting = waiting.filter((frame) => !putExit(roster, frame, orderly(frame) ? (wished(frame) ?? -1) : -1));
  waiting.sort((a, b) => b.exitSlotDue - a.exitSlotDue || b.exitSlotLast - a.exitSlotLast);
  waiting = waiting.filter((frame) => !putLate(roster, frame) && !putOverrun(roster, frame));
  if (waiting.length > 0) forward(roster, waiting);
}

function putLate(roster: Roster, frame: OngoingFrame): boolean {
  for (let exit = frame.exitSlotDue; exit >= frame.exitSlotFirst; exit--) if (putExit(roster, frame, exit)) return true;
  return false;
}

function putOverrun(roster: Roster, frame: OngoingFrame): boolean {
  for (let exit = frame.exitSlotDue + 1; exit <= frame.exitSlotLast; exit++)
    if (putExit(roster, frame, exit)) return true;
  return false;
}

/** Backwards left no place for some: then all who are free to move are put forwards, from the first slot on. */
function forward(roster: Roster, stuck: OngoingFrame[]): void {
  const placed = roster.byWorker.flat().filter((entry) => entry.kind === 'ongoing');
  for (const entry of placed) roster.remove(entry);
  const frames = roster.problem.ongoing.filter(
    (frame) => stuck.includes(frame) || placed.some((entry) => entry.worker === frame.worker),
  );
  frames.sort((a, b) => a.exitSlotLast - b.exitSlotLast || a.exitSlotDue - b.exitSlotDue);
  const end = roster.problem.length;
  for (const frame of frames) {
    for (let exit = frame.exitSlotFirst; exit < end; exit++) if (putExit(roster, frame, exit)) break;
  }
}

function putExit(roster: Roster, frame: OngoingFrame, exit: number): boolean {
  if (exit < frame.exitSlotFirst) return false;
  const entry = ongoingEntry(roster.problem, frame, exit);
  if (entry.laneEnd > roster.problem.length) return false;
  if (!roster.hasPlace(entry) || !roster.canLeave(entry)) return false;
  entry.repeats = roster.hopeFor(entry);
  roster.add(entry);
  return true;
}

/**
 * A first plan in one pass: always the position whose cover ends first gets one more entry. Each decision then sees all that comes
 * before it, which shares lanes out better than finishing one position after the other. `isOver` is asked between entries.
 */
export function buildForward(workshop: Workshop, isOver: () => boolean): void {
  const { roster } = workshop;
  const { problem } = roster;
  const ends = roster.chains.map(() => 0);
  // No stay is long enough to cover anything: there is nothing to build.
  if (problem.stays.length === 0) return;
  const ahead = 2 * problem.stays.at(-1)! + problem.donning;
  while (!isOver()) {
    let position = -1;
    for (const [i, { demand }] of problem.positions.entries()) {
      ends[i] = skipCovered(roster.chains[i]!, ends[i]!);
      if (demand && ends[i]! < problem.slots && (position < 0 || ends[i]! < ends[position]!)) position = i;
    }
    if (position < 0) return;
    const from = ends[position]!;
    const next = roster.chains[position]!.find((entry) => entry.coverFrom > from) ?? null;
    const horizon = Math.min(problem.slots, from + ahead);
    const put = fillKeepingBreaks(workshop, { position, from, head: null, next, horizon });
    // Nothing can be put in before the next fixed entry, or before the end of what was looked at: that stays uncovered.
    ends[position] = put[0]?.exit ?? next?.coverFrom ?? horizon;
  }
}

/** One entry without regard to breaks; and if one of them finds no place any more, another beside where they are. */
function fillKeepingBreaks(workshop: Workshop, hole: Hole): Entry[] {
  const { roster } = workshop;
  const missing = roster.breaksMissing;
  const put = workshop.fill(hole, false, 1);
  if (roster.breaksMissing <= missing) return put;
  for (const entry of put) roster.remove(entry);
  return workshop.fill(hole, true, 1);
}

function skipCovered(chain: Entry[], end: number): number {
  let covered = end;
  for (const entry of chain) if (entry.coverFrom <= covered) covered = Math.max(covered, entry.exit);
  return covered;
}
