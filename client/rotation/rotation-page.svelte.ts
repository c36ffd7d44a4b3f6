import type { AdoptedRotation, PlannedTrip, Rotation } from '../../machines/unit/rotation.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { Asked } from '../heat/ask.ts';
import type { LiveUnit } from '../state/live-unit.svelte.ts';
import { words } from '../words/words.ts';
import { RotationApi, type PlanAnswer, type RepairAnswer } from './answers.ts';
import { edited, noEdits, stayingTrips, whatIsLeft, type Edits } from './editing.ts';
import { offerAfter, offerKey } from './offer.ts';
import { readTyped, typedAtFirst, type Typed } from './question.ts';

const followEveryMs = 500;
const repairEveryMs = 3_000;

/**
 * What is open on the page of the rotation: what is asked, the plan that is being made or was made, what was changed on it by hand, and
 * the repair that is offered. A plan hides the adopted rotation until it is adopted or put away.
 */
export class RotationPageState {
  typed: Typed = $state.raw() as Typed;
  edits: Edits = $state.raw(noEdits);
  chosen: string | undefined = $state();
  #plan: PlanAnswer | undefined = $state.raw();
  #repair: RepairAnswer | undefined = $state.raw();
  #better: RepairAnswer | undefined = $state.raw();
  #dropped: AdoptedRotation | undefined = $state.raw();
  #left: string | undefined = $state();
  #problem: string | undefined = $state();
  #isAsking = $state(false);
  #isAdopting = $state(false);
  private readonly live: LiveUnit;
  private readonly api: RotationApi;
  private followed: string | undefined;
  private closed = false;
  private timer: ReturnType<typeof setTimeout> | undefined;

  constructor(live: LiveUnit, state: UnitState) {
    this.live = live;
    this.api = new RotationApi(live.identity.unit);
    this.typed = typedAtFirst(state);
  }

  /** Follows a plan that is being made already, and asks for repairs now and then. Returns what ends both. */
  start(): () => void {
    void this.api.planning().then((id) => id !== undefined && !this.followed && this.follow(id));
    void this.askRepair();
    const repairs = setInterval(() => void this.askRepair(), repairEveryMs);
    return () => {
      this.closed = true;
      clearInterval(repairs);
      clearTimeout(this.timer);
    };
  }

  get plan(): PlanAnswer | undefined {
    return this.#plan;
  }

  get problem(): string | undefined {
    return this.#problem;
  }

  get isPlanning(): boolean {
    return this.#isAsking || this.#plan?.status === 'planning';
  }

  get isAdopting(): boolean {
    return this.#isAdopting;
  }

  /** The repair that is offered, unless this very one has been left. */
  get repair(): RepairAnswer | undefined {
    const repair = this.#repair;
    return repair?.needed && offerKey(repair) !== this.#left ? repair : undefined;
  }

  /** Another one for the same facts has come since: the offer does not change under somebody's finger. */
  get hasBetter(): boolean {
    return this.#better !== undefined;
  }

  showBetter(): void {
    if (this.#better) this.#repair = this.#better;
    this.#better = undefined;
  }

  private readonly adopted = $derived.by((): Rotation | undefined => {
    const adopted = this.live.confirmed?.rotation;
    if (!adopted) return undefined;
    const { adoptedAt: _at, real: _real, ...rotation } = adopted;
    return rotation;
  });

  /** The plan as it came: the one that was made last, else the adopted rotation. */
  readonly base = $derived<Rotation | undefined>(this.#plan?.rotation ?? this.adopted);

  /** With what was changed by hand. */
  readonly shown = $derived(this.base && edited(this.base, this.edits));

  readonly isEdited = $derived(Object.keys(this.edits.moves).length + Object.keys(this.edits.locks).length > 0);

  staying(now: number): PlannedTrip[] {
    const procedure = this.typed.procedure;
    return this.shown && procedure ? stayingTrips(this.shown, this.edits, procedure, now) : [];
  }

  async ask(now: number): Promise<void> {
    const read = readTyped(this.typed);
    if (!read.ok || this.isPlanning) return;
    this.#isAsking = true;
    this.#problem = undefined;
    const asked = await this.api.plan({ ...read.question, locked: this.staying(now) });
    this.#isAsking = false;
    if (asked.is !== 'answered') return this.fail(asked);
    this.#plan = undefined;
    this.clearEdits();
    this.follow(asked.answer.id);
  }

  /** Ends the planning; its best so far stays. */
  async cancel(): Promise<void> {
    if (!this.followed) return;
    const asked = await this.api.cancel(this.followed);
    if (asked.is === 'answered') this.#plan = asked.answer;
    else this.fail(asked);
  }

  /** Back to the adopted rotation. */
  discard(): void {
    this.followed = undefined;
    this.#plan = undefined;
    this.#problem = undefined;
    this.clearEdits();
  }

  async adopt(rotation: Rotation): Promise<void> {
    if (this.#isAdopting) return;
    this.#isAdopting = true;
    const answer = await this.live.report('adopt-rotation', { rotation });
    this.#isAdopting = false;
    if (!answer.accepted) return;
    this.discard();
    void this.askRepair();
  }

  /** Withdraws the adopted rotation. It is kept here so that it can be had back while the page is open. */
  async drop(reason: string): Promise<void> {
    const adopted = this.live.confirmed?.rotation;
    if (this.#isAdopting || !adopted) return;
    this.#isAdopting = true;
    const answer = await this.live.report('drop-rotation', { reason });
    this.#isAdopting = false;
    if (!answer.accepted) return;
    this.#dropped = adopted;
    this.#repair = undefined;
    this.clearEdits();
  }

  /** What is left of what was withdrawn here, while nothing else has been adopted since and its time is not over. */
  dropped(now: number): Rotation | undefined {
    const dropped = this.#dropped;
    if (!dropped || this.adopted || now >= dropped.endAt) return undefined;
    const left = whatIsLeft(dropped, now);
    return left.trips.length > 0 ? left : undefined;
  }

  leaveRepair(): void {
    if (this.#repair) this.#left = offerKey(this.#repair);
  }

  private clearEdits(): void {
    this.edits = noEdits;
    this.chosen = undefined;
  }

  private follow(id: string): void {
    this.followed = id;
    void this.look(id);
  }

  private async look(id: string): Promise<void> {
    const asked = await this.api.planSoFar(id);
    if (this.closed || this.followed !== id) return;
    if (asked.is === 'refused') return this.fail(asked);
    if (asked.is === 'answered') this.#plan = asked.answer;
    if (asked.is === 'answered' && asked.answer.status !== 'planning') return;
    this.timer = setTimeout(() => void this.look(id), followEveryMs);
  }

  private async askRepair(): Promise<void> {
    if (!this.live.confirmed?.rotation) {
      this.#repair = undefined;
      this.#better = undefined;
      return;
    }
    const asked = await this.api.repair();
    if (asked.is === 'answered') this.hearRepair(asked.answer);
  }

  private hearRepair(answer: RepairAnswer): void {
    const { shown, better } = offerAfter(this.repair, answer);
    this.#repair = shown;
    this.#better = better;
  }

  private fail(asked: Asked<unknown>): void {
    this.#problem = asked.is === 'refused' ? asked.sentence : words.rotation.failed;
  }
}
