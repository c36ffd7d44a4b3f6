import type { Logger } from 'pino';
import type { Rotation } from '../../machines/unit/rotation.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { Clock } from '../clock.ts';
import { changesBetween, withNamesOf, type Change } from '../rotation/live/changes.ts';
import { departuresKey, departuresOf, type Departure } from '../rotation/live/departures.ts';
import { rotationOf, slotMinutes } from '../rotation/live/instance-of.ts';
import { isRunning, repairProblem, type RepairProblem } from '../rotation/live/repair-problem.ts';
import { SearchThread, type PlanSearcher } from '../rotation/live/search-thread.ts';
import type { Found } from '../rotation/live/search-work.ts';
import type { Authority } from '../unit/authority.ts';

/** A rotation that fits what has happened, for somebody to take or to leave. */
export interface RepairOffer {
  /** Number of the last fact it knows. */
  forNumber: number;
  at: number;
  departures: readonly Departure[];
  changes: readonly Change[];
  rotation: Rotation;
  uncoveredMinutes: number;
  /** false: a better one may follow in a few seconds. */
  isLast: boolean;
}

export type RepairNow =
  /** No rotation is adopted, or reality keeps to it. */
  | { is: 'not-needed' }
  | { is: 'working'; departures: readonly Departure[] }
  | { is: 'offered'; offer: RepairOffer }
  /** Reality has left the plan, and no repair could be made. */
  | { is: 'none'; departures: readonly Departure[] };

/** Facts that come together are looked at together. */
const gatherMs = 300;
/** Being late is no fact: time is looked at as well. */
const lookEveryMs = 60_000;
const firstMs = 200;
const moreMs = 4_000;
const repairSeed = 1;

/**
 * Looks whether reality keeps to the adopted rotation, when something happens and once a minute. Where it does not, a repaired one is
 * searched in a thread of its own and offered. It writes nothing: what is offered is adopted by a person or not at all.
 */
export class RotationWatch {
  private readonly authority: Authority;
  private readonly clock: Clock;
  private readonly logger: Logger;
  private readonly searcher: PlanSearcher;
  private readonly stopListening: () => void;
  private stopTimer: () => void = () => undefined;
  private wakesAt = Infinity;
  private stopped = false;
  private current: RepairNow = { is: 'not-needed' };
  /** What the current answer was made for: the departures, the slot, and the adoption. */
  private madeFor = '';

  constructor(authority: Authority, clock: Clock, logger: Logger, searcher: PlanSearcher = new SearchThread()) {
    this.authority = authority;
    this.clock = clock;
    this.logger = logger;
    this.searcher = searcher;
    this.stopListening = authority.onFacts(() => this.hear());
    this.hear();
  }

  get now(): RepairNow {
    return this.current;
  }

  async close(): Promise<void> {
    this.stop();
    await this.searcher.close();
  }

  stop(): void {
    this.stopped = true;
    this.stopListening();
    this.stopTimer();
    this.searcher.cancel();
  }

  private hear(): void {
    if (this.authority.state.rotation || this.current.is !== 'not-needed') this.wakeIn(gatherMs);
  }

  private wakeIn(delayMs: number): void {
    const wakesAt = this.clock.now() + delayMs;
    if (this.stopped || wakesAt >= this.wakesAt) return;
    this.stopTimer();
    this.wakesAt = wakesAt;
    this.stopTimer = this.clock.setTimer(delayMs, () => this.look());
  }

  private look(): void {
    if (this.stopped) return;
    this.wakesAt = Infinity;
    const { state, head } = this.authority;
    if (state.rotation) this.wakeIn(lookEveryMs);
    const now = this.clock.now();
    const departures = departuresOf(state, now);
    if (departures.length === 0) return this.settle({ is: 'not-needed' }, '');
    const slot = Math.floor(now / (slotMinutes * 60_000));
    const madeFor = `${state.rotation?.adoptedAt} ${slot} ${departuresKey(departures)}`;
    if (madeFor === this.madeFor) return;
    const repair = repairProblem(state, now);
    this.settle({ is: repair ? 'working' : 'none', departures }, madeFor);
    if (repair) void this.repair(repair, { state, departures, forNumber: head.number, at: now }, madeFor);
  }

  private settle(next: RepairNow, madeFor: string): void {
    if (this.madeFor !== madeFor) this.searcher.cancel();
    this.madeFor = madeFor;
    this.current = next;
  }

  private async repair(repair: RepairProblem, about: About, madeFor: string): Promise<void> {
    const { instance, keep, lanesAway } = repair.problem;
    const setting = { seed: repairSeed, keep, lanesAway };
    const work = { kind: 'repair', instance, previous: repair.previous, setting, firstMs, moreMs } as const;
    const searched = await this.searcher.search(work, (found) => {
      if (this.madeFor === madeFor) this.current = { is: 'offered', offer: offerOf(repair, about, found) };
    });
    if (this.madeFor !== madeFor || this.stopped) return;
    if (searched.is === 'failed') {
      this.logger.error({ why: searched.message, unit: this.authority.unit }, 'the rotation could not be repaired');
      this.current = { is: 'none', departures: about.departures };
    } else if (this.current.is === 'offered') {
      this.current = { is: 'offered', offer: { ...this.current.offer, isLast: true } };
    }
  }
}

interface About {
  state: UnitState;
  departures: readonly Departure[];
  forNumber: number;
  at: number;
}

function offerOf(
  { problem, trips, locked }: RepairProblem,
  { state, ...about }: About,
  { plan, cost }: Found,
): RepairOffer {
  const rotation = withNamesOf(trips, rotationOf(state, problem, plan, locked));
  const hasBegun = (id: string) => state.rotation !== undefined && isRunning(state.rotation, id);
  return {
    ...about,
    rotation,
    changes: changesBetween(trips, rotation.trips, hasBegun),
    uncoveredMinutes: cost.uncoveredSlots * problem.instance.slotMinutes,
    isLast: false,
  };
}
