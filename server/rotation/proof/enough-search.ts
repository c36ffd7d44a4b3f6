import type { PlanCost } from '../cost.ts';
import type { RotationInstance } from '../instance.ts';
import { PlanSearch } from '../search.ts';
import { enlarged } from './enlarged.ts';
import type { FoundShortage, More } from './shortage.ts';
import { overrunSlotsForced, type Slotted } from './slotted.ts';

/** Looks for the least enlargement for which a plan covering everything is found: one amount after the other, each for a while, then smaller ones longer. */
export class EnoughSearch {
  /** So much more is enough, if that was found. */
  enough: number | undefined;
  private readonly instance: RotationInstance;
  private readonly slotted: Slotted;
  private readonly more: More;
  private readonly seed: number;
  private amount: number;
  private readonly amountMin: number;
  private search: PlanSearch | undefined;
  private spentMs = 0;
  private round = 0;

  constructor(instance: RotationInstance, slotted: Slotted, { shortage, more }: FoundShortage, seed: number) {
    this.instance = instance;
    this.slotted = slotted;
    this.more = more;
    this.seed = seed;
    this.amountMin = shortage.atLeast ?? stepOf(more, instance);
    this.amount = this.amountMin;
  }

  /** Nothing less is possible, or often enough tried. */
  get isOver(): boolean {
    return this.more.kind === 'nothing' || this.enough === this.amountMin || this.round > roundsMax;
  }

  step(untilMs: number, now: () => number): void {
    if (this.isOver) return;
    const startMs = now();
    this.search ??= new PlanSearch(enlarged(this.instance, this.slotted, this.more, this.amount), {
      seed: this.seed + this.round,
    });
    this.search.step(untilMs, now);
    this.spentMs += now() - startMs;
    const isFull = isFullPlan(this.slotted, this.search.best.cost);
    if (isFull) this.enough = this.amount;
    if (isFull || this.spentMs > amountMs * 2 ** this.round) this.goOn(isFull);
  }

  /** The next amount; after one that is enough, or after the last, all smaller ones again and for longer. */
  private goOn(isFull: boolean): void {
    this.search = undefined;
    this.spentMs = 0;
    const step = stepOf(this.more, this.instance);
    const last = this.enough === undefined ? this.amountMin + amountsMax * step : this.enough - step;
    this.amount += step;
    if (!isFull && this.amount <= last) return;
    this.amount = this.amountMin;
    this.round += 1;
  }
}

/** Covers everything, and nobody overruns who could have been relieved. */
export function isFullPlan(slotted: Slotted, { uncoveredSlots, overrunSlots }: PlanCost): boolean {
  return uncoveredSlots === 0 && overrunSlots <= overrunSlotsForced(slotted) + 1e-9;
}

/** Search time for one amount before the next is tried; doubled with each round. */
const amountMs = 800;
const amountsMax = 12;
const roundsMax = 4;
const stepOf = (more: More, instance: RotationInstance): number =>
  more.kind === 'earlier-duty' ? instance.slotMinutes : 1;
