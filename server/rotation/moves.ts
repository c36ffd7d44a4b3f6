import type { Chance } from '../seeded-chance.ts';
import { wholeBelow } from '../seeded-chance.ts';
import { ongoingEntry } from './entries.ts';
import type { Entry } from './entries.ts';
import type { Roster } from './roster.ts';
import type { OngoingFrame } from './slots.ts';
import type { Hole, Workshop } from './workshop.ts';

/** A change that can be taken back. */
export type Undo = () => void;

/**
 * One change of the roster; null when it came to nothing. Mostly a stretch of one or two chains is taken out and filled anew; the
 * rest hands entries from one worker to another.
 */
export function tryMove(workshop: Workshop, chance: Chance): Undo | null {
  const { roster } = workshop;
  const kind = chance();
  if (kind < 0.15) return moveOngoing(roster, chance) ?? rebuild(workshop, chance);
  // Who carries what matters only once everything is covered.
  const handing = roster.uncoveredSlots > 0 ? 0.2 : 0.45;
  if (kind < handing) return chance() < 0.5 ? handOver(roster, chance) : exchange(roster, chance);
  return rebuild(workshop, chance);
}

function rebuild(workshop: Workshop, chance: Chance): Undo | null {
  const { roster } = workshop;
  const { problem } = roster;
  if (problem.positions.length === 0) return null;
  const first = somePosition(roster, chance);
  const slot = troubledSlot(roster, first, chance) ?? wholeBelow(chance, problem.slots);
  const second = problem.positions.length > 1 && chance() < 0.55 ? wholeBelow(chance, problem.positions.length) : first;
  const reach = someReach(chance);
  const holes = [takeOutAround(roster, first, slot, reach())];
  if (second !== first) holes.push(takeOutAround(roster, second, slot, reach()));
  if (chance() < 0.5) holes.reverse();
  const aroundBreaks = chance() < 0.2;
  const added: Entry[] = [];
  for (const { hole } of holes) added.push(...workshop.fill(hole, aroundBreaks));
  const removed = holes.flatMap((hole) => hole.removed);
  const undo = () => {
    for (const entry of added) roster.remove(entry);
    for (const entry of removed) roster.add(entry);
  };
  // Somebody inside has to have a time to leave, whatever else is won.
  if (removed.filter(isOngoing).length === added.filter(isOngoing).length) return undo;
  undo();
  return null;
}

/**
 * Short stretches mend; only long ones, up to the end of the chain, can do with one entry less, because what is fixed behind a short
 * one says how much there is to cover.
 */
function someReach(chance: Chance): () => number {
  const kind = chance();
  if (kind < 0.5) return () => 2 + wholeBelow(chance, 4);
  if (kind < 0.75) return () => 4 + wholeBelow(chance, 8);
  return () => 1000;
}

const isOngoing = (entry: Entry): boolean => entry.kind === 'ongoing';

/** Mostly one where something is amiss, as long as there is one. */
function somePosition(roster: Roster, chance: Chance): number {
  const many = roster.chains.length;
  const start = wholeBelow(chance, many);
  if (chance() < 0.3) return start;
  for (let i = 0; i < many; i++) if (roster.isTroubled((start + i) % many)) return (start + i) % many;
  return start;
}

/** Half of the time, where the chain leaves something uncovered or somebody overruns, that is where to look. */
function troubledSlot(roster: Roster, position: number, chance: Chance): number | null {
  if (chance() < 0.5) return null;
  let covered = 0;
  const slots: number[] = [];
  for (const entry of roster.chains[position]!) {
    if (entry.coverFrom > covered || entry.overrunMinutes > 0) slots.push(entry.coverFrom);
    covered = Math.max(covered, entry.exit);
  }
  if (covered < roster.problem.slots) slots.push(covered);
  return slots.length === 0 ? null : slots[wholeBelow(chance, slots.length)]!;
}

interface TakenOut {
  hole: Hole;
  removed: Entry[];
}

/** Takes out up to `count` neighbouring free entries around a slot, between whatever is fixed. */
export function takeOutAround(roster: Roster, position: number, slot: number, count: number): TakenOut {
  const chain = roster.chains[position]!;
  const at = chain.findIndex((entry) => entry.exit >= slot);
  const centre = at < 0 ? chain.length - 1 : at;
  // A stretch that reaches to the end begins at the slot.
  let from = count >= chain.length ? Math.max(0, centre) : Math.max(0, centre - Math.floor((count - 1) / 2));
  let to = Math.min(chain.length, from + count);
  for (let i = centre; i >= from; i--) if (chain[i] && !isFree(chain, i)) from = i + 1;
  for (let i = Math.max(centre, from); i < to; i++) if (!isFree(chain, i)) to = i;
  if (to < from) to = from;
  return takeOutSpan(roster, position, from, to);
}

