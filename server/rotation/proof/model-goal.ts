import type { LinearModel } from './linear-model.ts';
import type { Slotted } from './slotted.ts';

/** What the linear problem is asked for. */
export type Goal =
  /** The objective; `people` says how the largest person's slots are counted. */
  | { kind: 'cost'; people: { kind: 'left-out' } | { kind: 'average' } | { kind: 'largest'; slots: number } }
  /** Nothing uncovered, with as few more of these as possible. */
  | { kind: 'extra'; of: readonly Resource[]; exits: Exits };

/** Whether those inside now may overrun where earlier relief would have spared it. */
export type Exits = 'in-time' | 'late';

export type Resource = 'lanes' | 'observers' | 'workers';

export interface RotationModel {
  linear: LinearModel;
  /** Row of each slot, by resource; workers have one map per duty. */
  laneRows: Map<number, number>;
  observerRows: Map<number, number>;
  workerRows: Map<number, number>[];
  /** The column of how many more; workers have one per duty. */
  extra: Partial<Record<Resource, number[]>>;
  /** The column of the largest person's slots, for the average. */
  largest: number | undefined;
}

/** About how many numbers the matrix will hold, to know beforehand that a problem is too large to be tried. */
export function nonzerosExpected(slotted: Slotted): number {
  const { donning, doffing, turnover, postCheck, rest, longestStay } = slotted;
  const perColumn = 2 * longestStay + 2 * donning + 3 * doffing + turnover + postCheck + rest + 4;
  const columns = slotted.duties.length * slotted.stays.length * slotted.horizon;
  return columns * perColumn + slotted.ongoing.length * 100 * perColumn;
}
