import { isExit } from './entries.ts';
import type { Entry } from './entries.ts';
import type { Roster } from './roster.ts';

/** An entry that needs somebody; who had it before gets the entry it was reached from. */
interface Link {
  entry: Entry;
  from: Link | null;
}

/**
 * Puts an entry into the roster although nobody is free for it, where a chain of workers can hand on an entry each: somebody takes
 * this one and gives one of theirs to somebody else, and so on. Nobody's times change. The shortest such chain is taken, and one that
 * leaves the hoped-for entries of the next hours with their workers if there is any. false: there is none, and nothing has changed.
 */
export function putByHandingOn(roster: Roster, entry: Entry): boolean {
  return handOn(roster, entry, (other) => other.repeats < 0) || handOn(roster, entry, () => true);
}

function handOn(roster: Roster, wanted: Entry, mayMove: (entry: Entry) => boolean): boolean {
  const links: Link[] = [{ entry: wanted, from: null }];
  const seen = new Set<Entry>([wanted]);
  for (const link of links) {
    for (let worker = 0; worker < roster.byWorker.length; worker++) {
      if (takesPart(link, worker)) continue;
      if (roster.canCarry(worker, link.entry)) {
        settle(roster, link, worker);
        return true;
      }
      for (const other of roster.byWorker[worker]!) {
        if (seen.has(other) || other.kind !== 'new' || isExit(other) || !mayMove(other)) continue;
        if (!roster.canCarry(worker, link.entry, other)) continue;
        seen.add(other);
        links.push({ entry: other, from: link });
      }
    }
  }
  return false;
}

/** Each worker gives and takes once at most: what was asked of them holds only then. */
function takesPart(link: Link, worker: number): boolean {
  for (let at: Link | null = link; at?.from; at = at.from) if (at.entry.worker === worker) return true;
  return false;
}

function settle(roster: Roster, last: Link, worker: number): void {
  let taker = worker;
  for (let link: Link = last; link.from; link = link.from) {
    const giver = link.entry.worker;
    roster.reassign(link.entry, taker);
    taker = giver;
  }
  const wanted = rootOf(last);
  wanted.worker = taker;
  wanted.repeats = roster.hopeFor(wanted);
  roster.add(wanted);
}

const rootOf = (link: Link): Entry => (link.from ? rootOf(link.from) : link.entry);
