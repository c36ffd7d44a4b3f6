import { seededChance } from '../seeded-chance.ts';
import { putKept } from './construct.ts';
import { costOfRoster } from './cost.ts';
import type { Plan, RotationInstance } from './instance.ts';
import { Roster } from './roster.ts';
import type { FoundPlan } from './search.ts';
import { problemOf } from './slots.ts';
import { nameRoster } from './naming.ts';
import { brokenRule } from './verify.ts';

/** The best plan that was looked over and found to break no rule. */
export class LegalPlan {
  private readonly instance: RotationInstance;
  private legal: FoundPlan | undefined;

  constructor(instance: RotationInstance) {
    this.instance = instance;
  }

  get found(): FoundPlan | undefined {
    return this.legal;
  }

  /** Whether this one is the best now. One that breaks a rule never is. */
  offer(found: FoundPlan): boolean {
    if (this.legal && found.cost.objective > this.legal.cost.objective - 1e-9) return false;
    if (brokenRule(this.instance, found.plan) !== undefined) return false;
    this.legal = found;
    return true;
  }
}

/**
 * What can be told while no plan keeps every rule, because somebody inside cannot be out in time: those who can leave in time leave,
 * nobody enters, and observers have their breaks. Whoever is left out here has to leave as soon as a lane is free.
 */
export function onlyExits(instance: RotationInstance, { plan }: FoundPlan): FoundPlan & { late: string[] } {
  const most = Math.max(...instance.insideMinutesAllowed) + instance.maxOverrunMinutes;
  const out = new Set(
    plan.entries.filter((entry) => entry.ongoing && entry.insideMinutes <= most).map(({ worker }) => worker),
  );
  const late = instance.inside.filter(({ worker }) => !out.has(worker)).map(({ worker }) => worker);
  const exits: Plan['entries'] = plan.entries.filter((entry) => entry.ongoing && out.has(entry.worker));
  const roster = new Roster(problemOf(instance));
  putKept(roster, exits);
  const named = nameRoster(roster, seededChance(1)) ?? { entries: exits, breaks: [] };
  return { plan: named, cost: costOfRoster(roster), late };
}
