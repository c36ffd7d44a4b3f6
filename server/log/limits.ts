/** A longer fact could be stored but never read back from an exported file, one fact a line. */
export const factBytesMost = 1024 * 1024;

/** Per unit and fold version: the newest, and the one before it for somebody who has begun to read it. */
export const snapshotsKept = 2;

/** Appends that share one transaction at most, so that a burst can't make everybody in it wait for all of it. */
export const groupMost = 256;
