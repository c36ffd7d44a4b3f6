import { parentPort } from 'node:worker_threads';
import type { RotationInstance } from './instance.ts';
import type { PlanningOptions } from './planner.ts';
import { planRotation, type RotationResult } from './plan-rotation.ts';

export type PlannerRequest =
  | ({ kind: 'plan'; id: number; instance: RotationInstance } & Omit<PlanningOptions, 'onProgress'>)
  /** Ends the plan with this number, which then answers with its best so far. */
  | { kind: 'cancel'; id: number };

export type PlannerAnswer =
  | { kind: 'progress' | 'finished' | 'cancelled'; id: number; result: RotationResult }
  | { kind: 'failed'; id: number; message: string };

const port = parentPort;
if (!port) throw new Error('planner-worker.ts is a worker thread, not a program');

const cancelled = new Set<number>();
let before: Promise<void> = Promise.resolve();

/** One plan after the other: two at once would only take the time from each other. */
port.on('message', (request: PlannerRequest) => {
  if (request.kind === 'cancel') cancelled.add(request.id);
  else before = before.then(() => plan(request));
});

async function plan({ id, instance, kind: _, ...options }: Extract<PlannerRequest, { kind: 'plan' }>): Promise<void> {
  const say = (answer: PlannerAnswer): void => port!.postMessage(answer);
  try {
    const result = await planRotation(instance, {
      ...options,
      now: () => performance.now(),
      onProgress: (soFar) => say({ kind: 'progress', id, result: soFar }),
      shouldStop: () => cancelled.has(id),
    });
    say({ kind: cancelled.has(id) ? 'cancelled' : 'finished', id, result });
  } catch (error) {
    say({ kind: 'failed', id, message: error instanceof Error ? error.message : String(error) });
  }
  cancelled.delete(id);
}
