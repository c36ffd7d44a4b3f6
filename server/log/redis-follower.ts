import { setTimeout as pause } from 'node:timers/promises';
import type { RedisClient, RedisConnection } from './redis-connection.ts';

/**
 * Follows one unit's stream on a connection of its own, because a blocking read holds its connection. Every time it starts
 * over (at first, and after any trouble) it looks where the log ends now and calls back once: what grew, or was lost with a
 * Redis that came back with less, while nobody was listening is noticed that way.
 */
const blockMs = 5000;
const shortestPauseMs = 50;
const longestPauseMs = 2000;

export interface Follower {
  stop: () => void;
  /** Resolves when nothing of it is left running. */
  ended: Promise<void>;
}

export function followStream(connection: RedisConnection, key: string, onGrown: () => void): Follower {
  const stopping = new AbortController();
  const grown = () =>
    queueMicrotask(() => {
      if (!stopping.signal.aborted) onGrown();
    });
  const stop = () => {
    stopping.abort();
    connection.cut();
  };
  return { stop, ended: followUntilStopped(connection, key, grown, stopping.signal) };
}

async function followUntilStopped(
  connection: RedisConnection,
  key: string,
  grown: () => void,
  stopping: AbortSignal,
): Promise<void> {
  let pauseMs = shortestPauseMs;
  while (!stopping.aborted) {
    try {
      await followUntilTrouble(connection, key, () => {
        pauseMs = shortestPauseMs;
        grown();
      });
    } catch {
      // The connection tells what is wrong (`onTrouble`) and mends itself; here it is only tried again.
      await pause(pauseMs, undefined, { signal: stopping }).catch(() => undefined);
      pauseMs = Math.min(2 * pauseMs, longestPauseMs);
    }
  }
}

async function followUntilTrouble(connection: RedisConnection, key: string, grown: () => void): Promise<never> {
  let last = await connection.ask((client) => endOfStream(client, key));
  grown();
  for (;;) {
    const from = last;
    const next = await connection.ask((client) => waitForMore(client, key, from), blockMs);
    if (next === undefined) continue;
    last = next;
    grown();
  }
}

async function endOfStream(client: RedisClient, key: string): Promise<string> {
  const entries = await client.xRevRange(key, '+', '-', { COUNT: 1 });
  return entries?.[0]?.id ?? '0-0';
}

async function waitForMore(client: RedisClient, key: string, last: string): Promise<string | undefined> {
  const streams = (await client.xRead({ key, id: last }, { BLOCK: blockMs, COUNT: 100 })) as StreamsReply;
  return streams?.[0]?.messages.at(-1)?.id;
}

/** node-redis types this reply as `any`. */
type StreamsReply = { name: string; messages: { id: string }[] }[] | null;
