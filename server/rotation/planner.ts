import type { Worker } from 'node:worker_threads';
import { startThread } from '../typescript-thread.ts';
import type { RotationInstance } from './instance.ts';
import type { RotationResult } from './plan-rotation.ts';
import type { LaneAway } from './slots.ts';
import type { PlannerAnswer, PlannerRequest } from './planner-worker.ts';

/** What a planning came to. `cancelled` has the best plan up to then, when there was one. */
export type PlannerOutcome =
  | { kind: 'finished'; result: RotationResult }
  | { kind: 'cancelled'; result: RotationResult | undefined }
  | { kind: 'failed'; code: 'rotation/planner-failed'; message: string };

export interface PlanningOptions {
  seconds: number;
  seed: number;
  /** These three: see RotationOptions. */
  searchOn?: boolean;
  allSeconds?: boolean;
  lanesAway?: LaneAway[];
  onProgress?: (soFar: RotationResult) => void;
}

/**
 * Plans in a thread of its own, so that the server's event loop never waits. One plan at a time: a new one cancels the one before.
 * The thread starts with the first plan and stays until `close`.
 */
export class RotationPlanner {
  private worker: Worker | undefined;
  private planning: Planning | undefined;
  private lastId = 0;

  /** The best result of the plan being made, undefined while there is none. */
  get bestSoFar(): RotationResult | undefined {
    return this.planning?.best;
  }

  get isPlanning(): boolean {
    return this.planning !== undefined;
  }

  /** Takes an instance that `readInstance` has accepted. Never rejects. */
  async start(instance: RotationInstance, options: PlanningOptions): Promise<PlannerOutcome> {
    this.cancel();
    const worker = (this.worker ??= this.startWorker());
    const id = ++this.lastId;
    const ended = new Promise<PlannerOutcome>((resolve) => {
      this.planning = { id, resolve, onProgress: options.onProgress, best: undefined };
    });
    const { onProgress: _, ...plain } = options;
    worker.postMessage({ kind: 'plan', id, instance, ...plain } satisfies PlannerRequest);
    return ended;
  }

  /** Ends the plan being made; who started it gets `cancelled`. Gives the best plan up to then. */
  cancel(): RotationResult | undefined {
    const planning = this.planning;
    if (!planning) return undefined;
    this.worker?.postMessage({ kind: 'cancel', id: planning.id } satisfies PlannerRequest);
    this.settle({ kind: 'cancelled', result: planning.best });
    return planning.best;
  }

  async close(): Promise<void> {
    this.cancel();
    const worker = this.worker;
    this.worker = undefined;
    await worker?.terminate();
  }

  private startWorker(): Worker {
    const worker = startThread(new URL('./planner-worker.ts', import.meta.url));
    worker.unref();
    worker.on('message', (answer: PlannerAnswer) => this.hear(answer));
    worker.on('error', (error) => this.lose(worker, error.message));
    worker.on('exit', (code) => this.lose(worker, `it ended with code ${code}`));
    return worker;
  }

  private hear(answer: PlannerAnswer): void {
    const { planning } = this;
    // The rest of a plan that was cancelled.
    if (!planning || planning.id !== answer.id) return;
    switch (answer.kind) {
      case 'progress':
        planning.best = answer.result;
        planning.onProgress?.(answer.result);
        return;
      case 'finished':
      case 'cancelled':
        this.settle({ kind: answer.kind, result: answer.result });
        return;
      case 'failed':
        this.settle(failure(answer.message));
        return;
      default:
        answer satisfies never;
    }
  }

  /** The next plan starts a new thread. */
  private lose(worker: Worker, why: string): void {
    if (this.worker !== worker) return;
    this.worker = undefined;
    this.settle(failure(why));
  }

  private settle(outcome: PlannerOutcome): void {
    const { planning } = this;
    this.planning = undefined;
    planning?.resolve(outcome);
  }
}

interface Planning {
  id: number;
  resolve: (outcome: PlannerOutcome) => void;
  onProgress: PlanningOptions['onProgress'];
  best: RotationResult | undefined;
}

const failure = (why: string): PlannerOutcome => ({
  kind: 'failed',
  code: 'rotation/planner-failed',
  message: `The thread that plans the rotation has stopped: ${why}. Plan again.`,
});
