import { greatestCommonDivisor } from '../common-divisor.ts';
import { closedFormBound, costsByLargest, largestRange } from './closed-form.ts';
import type { Goal } from './model-goal.ts';
import { rotationModel } from './rotation-model.ts';
import type { Solver, Whole } from './solver.ts';
import type { Slotted } from './slotted.ts';

/** What a lower bound on the objective was proven by. */
export type BoundSource =
  | 'closed form'
  | 'relaxation'
  | 'whole entries'
  | 'largest person fixed'
  | 'largest person and entries'
  | 'largest person counted'
  | 'largest person and whole entries';

export interface Bound {
  value: number;
  source: BoundSource;
}

export interface BoundTools {
  solver: Solver;
  /** Seconds left; 0 or less ends the work after the problem being solved. */
  secondsLeft: () => number;
  onBound: (bound: Bound) => void;
  /** The cost of the best plan known, Infinity without one: bounds above it are not looked for. */
  bestCost: () => number;
  /** The largest person's slots in that plan: the proof begins there. */
  bestLargest?: () => number | undefined;
  /** Called when the quick bounds are proven, before the slow ones. */
  onRelaxed?: () => Promise<void>;
}

/**
 * Proves better and better lower bounds on the cost of every plan. The cost is split by the largest person's slots M: it is at
 * least the least, over M, of M's own cost and a bound f(M) on the rest. f never grows with M, so that what is proven for one M
 * also holds for every smaller one. Always the M that holds the total down is looked at next, first with fractions, then with
 * people counted, then with whole entries too.
 */
export async function proveBounds(slotted: Slotted, tools: BoundTools): Promise<void> {
  const climb = new Climb(slotted, tools);
  climb.report('closed form');
  if (!climb.isOver) await climb.relax();
  await tools.onRelaxed?.();
  const hasLargest = slotted.weights.largestPersonSlots > 0;
  if (!climb.isOver && hasLargest) await climb.climb('linear');
  if (!climb.isOver && hasLargest) await climb.climb('total');
  if (!climb.isOver && hasLargest) await climb.climb('counted');
  if (!climb.isOver) await climb.takeLeftOut('all', 'whole entries');
  if (!climb.isOver && hasLargest) await climb.climb('whole');
}

type Depth = 'counting' | 'linear' | 'total' | 'counted' | 'whole';

/** One M: a bound on the cost without M's own part, and what it was got from. */
interface Step {
  bound: number;
  depth: Depth;
}

class Climb {
  value: number;
  private readonly grain: number;
  /** By M, from `first` on. */
  private steps: Step[] = [];
  private readonly first: number;
  /** The M that the relaxation would choose. */
  private likely = 0;
  /** A proof that no plan keeps the rules leaves the bound as it is. */
  private isHopeless = false;

  private readonly slotted: Slotted;
  private readonly tools: BoundTools;

  constructor(slotted: Slotted, tools: BoundTools) {
    this.slotted = slotted;
    this.tools = tools;
    this.grain = grainOf(Object.values(slotted.weights));
    this.value = this.roundedUp(closedFormBound(slotted));
    this.first = largestRange(slotted).first;
  }

  get isOver(): boolean {
    return this.isHopeless || this.tools.secondsLeft() <= 0 || this.value >= this.tools.bestCost() - 1e-6;
  }

  report(source: BoundSource): void {
    this.tools.onBound({ value: this.value, source });
  }

  /** Where a plan says which M is likely, the relaxation with averages is spared: it takes longer than the next steps, and proves less. */
  async relax(): Promise<void> {
    const known = this.tools.bestLargest?.();
    if (known === undefined) await this.relaxWithAverages();
    else this.likely = Math.ceil(known);
    if (this.isHopeless) return;
    const { first, last } = largestRange(this.slotted);
    this.steps = costsByLargest(this.slotted, first, last).map((bound) => ({ bound, depth: 'counting' }));
    this.raise(this.total(), 'closed form');
    if (this.slotted.weights.largestPersonSlots === 0) await this.takeLeftOut('nothing', 'relaxation');
  }

  /** Without regard to who carries how much: holds for every M. */
  async takeLeftOut(whole: 'nothing' | 'all', source: BoundSource): Promise<void> {
    const proven = await this.solve({ kind: 'cost', people: { kind: 'left-out' } }, whole);
    if (proven === undefined) return;
    for (const step of this.steps) step.bound = Math.max(step.bound, proven);
    this.raise(this.total(), source);
  }

