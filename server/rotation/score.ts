import type { Roster } from './roster.ts';
import type { Problem } from './slots.ts';

/**
 * What the search goes by beside the objective, because the objective says nothing between one whole step and the next. Each is small
 * beside one entry, and what is best differs between instances, so `search.ts` takes turns.
 */
export interface Steering {
  /** Per squared slot in equipment off the mean: the largest share falls bit by bit. */
  spread: number;
  /** What a slot covered beyond the horizon is worth: an entry can be spared only where a whole one has become superfluous. */
  reach: number;
  /** Minutes that nobody ought to have more than, and the price per slot and person above; without it only the largest share counts. */
  ceiling: { minutes: number; price: number } | null;
  /** Per end of a lane's use that touches no other: it leaves a piece of lane time that is too short for anybody. */
  crumbs: number;
}

/** What a plan is judged by: the objective, what was changed, and breaks that found no place. */
export function toldScoreOf(roster: Roster): number {
  const { weights, slotMinutes } = roster.problem.instance;
  const share = roster.problem.slotShare;
  return (
    weights.uncoveredSlot * share * roster.uncoveredSlots +
    (weights.overrunSlot * roster.overrunMinutes) / slotMinutes +
    weights.entry * roster.entries +
    (weights.largestPersonSlots * roster.wearMax) / slotMinutes +
    weights.allLanesBusySlot * share * roster.fullSlots +
    roster.hopeWeight * (roster.hopes.length - roster.repeated) +
    (roster.breaksMissing + roster.lateSlots) * brokenWeight(roster.problem)
  );
}

/** What the search goes by: beside the above the spread of minutes among people, which makes the largest share fall bit by bit. */
export function scoreOf(roster: Roster): number {
  const { slotMinutes } = roster.problem.instance;
  const spread = roster.wearSquares - (roster.wearSum * roster.wearSum) / roster.wear.length;
  const steer = (roster.steering.spread * spread) / (slotMinutes * slotMinutes);
  return toldScoreOf(roster) + steer - roster.steering.reach * reachOf(roster) + aboveCeiling(roster);
}

/** Everybody above the ceiling counts, instead of the largest share alone. */
function aboveCeiling(roster: Roster): number {
  const { ceiling } = roster.steering;
  if (!ceiling) return 0;
  let sum = 0;
  for (const minutes of roster.wear) sum += Math.max(0, minutes - ceiling.minutes);
  const { weights, slotMinutes } = roster.problem.instance;
  const largest = weights.largestPersonSlots * Math.max(0, roster.wearMax - ceiling.minutes);
  return (ceiling.price * sum - largest) / slotMinutes;
}

/** Slots covered beyond the horizon. */
function reachOf({ chains, problem }: Roster): number {
  let sum = 0;
  for (const chain of chains) sum += Math.max(0, (chain.at(-1)?.exit ?? 0) - problem.slots);
  return sum;
}

/** What one more slot of cover is worth when an entry covers as much as it can. */
export function entryPerSlot(problem: Problem): number {
  return problem.instance.weights.entry / Math.max(1, (problem.stays.at(-1) ?? 0) - problem.handover);
}

/** For rules that nothing should break: more than whatever an entry could cover. */
function brokenWeight(problem: Problem): number {
  return 100 * (problem.instance.weights.uncoveredSlot + problem.instance.weights.overrunSlot + 1);
}
