import type { RotationInstance } from '../instance.ts';

/**
 * At the start of a shift nobody is inside, and donning takes its time: until the first have taken over, a room cannot be covered by
 * any plan. That is no shortage of anything, so it is told apart from what a better plan, or more people, could cover.
 */
export interface FirstCover {
  /** Minutes × people that nobody can cover. */
  minutes: number;
  /** The first minute at which a room without anybody inside can be covered; undefined where everybody needed is inside. */
  fromMinute: number | undefined;
}

export function firstCoverOf({ rooms, inside, durations, horizonMinutes }: RotationInstance): FirstCover {
  const missing = rooms.reduce((sum, { id, staffInside }) => {
    const there = inside.filter(({ room }) => room === id).length;
    return sum + Math.max(0, staffInside - there);
  }, 0);
  const fromMinute = Math.min(horizonMinutes, durations.donning + durations.handover);
  return missing === 0 ? { minutes: 0, fromMinute: undefined } : { minutes: missing * fromMinute, fromMinute };
}

interface Found {
  objective: number;
  lowerBound: number;
  uncoveredMinutes: number;
}

/** The figures of a plan without what no plan could do anything about. */
export function withoutFirst(found: Found, instance: RotationInstance): Found & { gapPct: number } {
  const { minutes } = firstCoverOf(instance);
  const cost = (minutes / instance.slotMinutes) * instance.weights.uncoveredSlot;
  const objective = Math.max(0, found.objective - cost);
  const lowerBound = Math.min(objective, Math.max(0, found.lowerBound - cost));
  return {
    ...{ objective, lowerBound, uncoveredMinutes: Math.max(0, found.uncoveredMinutes - minutes) },
    gapPct: objective === 0 ? 0 : (100 * (objective - lowerBound)) / objective,
  };
}
