import { setImmediate as nextTurn } from 'node:timers/promises';
import type { ScarceResource } from '../../machines/unit/shortage.ts';
import type { Plan, PlannedBreak, PlannedEntry, RotationInstance } from './instance.ts';
import { LegalPlan, onlyExits } from './legal-plan.ts';
import type { Bound } from './proof/bounds.ts';
import { closedFormBound } from './proof/closed-form.ts';
import { countedShortage, hopelessExits, mostPressed } from './proof/counted-shortage.ts';
import { EnoughSearch, isFullPlan } from './proof/enough-search.ts';
import { Proof, type ProofMessage } from './proof/proof.ts';
import type { FoundShortage, Shortage } from './proof/shortage.ts';
import { slottedOf } from './proof/slotted.ts';
import type { Solver } from './proof/solver.ts';
import { windowShortage } from './proof/window-shortage.ts';
import { PlanSearch, type FoundPlan } from './search.ts';
import type { LaneAway } from './slots.ts';

/** A plan, how good it is, and what is proven about it. */
export interface RotationResult {
  /** `infeasible` is proven: no plan covers everything with everybody out in time. The entries are the best plan found all the same. */
  status: 'planned' | 'infeasible';
  objective: number;
  /** Proven: no plan costs less. */
  lowerBound: number;
  boundSource: Bound['source'];
  /** How far the objective may be from the best possible, in per cent of the objective; 0 means the plan is optimal. */
  gapPct: number;
  seconds: number;
  entries: PlannedEntry[];
  breaks: PlannedBreak[];
  /** Minutes × people missing. */
  uncoveredMinutes: number;
  shortOf?: Shortage;
}

export interface RotationOptions {
  seconds: number;
  seed: number;
  /** Milliseconds from any fixed moment. */
  now: () => number;
  /** Told when the plan or what is proven about it has become better. */
  onProgress?: (soFar: RotationResult) => void;
  /** Asked between two slices of about `sliceMs`: true ends the work with the best so far. */
  shouldStop?: () => boolean;
  /**
   * Uses all of its seconds for the plan, though not everything can be covered, and does not ask what is short: for a unit in which
   * somebody is missing inside now, where the reason is at first only that donning takes its time.
   */
  searchOn?: boolean | undefined;
  /** Goes on looking for a better plan though it is known that not everything can be covered; otherwise that is said at once. */
  allSeconds?: boolean | undefined;
  /** Lanes that are taken at the start. The search plans around them; the bounds do not know them, which only makes the gap larger. */
  lanesAway?: LaneAway[] | undefined;
  /** A solver that has been started already, to be warm by now. It is stopped at the end. */
  solver?: Solver;
}

export const secondsDefault = 10;
export const secondsMax = 600;
/** An answer that not everything can be covered is wanted at once. */
const secondsOfInfeasible = 3.2;
/** And sooner when what is enough has been found. */
const secondsOfDiagnosed = 1.5;
const sliceMs = 40;
const firstSliceMs = 200;

/**
 * Searches for a plan in the caller's thread and proves bounds in a second one, until the time is over or the plan is proven
 * optimal. The caller's thread is busy in slices of about 40 ms: run it in a worker (RotationPlanner) where that matters.
 */
export async function planRotation(instance: RotationInstance, options: RotationOptions): Promise<RotationResult> {
  const work = new RotationWork(instance, options);
  try {
    while (await work.slice());
    return work.result();
  } finally {
    await work.end();
  }
}

class RotationWork {
  private readonly instance: RotationInstance;
  private readonly options: RotationOptions;
  private readonly startMs: number;
  private endMs: number;
  private readonly slotted;
  private readonly search: PlanSearch;
  private readonly proof: Proof;
  private readonly legal: LegalPlan;
  private bound: Bound;
  private isUncoveredForSure = false;
  private shortage: FoundShortage | undefined;
  private enoughSearch: EnoughSearch | undefined;
  private hasNews = true;
  private slices = 0;

  constructor(instance: RotationInstance, options: RotationOptions) {
    this.instance = instance;
    this.options = options;
    this.startMs = options.now();
    this.endMs = this.startMs + options.seconds * 1000;
    this.slotted = slottedOf(instance);
    this.bound = { value: Math.max(0, closedFormBound(this.slotted)), source: 'closed form' };
    this.search = new PlanSearch(instance, { seed: options.seed, lanesAway: options.lanesAway ?? [] });
    this.legal = new LegalPlan(instance);
    this.search.onImproved = (found) => (this.hasNews = this.legal.offer(found) || this.hasNews);
    const counted = options.searchOn
      ? undefined
      : (hopelessExits(instance, this.slotted) ??
        windowShortage(instance, this.slotted) ??
        countedShortage(instance, this.slotted));
    this.proof = new Proof({
      instance,
      slotted: this.slotted,
      counted,
      solver: options.solver,
      secondsLeft: () => (this.endMs - options.now()) / 1000,
      best: () => this.bestKnown(),
      hear: (message) => this.hear(message),
    });
    if (counted) this.takeShortage(counted);
  }

