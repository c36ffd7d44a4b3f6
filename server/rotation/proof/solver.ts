import { Worker } from 'node:worker_threads';
import type { LinearModel } from './linear-model.ts';

/** What came of a problem. Bounds are lowered by the tolerance the solver works with, so that they hold. */
export type Solved =
  /** `bound` is not above the value of any solution; it equals the value of the best one but for tolerance and allowed gap. */
  | { kind: 'optimal'; bound: number; values: Float64Array; rowDuals: Float64Array }
  | { kind: 'infeasible' }
  /** Out of time, or the thread is gone. A bound may be proven already. */
  | { kind: 'stopped'; bound: number | undefined };

export interface SolveOptions {
  seconds: number;
  whole: Whole;
  /** Stop when value and bound are this near. */
  absoluteGap?: number;
}

/** Which columns must be whole numbers. */
export type Whole = 'nothing' | 'total' | 'counts' | 'all';

/** The near end of the solver's thread. When that dies, everything asked is answered with `stopped`: what was proven before stays true. */
export class Solver {
  private readonly worker: Worker;
  private readonly open = new Map<number, (solved: Solved) => void>();
  private lastId = 0;
  private isDead = false;

  constructor() {
    // Without `execArgv: []` the thread would inherit the loaders of this process, which it does not need.
    this.worker = new Worker(new URL('./solver-worker.mjs', import.meta.url), { execArgv: [] });
    this.worker.on('message', (answer: Solved & { id: number }) => this.settle(answer));
    this.worker.on('error', () => this.die());
    this.worker.on('exit', () => this.die());
  }

  async solve(model: LinearModel, { seconds, whole, absoluteGap = 1e-6 }: SolveOptions): Promise<Solved> {
    if (this.isDead || seconds <= 0) return stopped;
    const id = ++this.lastId;
    const answer = new Promise<Solved>((resolve) => this.open.set(id, resolve));
    const options = { time_limit: seconds, mip_rel_gap: 0, mip_abs_gap: absoluteGap };
    this.worker.postMessage({ id, model: dataOf(model, wholesOf(model, whole)), options });
    return answer;
  }

  /** The solver hears nothing while it works, so its thread is ended from outside. */
  async stop(): Promise<void> {
    this.die();
    await this.worker.terminate();
  }

  private settle({ id, ...solved }: Solved & { id: number }): void {
    const resolve = this.open.get(id);
    this.open.delete(id);
    resolve?.('bound' in solved ? ({ ...solved, bound: lowered(solved.bound) } as Solved) : solved);
  }

  private die(): void {
    this.isDead = true;
    for (const resolve of this.open.values()) resolve(stopped);
    this.open.clear();
  }
}

const stopped: Solved = { kind: 'stopped', bound: undefined };

/** The solver's own tolerance is 1e-7 a row; a bound is taken a little lower than it says. */
function lowered(bound: number | undefined): number | undefined {
  if (bound === undefined || !Number.isFinite(bound) || Math.abs(bound) > 1e29) return undefined;
  return bound - 1e-6 * Math.max(1, Math.abs(bound));
}

function wholesOf({ kinds }: LinearModel, whole: Whole): Int32Array | undefined {
  if (whole === 'nothing') return undefined;
  const isWhole = (kind: LinearModel['kinds'][number]): boolean =>
    kind === 'total' || (kind === 'count' && whole !== 'total') || (kind === 'choice' && whole === 'all');
  const wholes = Int32Array.from(kinds, (kind) => (isWhole(kind) ? 1 : 0));
  return wholes.includes(1) ? wholes : undefined;
}

function dataOf(model: LinearModel, wholes: Int32Array | undefined) {
  const starts = new Int32Array(model.rows.length + 1);
  for (const [index, row] of model.rows.entries()) starts[index + 1] = starts[index]! + row.columns.length;
  const indices = new Int32Array(starts.at(-1)!);
  const values = new Float64Array(starts.at(-1)!);
  for (const [index, row] of model.rows.entries()) {
    indices.set(row.columns, starts[index]);
    values.set(row.values, starts[index]);
  }
  return {
    numCols: model.costs.length,
    numRows: model.rows.length,
    offset: model.offset,
    colCost: Float64Array.from(model.costs),
    colLower: Float64Array.from(model.columnLowers),
    colUpper: Float64Array.from(model.columnUppers),
    rowLower: Float64Array.from(model.rowLowers),
    rowUpper: Float64Array.from(model.rowUppers),
    matrix: { format: 'csr', numRows: model.rows.length, numCols: model.costs.length, starts, indices, values },
    ...(wholes ? { integrality: wholes } : {}),
  };
}
