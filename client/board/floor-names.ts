import type { UnitRules } from '../../machines/unit/state.ts';
import type { LaneId, PersonId, RoomId } from '../../machines/wire/ids.ts';

/** Names of everything that is on the floor: people from the roster, rooms and lanes from the unit's rules. */
export interface FloorNames {
  person: (id: PersonId) => string;
  room: (id: RoomId) => string;
  lane: (id: LaneId) => string;
}

export function floorNames(rules: UnitRules, person: FloorNames['person']): FloorNames {
  const named = <Id extends string>(list: readonly { id: Id; name: string }[]) => {
    const names = new Map(list.map((one) => [one.id, one.name]));
    return (id: Id) => names.get(id) ?? id;
  };
  return { person, room: named(rules.rooms), lane: named(rules.lanes) };
}
