import type { RotationInstance } from '../instance.ts';
import type { LaneAway } from '../slots.ts';

/**
 * Whoever is inside has to come out, whatever rule says that it is too late, and with several due at once they wait for each other at
 * the lanes. So for the planner everybody may overrun by as long as that can take, the last in the row too; it costs all the same.
 * Somebody who has been inside for longer than any plan would have them, or past what the day allows, is counted as just able to
 * leave with the next slot.
 */
export function letEverybodyOut(instance: RotationInstance, lanesAway: readonly LaneAway[]) {
  const { durations, perPerson, insideMinutesAllowed, inside, workers, lanes, slotMinutes } = instance;
  const { maxMinutesInEquipment, maxEntries } = perPerson;
  const longest = Math.max(...insideMinutesAllowed) + instance.maxOverrunMinutes;
  const turns = Math.ceil(inside.length / Math.max(1, lanes));
  const queue =
    Math.max(0, ...lanesAway.map(({ toMinute }) => toMinute)) + turns * (durations.doffing + durations.turnover);
  if (inside.length > 0) instance.maxOverrunMinutes += queue;
  const dayLeft = maxMinutesInEquipment - durations.doffing - queue;
  const longestSoFar = Math.max(0, Math.min(longest, dayLeft) - slotMinutes);
  for (const one of inside) {
    one.sinceMinute = Math.max(one.sinceMinute, -longestSoFar);
    const worker = workers.find(({ id }) => id === one.worker);
    if (!worker) continue;
    const thisTime = slotMinutes - one.sinceMinute + durations.doffing + queue;
    worker.minutesInEquipmentSoFar = Math.max(
      0,
      Math.min(worker.minutesInEquipmentSoFar, maxMinutesInEquipment - thisTime),
    );
    worker.entriesSoFar = Math.min(worker.entriesSoFar, maxEntries - 1);
  }
}
