import { parentPort } from 'node:worker_threads';
import { playWork, type ForecastWork, type ForecastWorked } from './forecast-work.ts';

export interface ForecastRequest {
  id: number;
  work: ForecastWork;
}
export type ForecastReply = { id: number } & ({ worked: ForecastWorked } | { failure: string });

const port = parentPort;
if (!port) throw new Error('forecast-worker.ts is a worker thread, not a program');

function answer({ id, work }: ForecastRequest): ForecastReply {
  try {
    return { id, worked: playWork(work) };
  } catch (error) {
    return { id, failure: error instanceof Error ? error.message : String(error) };
  }
}

port.on('message', (request: ForecastRequest) => port.postMessage(answer(request)));
