import type { RotationInstance } from '../instance.ts';
import type { FoundShortage, Shortage } from './shortage.ts';
import { type Duty, type Ongoing, type Person, type Slotted } from './slotted.ts';

/**
 * What can be told from duty windows alone: a minute at which fewer people can be covering than must, because the others have not
 * come, are not changed yet, or have to be out by the end of their duty. Independent of lanes and observers, so no number of those helps.
 */
export function windowShortage(instance: RotationInstance, slotted: Slotted): FoundShortage | undefined {
  const earliest = Math.min(...slotted.people.map(({ from }) => from)) + slotted.donning + slotted.handover;
  for (let slot = 0; slot < slotted.horizon; slot += 1) {
    const found = slot < earliest ? startShortage(instance, slotted, slot) : peopleShortage(instance, slotted, slot);
    if (found) return found;
  }
  return undefined;
}

/** Until the first newcomers can cover, only those inside do, each in the room where they are. */
function startShortage(instance: RotationInstance, slotted: Slotted, slot: number): FoundShortage | undefined {
  const { donning, handover, people } = slotted;
  for (const room of instance.rooms) {
    const there = slotted.ongoing.filter((one) => one.room === room.id && isCoveredBy(slotted, one, slot)).length;
    if (there >= room.staffInside) continue;
    const first = Math.min(...people.map(({ from }) => from)) + donning + handover;
    const shortage: Shortage = {
      resource: 'workers',
      atLeast: room.staffInside - there,
      reasons: [
        {
          ...{ kind: 'room-empty', room: room.id, staffInside: room.staffInside, there },
          atMinute: slot * instance.slotMinutes,
          newcomersMinute: first * instance.slotMinutes,
        },
      ],
    };
    return { shortage, more: { kind: 'nothing' } };
  }
  return undefined;
}

function peopleShortage(instance: RotationInstance, slotted: Slotted, slot: number): FoundShortage | undefined {
  const able = slotted.people.filter((person) => canCover(slotted, person, slot)).length;
  if (able >= slotted.positions) return undefined;
  return overlapShortage(instance, slotted, slot, able) ?? headcountShortage(instance, slotted, slot, able);
}

/** The duty before has to be out, the duty after cannot be covering yet. */
function overlapShortage(
  instance: RotationInstance,
  { people, donning, handover, doffing, postCheck }: Slotted,
  slot: number,
  able: number,
): FoundShortage | undefined {
  const slotMinutes = instance.slotMinutes;
  const ended = people.filter(({ to }) => to - doffing - postCheck <= slot);
  const coming = people.filter(({ from }) => from + donning + handover > slot);
  if (ended.length === 0 || coming.length === 0) return undefined;
  const dutyEnd = Math.max(...ended.map(({ to }) => to)) * slotMinutes;
  const nextStart = Math.min(...coming.map(({ from }) => from)) * slotMinutes;
  const neededMinutes = (donning + handover + doffing + postCheck) * slotMinutes;
  const overlapMinutes = dutyEnd - nextStart;
  if (able > 0 && overlapMinutes < 0) return undefined;
  const shortage: Shortage = {
    resource: 'duty-overlap',
    atLeast: neededMinutes - overlapMinutes,
    reasons: [
      {
        ...{ kind: 'duties-apart', endMinute: dutyEnd, startMinute: nextStart, overlapMinutes, neededMinutes },
        ...{ fromMinute: slot * slotMinutes, toMinute: nextStart + (donning + handover) * slotMinutes, able },
      },
    ],
  };
  return { shortage, more: { kind: 'earlier-duty', startMinute: nextStart } };
}

function headcountShortage(instance: RotationInstance, slotted: Slotted, slot: number, able: number): FoundShortage {
  const missing = slotted.positions - able;
  const shortage: Shortage = {
    resource: 'workers',
    atLeast: missing,
    reasons: [{ kind: 'too-few-on-duty', atMinute: slot * instance.slotMinutes, wanted: slotted.positions, able }],
  };
  return { shortage, more: { kind: 'workers', byDuty: slotted.duties.map((duty) => spanAt(slotted, duty, slot)) } };
}

/** How long a duty lasts, if its people could be covering in a slot: additional ones are looked for there. */
function spanAt(slotted: Slotted, { from, to }: Duty, slot: number): number {
  const person: Person = { from, to, slotsBefore: 0, entriesBefore: 0, ongoing: undefined };
  return canCover(slotted, person, slot) ? Math.min(to, slotted.horizon) - from : 0;
}

function isCoveredBy(slotted: Slotted, { since, exitMax }: Ongoing, slot: number): boolean {
  return since + slotted.handover <= slot && slot < exitMax;
}

/** Whether somebody can be covering in a slot at all, by the entry they are in or by a new one. */
function canCover(slotted: Slotted, person: Person, slot: number): boolean {
  const { donning, handover, doffing, postCheck, stays, ongoing } = slotted;
  if (person.ongoing !== undefined && isCoveredBy(slotted, ongoing[person.ongoing]!, slot)) return true;
  return stays.some((stay) => {
    const first = Math.max(person.from, slot - donning - stay + 1);
    const last = Math.min(slot - donning - handover, person.to - donning - stay - doffing - postCheck);
    return first <= last;
  });
}
