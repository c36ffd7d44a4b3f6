import type { PersonId } from '../../machines/wire/ids.ts';
import type { Role } from '../../machines/wire/rights.ts';
import { deviceFor, rememberedPerson, rememberPerson, type Here, type RosterPerson } from './identity.ts';
import { LiveUnit } from './live-unit.svelte.ts';

/** One screen: what it is for, who is at it, and the live unit once somebody is. A new person means a new link. */
export class Screen {
  readonly role: Role;
  readonly here: Here;
  readonly people: readonly RosterPerson[];
  #person = $state<PersonId | undefined>(undefined);
  #live = $state.raw<LiveUnit | undefined>(undefined);

  constructor(role: Role, here: Here, people: readonly RosterPerson[]) {
    this.role = role;
    this.here = here;
    this.people = people;
    const remembered = rememberedPerson(role, new URLSearchParams(location.search));
    this.choose(this.candidates.find((one) => one.id === remembered)?.id);
  }

  /** The live unit, once somebody is at the screen; a wall needs nobody. */
  get live(): LiveUnit | undefined {
    return this.#live;
  }

  get person(): PersonId | undefined {
    return this.#person;
  }

  /** People whose roster entry has this screen's role. */
  get candidates(): readonly RosterPerson[] {
    return this.people.filter((one) => one.roles.includes(this.role));
  }

  choose(person: PersonId | undefined): void {
    rememberPerson(this.role, person);
    this.#person = person;
    this.#live = person || this.role === 'wall' ? this.open(person) : undefined;
  }

  nameOf(id: PersonId | undefined): string {
    return this.people.find((one) => one.id === id)?.name ?? id ?? '';
  }

  private open(person: PersonId | undefined): LiveUnit {
    const device = deviceFor(this.role, new URLSearchParams(location.search));
    return new LiveUnit({ unit: this.here.unit, device, role: this.role, ...(person && { person }) });
  }
}
