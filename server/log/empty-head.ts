import type { LogHead } from './log.ts';

/** Where a log stands before its first fact. In a file of its own: the database thread needs it, and nothing of the schema. */
export const emptyHead: LogHead = Object.freeze({ number: 0, hash: '0'.repeat(64) });
