import type { Roster } from './roster.ts';

/** What a plan costs, in slots of the instance, and the weighted sum. */
export interface PlanCost {
  objective: number;
  uncoveredSlots: number;
  overrunSlots: number;
  /** Ongoing ones too. */
  entries: number;
  largestPersonSlots: number;
  allLanesBusySlots: number;
}

export function costOfRoster(roster: Roster): PlanCost {
  const { weights, slotMinutes } = roster.problem.instance;
  const share = roster.problem.slotShare;
  const parts = {
    uncoveredSlots: clean(share * uncoveredByRoom(roster)),
    overrunSlots: roster.overrunMinutes / slotMinutes,
    entries: roster.entries,
    largestPersonSlots: roster.wearMax / slotMinutes,
    allLanesBusySlots: clean(share * roster.fullSlots),
  };
  const objective =
    weights.uncoveredSlot * parts.uncoveredSlots +
    weights.overrunSlot * parts.overrunSlots +
    weights.entry * parts.entries +
    weights.largestPersonSlots * parts.largestPersonSlots +
    weights.allLanesBusySlot * parts.allLanesBusySlots;
  return { objective: clean(objective), ...parts };
}

/** Weights like 0.05 leave dust behind, which would make equal plans differ. */
function clean(cost: number): number {
  return Math.round(cost * 1e6) / 1e6;
}

/** Counted per room: somebody more than one position needs may stand in for another of the same room. */
function uncoveredByRoom({ problem, chains }: Roster): number {
  let missing = 0;
  for (const room of problem.instance.rooms) {
    const there = new Int16Array(problem.slots);
    for (const entry of chains.flat()) {
      if (problem.positions[entry.position]!.room !== room.id) continue;
      const to = Math.min(entry.exit, problem.slots);
      for (let slot = entry.coverFrom; slot < to; slot++) there[slot]! += 1;
    }
    for (const count of there) missing += Math.max(0, room.staffInside - count);
  }
  return missing;
}
