import type { Plan, RotationInstance } from '../../server/rotation/instance.ts';
import { repairPlan } from '../../server/rotation/repair.ts';
import { PlanSearch, searchPlan } from '../../server/rotation/search.ts';
import type { FoundPlan, SearchOptions } from '../../server/rotation/search.ts';
import {
  canAllLeave,
  changedTrips,
  exitOf,
  forcedChanges,
  isFreeAt,
  wrongIn,
  type RepairEvent,
} from './repair-events.ts';
import { instanceNamed } from './rotation-instance.ts';

/** B2 with one person more inside: its lanes are taken for nine tenths of the time. */
function tightLanes(): RotationInstance {
  const instance = instanceNamed('B2-24h-5pos-40w');
  const [first, ...rooms] = instance.rooms;
  const inside = [...instance.inside, { worker: 'G1-w06', room: first!.id, sinceMinute: -70 }];
  return {
    ...instance,
    name: 'tight-lanes-24h-6pos-48w',
    rooms: [{ ...first!, staffInside: first!.staffInside + 1 }, ...rooms],
    workers: [...instance.workers, ...instance.workers.slice(-8).map((one) => ({ ...one, id: `${one.id}-more` }))],
    observers: instance.observers + 2,
    inside,
  };
}

/** Instances of 24 hours, each with a plan that was searched for so many moves: equal on every machine. */
export function adoptedPlans(moves: number): { name: string; instance: RotationInstance; plan: Plan }[] {
  const instances = [instanceNamed('B1-24h-4pos-40w'), instanceNamed('B2-24h-5pos-40w'), tightLanes()];
  return instances.map((instance) => {
    const search = new PlanSearch(instance, { seed: 1 });
    search.build();
    search.move(moves);
    return { name: instance.name!, instance, plan: search.best.plan };
  });
}

const planningOptions = ({ moment, mustLeave }: RepairEvent, budgetMs: number, seed: number): SearchOptions => ({
  ...{ seed, budgetMs, now: () => performance.now(), mustLeave },
  ...{ lanesAway: moment.lanesAway, observersAway: moment.observersAway },
});

export interface RepairTrial {
  wrong: string[];
  /** Nobody can keep every rule: somebody inside cannot be out in time. */
  isHopeless: boolean;
  objective: number;
  uncoveredSlots: number;
  overrunSlots: number;
  changed: number;
  forced: number;
  /** Minutes by which those who must leave do so later than the first lane and observer allow. */
  lateMinutes: number;
  firstMs: number;
  tookMs: number;
}

export function tryRepair(
  event: RepairEvent,
  budgetMs: number,
  seed = 1,
  repair = repairPlan,
  now = () => performance.now(),
): RepairTrial {
  const { instance, previous } = event.moment;
  const start = now();
  let firstMs = Infinity;
  const found = repair(instance, previous, {
    ...planningOptions(event, budgetMs, seed),
    now,
    onImproved: () => (firstMs = Math.min(firstMs, now() - start)),
  });
  const tookMs = now() - start;
  return { ...judged(event, found), firstMs, tookMs };
}

/** The best that so much more time finds, by repairing and by searching from scratch. */
export function bestOf(event: RepairEvent, budgetMs: number, seed = 1): number {
  const { instance, previous } = event.moment;
  const options = planningOptions(event, budgetMs, seed);
  const found = [repairPlan(instance, previous, options), searchPlan(instance, options)];
  const judgements = found.map((one) => judged(event, one));
  const legal = judgements.filter((one) => (one.isHopeless || one.wrong.length === 0) && one.lateMinutes === 0);
  return Math.min(...legal.map(({ objective }) => objective));
}

function judged(event: RepairEvent, { plan, cost }: FoundPlan) {
  const { instance, previous } = event.moment;
  return {
    wrong: wrongIn(instance, plan, event.moment),
    isHopeless: !canAllLeave(event),
    ...{ objective: cost.objective, uncoveredSlots: cost.uncoveredSlots, overrunSlots: cost.overrunSlots },
    ...{ changed: changedTrips(instance, previous, plan), forced: forcedChanges(event) },
    lateMinutes: Math.max(0, ...event.mustLeave.map(({ worker }) => exitIn(event, plan, worker) - earliestExit(event))),
  };
}

function exitIn({ moment: { instance } }: RepairEvent, { entries }: Plan, worker: string): number {
  const entry = entries.find((one) => one.ongoing && one.worker === worker);
  return entry ? exitOf(instance, entry) : Infinity;
}

/** When the first lane and observer are there for a doffing, as if nobody else came out. */
function earliestExit({ moment }: RepairEvent): number {
  let exit = moment.instance.slotMinutes;
  while (!isFreeAt(moment, [], exit)) exit += moment.instance.slotMinutes;
  return exit;
}
