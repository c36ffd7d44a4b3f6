import type { Worker } from 'node:worker_threads';
import { startThread } from '../../typescript-thread.ts';
import type { ForecastReply, ForecastRequest } from './forecast-worker.ts';
import type { ForecastWork, ForecastWorked, WorkedOf, WorkOf } from './forecast-work.ts';

/** Why there is no answer: too many ask at once, or something went wrong, in words for the journal. */
export type NotPlayed = { ok: false; why: 'busy' | 'closed' } | { ok: false; why: 'failed'; message: string };
export type Played<Kind extends ForecastWork['kind']> = { ok: true; worked: WorkedOf<Kind> } | NotPlayed;

/** What plays scenarios; a part, so that a test can count what it is asked. */
export interface ForecastPlayer {
  play<Kind extends ForecastWork['kind']>(work: WorkOf<Kind>): Promise<Played<Kind>>;
}

const waitingMost = 8;
/** Far above what the most runs with the most people take: a thread that is silent for so long hangs. */
const msMostDefault = 60_000;

interface Waiting {
  resolve: (reply: { worked: ForecastWorked } | NotPlayed) => void;
  timer: ReturnType<typeof setTimeout>;
}

/**
 * Plays scenarios in a thread of its own, one after the other, so that the server's event loop never waits for some thousand
 * runs. The thread starts with the first scenario. When it ends by itself everybody who waits is told, and the next scenario
 * gets a new one.
 */
export class ForecastThread implements ForecastPlayer {
  private readonly msMost: number;
  private readonly program: URL;
  private readonly waiting = new Map<number, Waiting>();
  private worker: Worker | undefined;
  private lastId = 0;
  private closed = false;

  constructor({ msMost = msMostDefault, program = new URL('./forecast-worker.ts', import.meta.url) } = {}) {
    this.msMost = msMost;
    this.program = program;
  }

  async play<Kind extends ForecastWork['kind']>(work: WorkOf<Kind>): Promise<Played<Kind>> {
    if (this.closed) return { ok: false, why: 'closed' };
    if (this.waiting.size >= waitingMost) return { ok: false, why: 'busy' };
    const worker = (this.worker ??= this.startWorker());
    const id = ++this.lastId;
    const reply = await new Promise<{ worked: ForecastWorked } | NotPlayed>((resolve) => {
      const timer = setTimeout(() => this.lose(worker, `it was silent for ${this.msMost / 1000} s`), this.msMost);
      timer.unref();
      this.waiting.set(id, { resolve, timer });
      worker.postMessage({ id, work } satisfies ForecastRequest);
    });
    return 'worked' in reply ? { ok: true, worked: reply.worked as WorkedOf<Kind> } : reply;
  }

  async close(): Promise<void> {
    this.closed = true;
    const { worker } = this;
    this.worker = undefined;
    this.settleAll({ ok: false, why: 'closed' });
    await worker?.terminate();
  }

  private startWorker(): Worker {
    const worker = startThread(this.program);
    worker.unref();
    worker.on('message', (reply: ForecastReply) => this.hear(reply));
    worker.on('error', (error) => this.lose(worker, error.message));
    worker.on('exit', (code) => this.lose(worker, `it ended with code ${code}`));
    return worker;
  }

  private hear(reply: ForecastReply): void {
    const waiting = this.waiting.get(reply.id);
    if (!waiting) return;
    this.waiting.delete(reply.id);
    clearTimeout(waiting.timer);
    waiting.resolve(
      'worked' in reply ? { worked: reply.worked } : { ok: false, why: 'failed', message: reply.failure },
    );
  }

  private lose(worker: Worker, why: string): void {
    if (this.worker !== worker) return;
    this.worker = undefined;
    void worker.terminate();
    this.settleAll({ ok: false, why: 'failed', message: `The thread of the forecast has stopped: ${why}.` });
  }

  private settleAll(outcome: NotPlayed): void {
    for (const { resolve, timer } of this.waiting.values()) {
      clearTimeout(timer);
      resolve(outcome);
    }
    this.waiting.clear();
  }
}
