import type { Worker } from 'node:worker_threads';
import { startThread } from '../../typescript-thread.ts';
import type { Found, SearchWork } from './search-work.ts';
import type { SearchReply, SearchRequest } from './search-worker.ts';

export type Searched = { is: 'done' } | { is: 'cancelled' } | { is: 'failed'; message: string };

/** What searches; a part, so that a test can stand in for it. */
export interface PlanSearcher {
  search(work: SearchWork, onFound: (found: Found) => void): Promise<Searched>;
  cancel(): void;
  close(): Promise<void>;
}

interface Searching {
  id: number;
  onFound: (found: Found) => void;
  resolve: (searched: Searched) => void;
}

/**
 * Searches in a thread of its own, so that the server's event loop never waits. One at a time: a new search ends the one before. The
 * thread starts with the first search; when it ends by itself, whoever waits is told, and the next search gets a new one.
 */
export class SearchThread implements PlanSearcher {
  private readonly wanted = new Int32Array(new SharedArrayBuffer(Int32Array.BYTES_PER_ELEMENT));
  private worker: Worker | undefined;
  private searching: Searching | undefined;
  private lastId = 0;

  async search(work: SearchWork, onFound: (found: Found) => void): Promise<Searched> {
    this.cancel();
    const worker = (this.worker ??= this.startWorker());
    const id = ++this.lastId;
    Atomics.store(this.wanted, 0, id);
    const searched = new Promise<Searched>((resolve) => (this.searching = { id, onFound, resolve }));
    worker.postMessage({ id, work } satisfies SearchRequest);
    return searched;
  }

  cancel(): void {
    Atomics.store(this.wanted, 0, 0);
    this.settle({ is: 'cancelled' });
  }

  async close(): Promise<void> {
    this.cancel();
    const { worker } = this;
    this.worker = undefined;
    await worker?.terminate();
  }

  private startWorker(): Worker {
    const worker = startThread(new URL('./search-worker.ts', import.meta.url), this.wanted.buffer);
    worker.unref();
    worker.on('message', (reply: SearchReply) => this.hear(reply));
    worker.on('error', (error) => this.lose(worker, error.message));
    worker.on('exit', (code) => this.lose(worker, `it ended with code ${code}`));
    return worker;
  }

  private hear(reply: SearchReply): void {
    // The rest of a search that was cancelled.
    if (this.searching?.id !== reply.id) return;
    switch (reply.kind) {
      case 'found':
        return this.searching.onFound(reply.found);
      case 'done':
        return this.settle({ is: 'done' });
      case 'failed':
        return this.settle({ is: 'failed', message: reply.message });
      default:
        return reply satisfies never;
    }
  }

  private lose(worker: Worker, why: string): void {
    if (this.worker !== worker) return;
    this.worker = undefined;
    void worker.terminate();
    this.settle({ is: 'failed', message: `The thread that searches has stopped: ${why}.` });
  }

  private settle(searched: Searched): void {
    const { searching } = this;
    this.searching = undefined;
    searching?.resolve(searched);
  }
}
