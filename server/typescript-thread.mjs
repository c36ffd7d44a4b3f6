// The first file of every thread that runs TypeScript. With Node 20 a loader given by `execArgv: ['--import', ...]` is not in force
// yet when a thread loads its first file, so that file is plain JavaScript, registers the loader itself, and only then loads the
// program whose address it was given.
import { register } from 'tsx/esm/api';

register();
await import(process.argv[2]);
