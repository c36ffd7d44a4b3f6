import { Worker } from 'node:worker_threads';

/**
 * Starts a thread that runs a TypeScript file.
 *
 * @param program its address; `new URL('./some-worker.ts', import.meta.url)`
 * @param workerData what the program finds as its `workerData`
 */
export function startThread(program: URL, workerData?: unknown): Worker {
  // Without `execArgv: []` the thread would inherit the loaders of this process and load everything twice.
  const options = { argv: [program.href], execArgv: [], workerData };
  return new Worker(new URL('./typescript-thread.mjs', import.meta.url), options);
}
