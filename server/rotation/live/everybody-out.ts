import type { RotationInstance } from '../instance.ts';
import type { LaneAway } from '../slots.ts';

/**
 * Whoever is inside has to come out, whatever rule says that it is too late, and with several due at once they wait for each other at
 * the lanes. Where that takes longer than the unit lets anybody overrun, the planner is allowed as much more; but then a slot of
 * overrun costs more than an uncovered one, so that nobody is planned to stay that long to cover a room. Somebody who has been inside
 * for longer than any plan would have them, or past what the day allows, is counted as just able to leave with the next slot.
 */
export function letEverybodyOut(instance: RotationInstance, lanesAway: readonly LaneAway[]) {
  const { durations, perPerson, insideMinutesAllowed, inside, workers, slotMinutes, weights } = instance;
  const { maxMinutesInEquipment, maxEntries } = perPerson;
  const longest = Math.max(...insideMinutesAllowed) + instance.maxOverrunMinutes;
  const more = Math.max(0, overrunOfRow(instance, lanesAway) - instance.maxOverrunMinutes);
  if (more > 0) {
    instance.maxOverrunMinutes += more;
    instance.weights = { ...weights, overrunSlot: Math.max(weights.overrunSlot, 2 * weights.uncoveredSlot) };
  }
  const dayLeft = maxMinutesInEquipment - durations.doffing - more;
  const longestSoFar = Math.max(0, Math.min(longest, dayLeft) - slotMinutes);
  for (const one of inside) {
    one.sinceMinute = Math.max(one.sinceMinute, -longestSoFar);
    const worker = workers.find(({ id }) => id === one.worker);
    if (!worker) continue;
    const thisTime = slotMinutes - one.sinceMinute + durations.doffing + more;
    worker.minutesInEquipmentSoFar = Math.max(
      0,
      Math.min(worker.minutesInEquipmentSoFar, maxMinutesInEquipment - thisTime),
    );
    worker.entriesSoFar = Math.min(worker.entriesSoFar, maxEntries - 1);
  }
}

/** Minutes of the longest overrun when all leave one after the other, whoever is inside longest first, and one turn to spare. */
function overrunOfRow(instance: RotationInstance, lanesAway: readonly LaneAway[]): number {
  const { inside, lanes, observers, durations, insideMinutesAllowed, slotMinutes } = instance;
  const turn = durations.doffing + durations.turnover;
  const places = Math.min(lanes, observers);
  if (places === 0) return 0;
  const freeAt = Array.from({ length: lanes }, (_, lane) => {
    const until = lanesAway.filter((away) => away.lane === lane).map(({ toMinute }) => toMinute);
    return Math.max(slotMinutes, ...until);
  }).sort((one, other) => one - other);
  freeAt.length = places;
  let overrun = 0;
  for (const since of inside.map(({ sinceMinute }) => sinceMinute).sort((one, other) => one - other)) {
    const exit = freeAt.shift()!;
    overrun = Math.max(overrun, exit - since - Math.max(...insideMinutesAllowed));
    freeAt.push(exit + turn);
    freeAt.sort((one, other) => one - other);
  }
  return overrun > instance.maxOverrunMinutes ? overrun + turn : overrun;
}
