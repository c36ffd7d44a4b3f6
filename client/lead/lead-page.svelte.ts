import type { Procedure } from '../../machines/procedure/procedure.ts';
import { nextVersion } from '../../machines/unit/decide-procedures.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { ProcedureId } from '../../machines/wire/ids.ts';
import type { ReportAnswer } from '../../machines/wire/messages.ts';
import type { LiveUnit } from '../state/live-unit.svelte.ts';
import type { Screen } from '../state/screen.svelte.ts';
import { askLearned, askProcedure, askVersions, type Learned, type Version } from './ask.ts';

export const leadPages = ['read', 'compare', 'edit', 'training', 'card'] as const;
export type LeadPageName = (typeof leadPages)[number];

/** The lead's screen: which procedure and version is looked at, in which way, and what the record says of it. */
export class LeadPage {
  readonly screen: Screen;
  readonly live: LiveUnit;
  #versions = $state.raw<readonly Version[]>([]);
  #learned = $state.raw<Learned | undefined>(undefined);
  #failure = $state<string | undefined>(undefined);
  #chosen = $state<ProcedureId | undefined>(undefined);
  #version = $state<number | undefined>(undefined);
  #page = $state<LeadPageName>('read');
  private readonly known: Record<string, Promise<Procedure>> = {};

  constructor(screen: Screen, live: LiveUnit) {
    this.screen = screen;
    this.live = live;
  }

  get unit() {
    return this.screen.here.unit;
  }

  get state(): UnitState {
    const state = this.live.confirmed;
    if (!state) throw new Error('the lead page is shown before the unit is known');
    return state;
  }

  get versions(): readonly Version[] {
    return this.#versions;
  }

  get learned(): Learned | undefined {
    return this.#learned;
  }

  get failure(): string | undefined {
    return this.#failure;
  }

  get chosen(): ProcedureId | undefined {
    return this.#chosen;
  }

  get page(): LeadPageName {
    return this.#page;
  }

  /** Procedures the unit goes by, each in its adopted version. */
  readonly adopted = $derived.by(() =>
    this.#versions.filter((one) => one.adopted).sort((one, other) => (one.title < other.title ? -1 : 1)),
  );
  /** All versions of the chosen procedure, the newest first. */
  readonly ofChosen = $derived.by(() =>
    this.#versions.filter((one) => one.id === this.chosen).sort((one, other) => other.version - one.version),
  );
  /** The version that is looked at. */
  readonly shown = $derived.by(
    () =>
      this.ofChosen.find((one) => one.version === this.#version) ??
      this.ofChosen.find((one) => one.adopted) ??
      this.ofChosen[0],
  );

  /** Reads the record again: at the beginning, and whenever the unit has adopted something. */
  async read(): Promise<void> {
    try {
      this.#versions = await askVersions(this.unit);
      // Chosen once: what others adopt meanwhile must not change what is being looked at.
      this.#chosen ??= this.adopted[0]?.id;
      this.#learned = await askLearned(this.unit);
      this.#failure = undefined;
    } catch (error) {
      this.#failure = (error as Error).message;
    }
  }

  choose(id: ProcedureId): void {
    this.#chosen = id;
    this.#version = undefined;
  }

  look(version: number): void {
    this.#version = version;
  }

  open(page: LeadPageName): void {
    this.#page = page;
  }

  /** A version never changes, so it is asked for once. */
  procedure({ id, version }: Pick<Version, 'id' | 'version'>): Promise<Procedure> {
    return (this.known[`${id}@${version}`] ??= askProcedure(this.unit, id, version));
  }

  nameOf(person: string): string {
    return this.screen.people.find((one) => one.id === person)?.name ?? person;
  }

  /** The lowest number that a new version of this procedure may have. */
  next(procedure: Pick<Procedure, 'id'>): number {
    const onRecord = this.#versions.filter((one) => one.id === procedure.id).map((one) => one.version);
    return Math.max(nextVersion(this.state, procedure), ...onRecord.map((version) => version + 1));
  }

  isNew({ id }: Pick<Procedure, 'id'>): boolean {
    return this.state.adopted[id] === undefined;
  }

  async adopt(procedure: Procedure, override?: string): Promise<ReportAnswer> {
    const data = { procedure, ...(override !== undefined && { override }) };
    const answer = await this.live.report('adopt-procedure', data);
    if (answer.accepted) {
      await this.read();
      this.look(procedure.version);
    }
    return answer;
  }
}
