import type { RotationInstance } from './instance.ts';

/** Why somebody inside has no way out, in minutes. */
export type NoWayOut =
  | { kind: 'stay'; soFarMinutes: number; mostMinutes: number }
  | { kind: 'duty-end'; dutyEndMinute: number; doneMinute: number }
  | { kind: 'equipment'; leastMinutes: number; mostMinutes: number }
  | { kind: 'entries'; before: number; most: number };

/** Leaving takes at least one slot; everything else has to allow that. */
export function whyNoWayOut(
  { slotMinutes, durations, insideMinutesAllowed, maxOverrunMinutes, perPerson }: RotationInstance,
  person: RotationInstance['workers'][number],
  sinceMinute: number,
): NoWayOut | undefined {
  const stay = slotMinutes - sinceMinute;
  const stayMax = Math.max(...insideMinutesAllowed) + maxOverrunMinutes;
  if (stay > stayMax) return { kind: 'stay', soFarMinutes: -sinceMinute, mostMinutes: stayMax };
  const end = slotMinutes + durations.doffing + durations.postCheck;
  if (person.onDutyToMinute !== null && end > person.onDutyToMinute)
    return { kind: 'duty-end', dutyEndMinute: person.onDutyToMinute, doneMinute: end };
  const equipment = person.minutesInEquipmentSoFar + stay + durations.doffing;
  if (equipment > perPerson.maxMinutesInEquipment)
    return { kind: 'equipment', leastMinutes: equipment, mostMinutes: perPerson.maxMinutesInEquipment };
  if (person.entriesSoFar + 1 > perPerson.maxEntries)
    return { kind: 'entries', before: person.entriesSoFar, most: perPerson.maxEntries };
  return undefined;
}

/** In the words of the file. */
export function noWayOutText(why: NoWayOut): string {
  switch (why.kind) {
    case 'stay':
      return `is inside for ${why.soFarMinutes} minutes already and cannot leave within the longest stay and maxOverrunMinutes (${why.mostMinutes} together)`;
    case 'duty-end':
      return `cannot be out before onDutyToMinute ${why.dutyEndMinute}: doffing and post-check take until minute ${why.doneMinute}`;
    case 'equipment':
      return `comes to at least ${why.leastMinutes} minutes in equipment, more than perPerson.maxMinutesInEquipment (${why.mostMinutes})`;
    case 'entries':
      return `has made ${why.before} entries before this one, and perPerson.maxEntries is ${why.most}`;
    default:
      return why satisfies never;
  }
}
