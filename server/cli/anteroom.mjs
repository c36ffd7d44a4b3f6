#!/usr/bin/env node
// Plain JavaScript, so that it runs as it is: it lets Node read TypeScript, then hands over to the command line proper.
import { register } from 'tsx/esm/api';

register();
const { run } = await import('./anteroom.ts');
await run(process.argv);
