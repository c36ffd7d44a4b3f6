import type { RotationInstance } from '../instance.ts';
import { proveBounds, type Bound } from './bounds.ts';
import { nonzerosExpected } from './model-goal.ts';
import { findShortage, isUncoveredForSure, type FoundShortage } from './shortage.ts';
import type { Slotted } from './slotted.ts';
import { Solver } from './solver.ts';

export interface ProofSettings {
  instance: RotationInstance;
  slotted: Slotted;
  /** Known by counting to be short: then the solver only looks whether it is short of more than was counted. */
  counted: FoundShortage | undefined;
  /** One that has been started earlier, so that it is warm; it is ended with the work. */
  solver?: Solver | undefined;
  /** Negative or 0 ends the work. */
  secondsLeft: () => number;
  /** The best plan found so far. */
  best: () => { cost: number; isFull: boolean; largestSlots: number | undefined };
  hear: (message: ProofMessage) => void;
}

export type ProofMessage =
  | { kind: 'bound'; bound: Bound }
  /** Proven: no plan covers everything. What is short follows. */
  | { kind: 'uncovered-for-sure' }
  | { kind: 'shortage'; found: FoundShortage };

/** Larger problems only get the closed form: building them alone would take longer than anybody waits. */
const nonzerosMax = 3_000_000;
/** At most so long for the question whether everything can be covered: with fractions of people, and with whole ones. */
const relaxedSecondsMax = 4;
const wholeSecondsMax = 1.5;

/** Proves what can be proven about an instance, the quick things first, and tells each at once. */
export class Proof {
  private readonly settings: ProofSettings;
  private readonly solver: Solver | undefined;
  private isShort: boolean;
  private readonly isTooLarge: boolean;
  private isStopped = false;

  constructor(settings: ProofSettings) {
    this.settings = settings;
    this.isShort = settings.counted !== undefined;
    const isSmall = nonzerosExpected(settings.slotted) <= nonzerosMax;
    this.solver = settings.solver ?? (isSmall ? new Solver() : undefined);
    this.isTooLarge = !isSmall;
  }

  async run(): Promise<void> {
    const { solver, settings } = this;
    if (!solver || this.isTooLarge) return;
    await this.sharpen(solver);
    await this.askWhetherShort(solver, 'nothing', relaxedSecondsMax);
    await proveBounds(settings.slotted, {
      solver,
      secondsLeft: () => this.secondsLeft(),
      onBound: (bound) => settings.hear({ kind: 'bound', bound }),
      bestCost: () => settings.best().cost,
      bestLargest: () => settings.best().largestSlots,
      onRelaxed: () => this.askWhetherShort(solver, 'all', wholeSecondsMax),
    });
  }

  async stop(): Promise<void> {
    this.isStopped = true;
    await this.solver?.stop();
  }

  private secondsLeft(): number {
    return this.isStopped ? 0 : this.settings.secondsLeft();
  }

  /** The same resource by the solver: it sees clashes that counting does not. */
  private async sharpen(solver: Solver): Promise<void> {
    const { counted, instance, slotted, hear } = this.settings;
    if (!counted || counted.more.kind === 'nothing' || counted.more.kind === 'earlier-duty') return;
    const found = await findShortage(instance, slotted, { solver, secondsLeft: () => this.secondsLeft() });
    const [before, now] = [counted.shortage, found.shortage];
    const isMore = now.resource === before.resource && (now.atLeast ?? 0) > (before.atLeast ?? 0);
    if (!this.isStopped && isMore) hear({ kind: 'shortage', found });
  }

  private async askWhetherShort(solver: Solver, whole: 'nothing' | 'all', secondsMax: number): Promise<void> {
    const { instance, slotted, best, hear } = this.settings;
    if (this.isShort || best().isFull || this.secondsLeft() <= 0) return;
    const seconds = Math.min(this.secondsLeft(), secondsMax);
    if (!(await isUncoveredForSure(slotted, { solver, secondsLeft: () => seconds }, whole))) return;
    this.isShort = true;
    hear({ kind: 'uncovered-for-sure' });
    const found = await findShortage(instance, slotted, { solver, secondsLeft: () => this.secondsLeft() });
    if (!this.isStopped) hear({ kind: 'shortage', found });
  }
}