  private async relaxWithAverages(): Promise<void> {
    const model = rotationModel(this.slotted, { kind: 'cost', people: { kind: 'average' } });
    const solved = await this.tools.solver.solve(model.linear, { seconds: this.tools.secondsLeft(), whole: 'nothing' });
    if (solved.kind === 'infeasible') this.isHopeless = true;
    if (solved.kind !== 'optimal') return;
    this.raise(solved.bound, 'relaxation');
    this.likely = Math.ceil(solved.values[model.largest!]! - 1e-6);
  }

  async climb(depth: keyof typeof depthWays): Promise<void> {
    while (!this.isOver) {
      const index = this.next(depth);
      if (index === undefined) return;
      const goal: Goal = { kind: 'cost', people: { kind: 'largest', slots: this.first + index } };
      const proven = await this.solve(goal, depthWays[depth].whole);
      this.steps[index]!.depth = depth;
      for (const step of this.steps.slice(0, index + 1)) step.bound = Math.max(step.bound, proven ?? 0);
      this.raise(this.total(), depthWays[depth].source);
    }
  }

  /**
   * The M that holds the total down, if it was not looked at this deeply. While little is known of the others: below every M looked
   * at, the next lower one is taken, because what it proves holds for all lower ones and is as a rule so much that it ends most of
   * them; above, the highest of all, because what that one proves holds for all.
   */
  private next(depth: Depth): number | undefined {
    const lowest = this.lowest();
    if (lowest === undefined || !isDeeper(depth, this.steps[lowest]!.depth)) return undefined;
    if (depth !== 'linear') return lowest;
    const isLooked = (step: Step): boolean => !isDeeper(depth, step.depth);
    const looked = this.steps.findIndex(isLooked);
    const highest = this.steps.length - 1;
    if (looked < 0) return Math.max(lowest, Math.min(this.likely - this.first, highest));
    if (lowest < looked) return looked - 1;
    return lowest > this.steps.findLastIndex(isLooked) ? highest : lowest;
  }

  /** Of equal ones the nearest to the likely M. */
  private lowest(): number | undefined {
    let found: number | undefined;
    const distance = (index: number): number => Math.abs(this.first + index - this.likely);
    for (const index of this.steps.keys()) {
      const difference = found === undefined ? -1 : this.ofStep(index) - this.ofStep(found);
      if (difference < -1e-9 || (difference <= 1e-9 && distance(index) < distance(found!))) found = index;
    }
    return found;
  }

  private ofStep(index: number): number {
    return this.roundedUp(this.steps[index]!.bound) + this.slotted.weights.largestPersonSlots * (this.first + index);
  }

  private total(): number {
    const lowest = this.lowest();
    return lowest === undefined ? 0 : this.ofStep(lowest);
  }

  private raise(bound: number, source: BoundSource): void {
    const value = this.roundedUp(bound);
    if (!Number.isFinite(value) || value <= this.value + 1e-9) return;
    this.value = value;
    this.report(source);
  }

  /** Infinity: there is no such plan. undefined: nothing was proven. */
  private async solve(goal: Goal, whole: Whole): Promise<number | undefined> {
    const { linear } = rotationModel(this.slotted, goal);
    const absoluteGap = Math.max(1e-6, 0.4 * this.grain);
    const solved = await this.tools.solver.solve(linear, { seconds: this.tools.secondsLeft(), whole, absoluteGap });
    return solved.kind === 'infeasible' ? Infinity : solved.bound;
  }

  /** Costs are whole multiples of the weights' common grain, so a bound may be lifted to the next one. */
  private roundedUp(bound: number): number {
    if (this.grain === 0 || !Number.isFinite(bound)) return bound;
    return Number((Math.ceil(bound / this.grain - 1e-7) * this.grain).toFixed(6));
  }
}

const depthWays = {
  linear: { whole: 'nothing', source: 'largest person fixed' },
  total: { whole: 'total', source: 'largest person and entries' },
  counted: { whole: 'counts', source: 'largest person counted' },
  whole: { whole: 'all', source: 'largest person and whole entries' },
} as const satisfies Record<string, { whole: Whole; source: BoundSource }>;

const depths: readonly Depth[] = ['counting', 'linear', 'total', 'counted', 'whole'];
const isDeeper = (one: Depth, other: Depth): boolean => depths.indexOf(one) > depths.indexOf(other);

/** The largest number of which all weights are whole multiples; 0 when there is none worth using. */
function grainOf(weights: readonly number[]): number {
  const scale = 10_000;
  const scaled = weights.map((weight) => Math.round(weight * scale));
  if (weights.some((weight, index) => Math.abs(weight * scale - scaled[index]!) > 1e-6)) return 0;
  return scaled.reduce(greatestCommonDivisor, 0) / scale;
}