  /** Works for a moment; false when there is nothing left to do. */
  async slice(): Promise<boolean> {
    const { now, shouldStop } = this.options;
    const untilMs = Math.min(this.endMs, now() + (this.slices === 0 ? firstSliceMs : sliceMs));
    // Two turns for the question what would be enough, one for the plan.
    if (this.enoughSearch?.isOver === false && this.slices % 3 !== 0) this.enoughSearch.step(untilMs, now);
    else this.search.step(untilMs, now);
    // The proof asks first whether there is a plan that covers everything: with one, much need not be proven.
    if (this.slices === 0) void this.proof.run();
    this.slices += 1;
    this.tellNews();
    await nextTurn();
    if (this.isInfeasible && this.enoughSearch?.isOver && !this.options.allSeconds)
      this.endMs = Math.min(this.endMs, this.startMs + secondsOfDiagnosed * 1000);
    return now() < this.endMs && !this.isSettled && shouldStop?.() !== true;
  }

  async end(): Promise<void> {
    await this.proof.stop();
  }

  result(): RotationResult {
    const { plan, cost } = this.best;
    const lowerBound = Math.min(this.bound.value, cost.objective);
    const shortOf = this.shortOf();
    return {
      status: this.isInfeasible ? 'infeasible' : 'planned',
      objective: cost.objective,
      lowerBound: rounded(lowerBound),
      boundSource: this.bound.source,
      gapPct: cost.objective === 0 ? 0 : rounded((100 * (cost.objective - lowerBound)) / cost.objective),
      seconds: rounded((this.options.now() - this.startMs) / 1000),
      ...inOrder(plan),
      uncoveredMinutes: cost.uncoveredSlots * this.instance.slotMinutes,
      ...(shortOf ? { shortOf } : {}),
    };
  }

  /** No plan of the search that breaks a rule is told: rather the exits alone. */
  private get best(): FoundPlan {
    if (!this.legal.found) this.legal.offer(this.search.best);
    return this.legal.found ?? onlyExits(this.instance, this.search.best);
  }

  /** Where not even the exits can be in time, the counts have said so. */
  private get isInfeasible(): boolean {
    return this.isUncoveredForSure;
  }

  /** Nothing better is possible, and why something stays uncovered has been told. */
  private get isSettled(): boolean {
    const isOptimal = (this.legal.found?.cost.objective ?? Infinity) <= this.bound.value + 1e-6;
    return isOptimal && (!this.isInfeasible || this.enoughSearch?.isOver === true);
  }

  private shortOf(): Shortage | undefined {
    if (!this.isInfeasible) return undefined;
    const found = this.shortage?.shortage ?? undecided(mostPressed(this.instance, this.slotted));
    const enough = this.enoughSearch?.enough;
    const told = this.legal.found ? found : withLate(found, onlyExits(this.instance, this.search.best).late);
    return enough === undefined ? told : withEnough(told, enough);
  }

  private hear(message: ProofMessage): void {
    this.hasNews = true;
    if (this.options.searchOn && message.kind !== 'bound') return;
    switch (message.kind) {
      case 'bound':
        if (message.bound.value > this.bound.value) this.bound = message.bound;
        return;
      case 'uncovered-for-sure':
        this.knowUncovered();
        return;
      case 'shortage':
        this.takeShortage(message.found);
        return;
      default:
        message satisfies never;
    }
  }

  private knowUncovered(): void {
    this.isUncoveredForSure = true;
    if (!this.options.allSeconds) this.endMs = Math.min(this.endMs, this.startMs + secondsOfInfeasible * 1000);
  }

  private takeShortage(found: FoundShortage): void {
    this.knowUncovered();
    const known = this.enoughSearch?.enough;
    this.shortage = found;
    if (known !== undefined && known === found.shortage.atLeast) return;
    this.enoughSearch = new EnoughSearch(this.instance, this.slotted, found, this.options.seed);
  }

  private bestKnown(): ReturnType<ConstructorParameters<typeof Proof>[0]['best']> {
    const cost = this.legal.found?.cost;
    if (!cost) return { cost: Infinity, isFull: false, largestSlots: undefined };
    const isFull = isFullPlan(this.slotted, cost);
    return { cost: cost.objective, isFull, largestSlots: isFull ? cost.largestPersonSlots : undefined };
  }

  private tellNews(): void {
    if (!this.hasNews) return;
    this.hasNews = false;
    this.options.onProgress?.(this.result());
  }
}

const undecided = (resource: ScarceResource): Shortage => ({
  resource,
  reasons: [{ kind: 'not-found-out', leastToSpare: resource }],
});

const withLate = (shortage: Shortage, workers: string[]): Shortage =>
  workers.length === 0 ? shortage : { ...shortage, reasons: [...shortage.reasons, { kind: 'left-out', workers }] };

const withEnough = (shortage: Shortage, enough: number): Shortage => {
  const { resource, atLeast, reasons } = shortage;
  return { resource, ...(atLeast === undefined ? {} : { atLeast }), enough, reasons };
};

function inOrder({ entries, breaks }: Plan): Plan {
  return {
    entries: [...entries].sort((a, b) => a.donningStartMinute - b.donningStartMinute || a.lane - b.lane),
    breaks: [...breaks].sort((a, b) => a.startMinute - b.startMinute || a.observer - b.observer),
  };
}

const rounded = (value: number): number => Number(value.toFixed(4));
