import { deviceId, personId, unitId, type DeviceId, type PersonId, type UnitId } from '../../machines/wire/ids.ts';
import type { Role } from '../../machines/wire/rights.ts';

/**
 * Who this screen is. The device id is made once per browser and screen and stays; `?device=2` gives a second screen in the
 * same browser an id of its own. The person is chosen on the screen (or by `?as=`) and may change.
 */
export function deviceFor(role: Role, search: URLSearchParams): DeviceId {
  const suffix = search.get('device') ?? '1';
  const key = `anteroom.device.${role}.${suffix}`;
  const known = localStorage.getItem(key);
  if (known && deviceId.safeParse(known).success) return known as DeviceId;
  const short: Record<Role, string> = {
    coordinator: 'board',
    observer: 'tablet',
    'safety-officer': 'safety',
    lead: 'lead',
    wall: 'wall',
  };
  const made = `${short[role]}-${randomId()}` as DeviceId;
  localStorage.setItem(key, made);
  return made;
}

/** Works over plain http too, where crypto.randomUUID does not exist. */
function randomId(): string {
  return [...crypto.getRandomValues(new Uint8Array(8))].map((byte) => byte.toString(36).padStart(2, '0')).join('');
}

const personKey = (role: Role): string => `anteroom.person.${role}`;

export function rememberedPerson(role: Role, search: URLSearchParams): PersonId | undefined {
  const found = personId.safeParse(search.get('as') ?? sessionStorage.getItem(personKey(role)) ?? '');
  return found.success ? found.data : undefined;
}

export function rememberPerson(role: Role, person: PersonId | undefined): void {
  if (person) sessionStorage.setItem(personKey(role), person);
  else sessionStorage.removeItem(personKey(role));
}

export interface Here {
  unit: UnitId;
  name: string;
  drill: boolean;
  addresses: string[];
}

export interface RosterPerson {
  id: PersonId;
  name: string;
  roles: string[];
}

/** Which unit this server serves, and who its people are. Names are here and nowhere in the log. */
export async function askHere(): Promise<{ here: Here; people: RosterPerson[] }> {
  const here = (await (await fetch('/api/here')).json()) as Here;
  const unit = unitId.parse(here.unit);
  const { people } = (await (await fetch(`/api/units/${unit}/roster`)).json()) as { people: RosterPerson[] };
  return { here, people };
}
