import type { Slotted } from './slotted.ts';

/**
 * A lower bound from counting alone, in about a millisecond. With N new entries, O slots of overrun and U uncovered slots:
 * - cover needed P·T ≤ U + O + cover left in those inside + N · (longest stay − handover);
 * - slots in equipment ≥ (P·T − U) + N · (handover + doffing) + what those inside had before;
 * - the largest person has at least the average, and at least what is left to a few when the others make one entry fewer;
 * - with one lane, every exit takes all lanes for doffing + turnover.
 * The bound is the least cost over all N and O, with the least U for each.
 */
export function closedFormBound(slotted: Slotted): number {
  const count = countsOf(slotted);
  let best = Infinity;
  for (let entries = 0; entries <= count.entriesMax; entries += 1) {
    if (costOfEntries(slotted, entries) >= best) break;
    for (let overrun = 0; overrun <= count.overrunMax; overrun += 1) {
      best = Math.min(best, costOf(slotted, count, entries, overrun));
    }
  }
  return best - 1e-9;
}

/** The least cost with so many new entries (at the most counted: so many or more) and so many slots of overrun. */
function costOf(slotted: Slotted, count: Counts, entries: number, overrun: number): number {
  const { weights } = slotted;
  const missing = Math.max(0, count.coverNeeded - overrun - count.coverOfEntry * entries);
  return (
    costOfEntries(slotted, entries) +
    weights.overrunSlot * overrun +
    weights.uncoveredSlot * missing +
    weights.largestPersonSlots * largestPersonSlots(slotted, count, entries, overrun, missing)
  );
}

/**
 * Concave in everybody's number of entries, what n people can carry is most when these are as equal as possible: some make
 * `times`, the others one fewer. An uncovered slot lowers the result by at most one, so where it is cheaper than that nothing is claimed.
 */
function largestPersonSlots(
  slotted: Slotted,
  count: Counts,
  entries: number,
  overrun: number,
  missing: number,
): number {
  const { weights, positions, horizon, handover, doffing, longestStay, people, ongoing } = slotted;
  if (weights.uncoveredSlot < weights.largestPersonSlots) return count.slotsBeforeMax;
  const ofPlan = positions * horizon - missing + (handover + doffing) * entries + count.ongoingOverhead;
  const average = Math.ceil((ofPlan + count.slotsBefore) / people.length - 1e-9);
  const largest = Math.max(count.slotsBeforeMax, average);
  const all = entries + ongoing.length;
  if (entries === count.entriesMax && count.isOpenEnded) return largest;
  if (all === 0) return largest;
  const times = Math.ceil(all / people.length);
  const withMost = all - people.length * (times - 1);
  const ofOthers = (people.length - withMost) * (longestStay + doffing) * (times - 1);
  return Math.max(largest, Math.ceil((ofPlan - overrun - count.overrunFree - ofOthers) / withMost - 1e-9));
}

interface Counts {
  /** Slots × positions which neither new entries nor overruns of those inside must give. */
  coverNeeded: number;
  coverOfEntry: number;
  entriesMax: number;
  /** Whether more entries than the most counted are possible. */
  isOpenEnded: boolean;
  overrunMax: number;
  /** Overrun beyond the most counted, taken as free. */
  overrunFree: number;
  /** What those inside have in equipment beyond what they cover. */
  ongoingOverhead: number;
  slotsBefore: number;
  slotsBeforeMax: number;
}

const overrunCounted = 100;

function countsOf(slotted: Slotted): Counts {
  const { positions, horizon, ongoing, handover, longestStay, people, entriesMax } = slotted;
  const coverOfEntry = Math.max(0, Math.min(longestStay - handover, horizon));
  let cover = 0;
  let overrunMax = 0;
  let ongoingOverhead = 0;
  for (const { since, exitMax } of ongoing) {
    const exit = Math.min(exitMax, since + longestStay);
    cover += Math.max(0, Math.min(exit, horizon) - Math.max(0, since + handover));
    overrunMax += Math.max(0, exitMax - exit);
    ongoingOverhead += slotted.doffing - since;
  }
  const overrunFree = Math.max(0, overrunMax - overrunCounted);
  const coverNeeded = Math.max(0, positions * horizon - cover - overrunFree);
  const entriesLeft = people.reduce((sum, { entriesBefore }) => sum + Math.max(0, entriesMax - entriesBefore), 0);
  const possible = Math.max(0, entriesLeft - ongoing.length);
  const useful = coverOfEntry === 0 ? 0 : Math.ceil(coverNeeded / coverOfEntry) + 2 * people.length;
  return {
    coverNeeded,
    coverOfEntry,
    entriesMax: Math.min(possible, useful),
    isOpenEnded: useful < possible,
    overrunMax: overrunMax - overrunFree,
    overrunFree,
    ongoingOverhead,
    slotsBefore: people.reduce((sum, { slotsBefore }) => sum + slotsBefore, 0),
    slotsBeforeMax: Math.max(...people.map(({ slotsBefore }) => slotsBefore)),
  };
}

function costOfEntries(slotted: Slotted, entries: number): number {
  const { weights, ongoing, lanes, doffing, turnover } = slotted;
  const all = entries + ongoing.length;
  const laneSlots = lanes === 1 ? all * (doffing + turnover) : 0;
  return weights.entry * all + weights.allLanesBusySlot * laneSlots;
}
