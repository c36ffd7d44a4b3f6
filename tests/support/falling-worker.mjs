// A thread that ends with the first thing it is asked.
import { parentPort } from 'node:worker_threads';

parentPort.on('message', () => {
  throw new Error('it fell on purpose');
});
