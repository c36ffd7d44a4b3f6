import { MemoryLog } from '../../server/log/memory-log.ts';
import { logContract } from '../contracts/log-contract.ts';

logContract('memory', { durable: false, shared: false }, () =>
  Promise.resolve({ open: () => Promise.resolve(new MemoryLog()), dispose: () => Promise.resolve() }),
);
