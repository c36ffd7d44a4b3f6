import type { Worker } from 'node:worker_threads';
import { startThread } from '../typescript-thread.ts';
import type { ProcedureChecked } from './check-procedure.ts';
import type { CheckAnswer, CheckRequest } from './check-worker.ts';

/** Why a text was not checked; the one who asked may ask again. */
export type NotChecked = { notChecked: 'busy' | 'took-too-long' | 'failed' };
export type CheckOutcome = ProcedureChecked | NotChecked;

interface Waiting {
  text: string;
  resolve: (outcome: CheckOutcome) => void;
}

/**
 * Checks texts one after the other in a thread of its own, so that the server's event loop never waits for one. The thread starts
 * with the first text. A text that takes too long ends the thread, and the next one gets a new one.
 */
export class CheckThread {
  private readonly waiting: Waiting[] = [];
  private readonly msMost: number;
  private worker: Worker | undefined;
  private isBusy = false;
  private lastId = 0;

  constructor({ msMost = 30_000 }: { msMost?: number } = {}) {
    this.msMost = msMost;
  }

  check(text: string): Promise<CheckOutcome> {
    if (this.waiting.length >= waitingMost) return Promise.resolve({ notChecked: 'busy' });
    return new Promise((resolve) => {
      this.waiting.push({ text, resolve });
      this.next();
    });
  }

  async close(): Promise<void> {
    for (const one of this.waiting.splice(0)) one.resolve({ notChecked: 'busy' });
    await this.worker?.terminate();
    this.worker = undefined;
  }

  private next(): void {
    if (this.isBusy) return;
    const one = this.waiting.shift();
    if (!one) return;
    this.isBusy = true;
    void this.ask(one.text).then((outcome) => {
      this.isBusy = false;
      one.resolve(outcome);
      this.next();
    });
  }

  private async ask(text: string): Promise<CheckOutcome> {
    const worker = await this.started();
    if (!worker) return { notChecked: 'failed' };
    const id = ++this.lastId;
    return new Promise((resolve) => {
      const done = (outcome: CheckOutcome, isOver: boolean) => {
        clearTimeout(timer);
        worker.off('message', onMessage).off('error', onEnd).off('exit', onEnd);
        if (isOver) void this.drop(worker);
        resolve(outcome);
      };
      const onMessage = (answer: CheckAnswer) => {
        if (answer.id === id) done('checked' in answer ? answer.checked : { notChecked: 'failed' }, false);
      };
      const onEnd = () => done({ notChecked: 'failed' }, true);
      const timer = setTimeout(() => done({ notChecked: 'took-too-long' }, true), this.msMost);
      worker.on('message', onMessage).on('error', onEnd).on('exit', onEnd);
      worker.postMessage({ id, text } satisfies CheckRequest);
    });
  }

  /** The thread, once it has read its program; undefined when it could not. */
  private started(): Promise<Worker | undefined> {
    if (this.worker) return Promise.resolve(this.worker);
    const worker = startThread(new URL('./check-worker.ts', import.meta.url));
    this.worker = worker;
    return new Promise((resolve) => {
      const settle = (outcome: Worker | undefined) => {
        worker.off('message', onReady).off('error', onEnd).off('exit', onEnd);
        if (!outcome) void this.drop(worker);
        resolve(outcome);
      };
      const onReady = () => settle(worker);
      const onEnd = () => settle(undefined);
      worker.on('message', onReady).on('error', onEnd).on('exit', onEnd);
    });
  }

  private async drop(worker: Worker): Promise<void> {
    if (this.worker === worker) this.worker = undefined;
    // An error after its listeners are gone would end the server.
    worker.on('error', () => undefined);
    await worker.terminate();
  }
}

const waitingMost = 8;
