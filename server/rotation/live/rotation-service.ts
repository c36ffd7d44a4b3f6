import { randomUUID } from 'node:crypto';
import type { Logger } from 'pino';
import type { UnitState } from '../../../machines/unit/state.ts';
import type { Clock } from '../../clock.ts';
import type { RotationResult } from '../plan-rotation.ts';
import { RotationPlanner, type PlannerOutcome } from '../planner.ts';
import { firstCoverOf } from './first-cover.ts';
import { readAsk, type AskRefusal, type Plannable, type PlanAsk } from './plan-ask.ts';
import { SearchThread, type PlanSearcher } from './search-thread.ts';
import type { Found } from './search-work.ts';

export type PlanStatus = 'planning' | 'finished' | 'cancelled' | 'failed';

/** One planning: what was asked of which unit at which moment, and what has come of it so far. */
export interface KeptPlan extends Plannable {
  id: string;
  ask: PlanAsk;
  state: UnitState;
  /** Milliseconds. */
  askedAt: number;
  endedAt?: number;
  status: PlanStatus;
  /** What is proven, and the best plan of the planner, which knows nothing of locked trips. */
  result?: RotationResult;
  /** The best plan around what is locked; absent where nothing is. */
  around?: Found;
}

export type PlanStarted = { ok: true; id: string } | { ok: false; refusal: AskRefusal };

const plansKept = 8;
/** Past its budget by so much, a planning is taken to hang. */
const graceMs = 15_000;
const planSeed = 1;

interface ServiceParts {
  state: () => UnitState;
  clock: Clock;
  logger: Logger;
  planner?: RotationPlanner;
  searcher?: PlanSearcher;
}

/**
 * The plans of one unit: one is made at a time, each within its budget, and the last few are kept for whoever asks. It changes nothing in the
 * unit: a plan becomes the rotation when a coordinator reports that it is adopted.
 *
 * Where trips are locked, a search around them runs beside the planner. What the planner proves about the free problem (a bound, that
 * something is short) holds for the narrower one too: locking only takes plans away.
 */
export class RotationService {
  private readonly parts: ServiceParts;
  private readonly planner: RotationPlanner;
  private readonly searcher: PlanSearcher;
  private readonly plans = new Map<string, KeptPlan>();
  private stopTimer: () => void = () => undefined;

  constructor(parts: ServiceParts) {
    this.parts = parts;
    this.planner = parts.planner ?? new RotationPlanner();
    this.searcher = parts.searcher ?? new SearchThread();
  }

  get all(): readonly KeptPlan[] {
    return [...this.plans.values()];
  }

  find(id: string): KeptPlan | undefined {
    return this.plans.get(id);
  }

  start(ask: PlanAsk): PlanStarted {
    const state = this.parts.state();
    const askedAt = this.parts.clock.now();
    const read = readAsk(state, ask, askedAt);
    if (!read.ok) return read;
    if (this.all.some(({ status }) => status === 'planning')) return { ok: false, refusal: busy };
    const { problem, notKept } = read;
    const plan: KeptPlan = { id: randomUUID(), ask, state, askedAt, status: 'planning', problem, notKept };
    this.keep(plan);
    void this.work(plan);
    return { ok: true, id: plan.id };
  }

  /** Ends the planning and keeps its best so far. One that has ended already stays as it is. */
  cancel(plan: KeptPlan): void {
    if (plan.status !== 'planning') return;
    const best = this.planner.cancel();
    this.searcher.cancel();
    if (best) plan.result = best;
    this.end(plan, 'cancelled');
  }

  async close(): Promise<void> {
    for (const plan of this.all) this.cancel(plan);
    this.stopTimer();
    await Promise.all([this.planner.close(), this.searcher.close()]);
  }

  private keep(plan: KeptPlan): void {
    this.plans.set(plan.id, plan);
    const [oldest] = this.plans.keys();
    if (this.plans.size > plansKept && oldest !== undefined) this.plans.delete(oldest);
  }

  private async work(plan: KeptPlan): Promise<void> {
    const { seconds } = plan.ask;
    this.stopTimer = this.parts.clock.setTimer(seconds * 1000 + graceMs, () => void this.giveUp(plan));
    const onProgress = (soFar: RotationResult) => this.note(plan, { result: soFar });
    const { instance, lanesAway } = plan.problem;
    const searchOn = firstCoverOf(instance).fromMinute !== undefined;
    const how = { seconds, seed: planSeed, searchOn, lanesAway, allSeconds: true };
    const [outcome, around] = await Promise.all([
      this.planner.start(instance, { ...how, onProgress }),
      this.searchAround(plan),
    ]);
    if (plan.status !== 'planning') return;
    const why = failureOf(outcome) ?? around;
    if (outcome.kind !== 'failed' && outcome.result) plan.result = outcome.result;
    if (why !== undefined) this.parts.logger.error({ why }, 'a rotation could not be planned');
    this.end(plan, why === undefined ? 'finished' : 'failed');
  }

  /** Gives why it went wrong, undefined when it did not. */
  private async searchAround(plan: KeptPlan): Promise<string | undefined> {
    const { instance, keep, lanesAway } = plan.problem;
    if (keep.length === 0) return undefined;
    const setting = { seed: planSeed, keep, lanesAway };
    const work = { kind: 'around', instance, setting, budgetMs: plan.ask.seconds * 1000 } as const;
    const searched = await this.searcher.search(work, (found) => this.note(plan, { around: found }));
    return searched.is === 'failed' ? searched.message : undefined;
  }

  private note(plan: KeptPlan, news: Pick<KeptPlan, 'result' | 'around'>): void {
    if (plan.status === 'planning') Object.assign(plan, news);
  }

  private async giveUp(plan: KeptPlan): Promise<void> {
    if (plan.status !== 'planning') return;
    this.parts.logger.error({ plan: plan.id }, 'the planner did not keep to its time');
    this.end(plan, 'failed');
    await Promise.all([this.planner.close(), this.searcher.close()]);
  }

  private end(plan: KeptPlan, status: PlanStatus): void {
    this.stopTimer();
    plan.status = status;
    plan.endedAt = this.parts.clock.now();
  }
}

const failureOf = (outcome: PlannerOutcome): string | undefined =>
  outcome.kind === 'failed' ? outcome.message : undefined;

const busy: AskRefusal = {
  code: 'rotation/planning-already',
  sentence: 'A plan is being made already. Wait until it is there, or cancel it.',
};
