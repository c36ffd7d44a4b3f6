import { parentPort } from 'node:worker_threads';
import { checkProcedure, type ProcedureChecked } from './check-procedure.ts';

/** The thread in which texts are read and proved: a text that takes seconds to read stops this thread and not the server. */
export interface CheckRequest {
  id: number;
  text: string;
}
export type CheckAnswer = { id: number } & ({ checked: ProcedureChecked } | { failure: string });

/** A mend is looked for this long; the proof itself is out long before. */
const mendMsMost = 8_000;

const port = parentPort;
if (!port) throw new Error('check-worker.ts is a worker thread, not a program');

function answer({ id, text }: CheckRequest): CheckAnswer {
  const until = performance.now() + mendMsMost;
  try {
    return { id, checked: checkProcedure(text, () => performance.now() < until) };
  } catch (error) {
    return { id, failure: String(error) };
  }
}

// Reading the program takes a while on a busy machine, and is not held against the first text.
port.postMessage('ready');
port.on('message', (request: CheckRequest) => port.postMessage(answer(request)));
