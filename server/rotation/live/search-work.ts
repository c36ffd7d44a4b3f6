import type { PlanCost } from '../cost.ts';
import type { Plan, RotationInstance } from '../instance.ts';
import { repairPlan, type RepairedPlan } from '../repair.ts';
import { changeWeightOfRepairs } from '../repair-start.ts';
import { searchPlan, type SearchSetting } from '../search.ts';

/** What the thread is asked to search, and what it finds. Plain data: it goes from one thread to another. */
export type SearchWork =
  /** The earlier plan, made to fit: a first answer within `firstMs`, and a better one within `moreMs` if there is any. */
  | {
      kind: 'repair';
      instance: RotationInstance;
      previous: Plan;
      setting: SearchSetting;
      firstMs: number;
      moreMs: number;
    }
  /** A plan around what stays as it is (`setting.keep`). */
  | { kind: 'around'; instance: RotationInstance; setting: SearchSetting; budgetMs: number };

export interface Found {
  plan: Plan;
  cost: PlanCost;
}

export interface SearchTools {
  /** Milliseconds from any fixed moment. */
  now: () => number;
  shouldStop: () => boolean;
  tell: (found: Found) => void;
}

export function searchWork(work: SearchWork, tools: SearchTools): void {
  switch (work.kind) {
    case 'repair':
      return repair(work, tools);
    case 'around':
      return around(work, tools);
    default:
      return work satisfies never;
  }
}

const costWithChanges = ({ cost, changed }: RepairedPlan) => cost.objective + changeWeightOfRepairs * changed;

function repair(
  { instance, previous, setting, firstMs, moreMs }: Extract<SearchWork, { kind: 'repair' }>,
  { tell, ...tools }: SearchTools,
): void {
  const first = repairPlan(instance, previous, { ...setting, ...tools, budgetMs: firstMs });
  tell(first);
  if (tools.shouldStop()) return;
  const better = repairPlan(instance, previous, { ...setting, ...tools, budgetMs: moreMs });
  if (costWithChanges(better) < costWithChanges(first)) tell(better);
}

function around(
  { instance, setting, budgetMs }: Extract<SearchWork, { kind: 'around' }>,
  { tell, ...tools }: SearchTools,
): void {
  tell(searchPlan(instance, { ...setting, ...tools, budgetMs, onImproved: tell }));
}