/** The last of those inside may be decided anew; anybody before them only moves by `moveOngoing`. */
function isFree(chain: Entry[], index: number): boolean {
  const entry = chain[index]!;
  return (
    entry.kind === 'new' ||
    (entry.kind === 'ongoing' && chain[index + 1]?.kind !== 'ongoing' && index === lastOngoing(chain))
  );
}

function lastOngoing(chain: Entry[]): number {
  return chain.findLastIndex((entry) => entry.kind === 'ongoing');
}

export function takeOutSpan(roster: Roster, position: number, fromIndex: number, toIndex: number): TakenOut {
  const chain = roster.chains[position]!;
  const removed = chain.slice(fromIndex, toIndex);
  const next = chain[toIndex] ?? null;
  const from = chain.slice(0, fromIndex).reduce((end, entry) => Math.max(end, entry.exit), 0);
  const ongoing = removed.find(isOngoing);
  for (const entry of removed) roster.remove(entry);
  const head = ongoing ? frameOf(roster, ongoing) : null;
  return { removed, hole: { position, from, head, next } };
}

function frameOf(roster: Roster, entry: Entry): OngoingFrame | null {
  return roster.problem.ongoing.find((frame) => frame.worker === entry.worker) ?? null;
}

/** Somebody inside leaves at another time; their chain stays as it is. */
function moveOngoing(roster: Roster, chance: Chance): Undo | null {
  const { ongoing } = roster.problem;
  if (ongoing.length === 0) return null;
  const frame = ongoing[wholeBelow(chance, ongoing.length)]!;
  const old = roster.byWorker[frame.worker]!.find(isOngoing);
  if (!old) return null;
  const exit = frame.exitSlotFirst + wholeBelow(chance, frame.exitSlotLast - frame.exitSlotFirst + 1);
  const entry = ongoingEntry(roster.problem, frame, exit);
  roster.remove(old);
  if (!roster.hasPlace(entry) || !roster.canLeave(entry)) {
    roster.add(old);
    return null;
  }
  entry.repeats = roster.hopeFor(entry);
  roster.add(entry);
  return () => {
    roster.remove(entry);
    roster.add(old);
  };
}

/** Whoever has most in half of the tries, else anybody. */
function someWorker(roster: Roster, chance: Chance): number {
  if (chance() < 0.5) return wholeBelow(chance, roster.wear.length);
  const largest = roster.wearMax;
  const start = wholeBelow(chance, roster.wear.length);
  for (let i = 0; i < roster.wear.length; i++) {
    const worker = (start + i) % roster.wear.length;
    if (roster.wear[worker]! >= largest) return worker;
  }
  return start;
}

function someNewEntry(roster: Roster, worker: number, chance: Chance): Entry | null {
  const own = roster.byWorker[worker]!.filter((entry) => entry.kind === 'new');
  return own.length === 0 ? null : own[wholeBelow(chance, own.length)]!;
}

function handOver(roster: Roster, chance: Chance): Undo | null {
  const from = someWorker(roster, chance);
  const entry = someNewEntry(roster, from, chance);
  if (!entry) return null;
  const start = wholeBelow(chance, roster.wear.length);
  for (let i = 0; i < roster.wear.length; i++) {
    const worker = (start + i) % roster.wear.length;
    if (worker === from || roster.wear[worker]! >= roster.wear[from]! || !roster.canCarry(worker, entry)) continue;
    roster.reassign(entry, worker);
    return () => roster.reassign(entry, from);
  }
  return null;
}

/** Two workers swap an entry each, where both can. */
function exchange(roster: Roster, chance: Chance): Undo | null {
  const one = someWorker(roster, chance);
  const mine = someNewEntry(roster, one, chance);
  if (!mine) return null;
  for (let attempt = 0; attempt < 12; attempt++) {
    const other = wholeBelow(chance, roster.wear.length);
    const theirs = other === one ? null : someNewEntry(roster, other, chance);
    if (!theirs || !roster.canCarry(other, mine, theirs) || !roster.canCarry(one, theirs, mine)) continue;
    exchangeOwners(roster, mine, theirs);
    return () => exchangeOwners(roster, mine, theirs);
  }
  return null;
}

function exchangeOwners(roster: Roster, mine: Entry, theirs: Entry): void {
  const { worker } = mine;
  roster.reassign(mine, theirs.worker);
  roster.reassign(theirs, worker);
}
