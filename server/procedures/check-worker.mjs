// Brings TypeScript into the worker thread, as server/log/sqlite-worker.mjs does and for the same reason.
import { register } from 'tsx/esm/api';

register();
await import('./check-worker.ts');
