import { parentPort, workerData } from 'node:worker_threads';
import { searchWork, type Found, type SearchWork } from './search-work.ts';

export interface SearchRequest {
  id: number;
  work: SearchWork;
}
export type SearchReply = { id: number } & (
  { kind: 'found'; found: Found } | { kind: 'done' } | { kind: 'failed'; message: string }
);

const port = parentPort;
if (!port) throw new Error('search-worker.ts is a worker thread, not a program');

/** The number of the search that is wanted; 0: none. Shared, because a thread that searches reads no messages. */
const wanted = new Int32Array(workerData as SharedArrayBuffer);

function answer({ id, work }: SearchRequest): void {
  const say = (reply: SearchReply): void => port!.postMessage(reply);
  try {
    searchWork(work, {
      now: () => performance.now(),
      shouldStop: () => Atomics.load(wanted, 0) !== id,
      tell: ({ plan, cost }) => say({ id, kind: 'found', found: { plan, cost } }),
    });
    say({ id, kind: 'done' });
  } catch (error) {
    say({ id, kind: 'failed', message: error instanceof Error ? error.message : String(error) });
  }
}

port.on('message', (request: SearchRequest) => {
  if (Atomics.load(wanted, 0) === request.id) answer(request);
});
