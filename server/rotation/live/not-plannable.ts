import type { NoWayOut } from '../no-way-out.ts';
import type { RotationRefusal } from '../read-instance.ts';

/**
 * Why the unit as it is now can't be planned, for whoever asked on a screen: without ids and without minutes of the instance, which
 * only the planner knows. People have no names here; the sentence says what is in the way, the board shows who is inside.
 */
export function notPlannableSentence({ code, message, noWayOut }: RotationRefusal): string {
  if (noWayOut) return `Somebody inside now can't be planned. ${noWayOutSentence(noWayOut)}`;
  switch (code) {
    case 'rotation/too-large':
      return 'So many people over so many hours are too much for one plan. Ask for fewer hours.';
    // What is left names a setting of the unit's file by its field, for the lead to look at.
    default:
      return `The unit can't be planned: ${message}.`;
  }
}

function noWayOutSentence(why: NoWayOut): string {
  switch (why.kind) {
    case 'stay':
      return `They have been inside for ${why.soFarMinutes} min already; a plan may keep nobody inside past ${why.mostMinutes} min, overrun included.`;
    case 'duty-end':
      return `Doffing and check would end ${why.doneMinute - why.dutyEndMinute} min after the end of their duty.`;
    case 'equipment':
      return `They would come to ${why.leastMinutes} min in equipment, and the day allows ${why.mostMinutes} min.`;
    case 'entries':
      return `This is entry ${why.before + 1} of their day, and the day allows ${why.most}.`;
    default:
      return why satisfies never;
  }
}
