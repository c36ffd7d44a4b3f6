// Brings TypeScript into the worker thread. With Node 20 a loader given by `execArgv: ['--import', ...]` is not in force yet
// when the thread loads its first file, so the first file is plain JavaScript and registers the loader itself.
import { register } from 'tsx/esm/api';

register();
await import('./sqlite-worker.ts');
