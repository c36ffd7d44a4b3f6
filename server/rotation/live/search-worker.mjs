// Brings TypeScript into the thread, as in server/log/sqlite-worker.mjs: the first file has to be plain JavaScript on Node 20.
import { register } from 'tsx/esm/api';

register();
await import('./search-worker.ts');
