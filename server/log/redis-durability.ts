import { messageOf } from './log-error.ts';
import type { RedisClient } from './redis-connection.ts';

/**
 * "On disk before anybody is told" is Redis's promise only with an append-only file that is synced at every write. Redis
 * starts without one, so a server asks at its start and says plainly when acknowledged facts could be lost.
 *
 * Not seen from here: what a failover may lose. A replica that is promoted before it received the last facts does not have
 * them, whatever the settings on disk.
 */
const weaknesses: { setting: string; safe: string; means: string }[] = [
  {
    setting: 'appendonly',
    safe: 'yes',
    means: 'Redis keeps no append-only file, so a restart loses acknowledged facts',
  },
  { setting: 'appendfsync', safe: 'always', means: 'a power failure can lose the last acknowledged facts' },
  { setting: 'no-appendfsync-on-rewrite', safe: 'no', means: 'nothing is synced while Redis rewrites its file' },
  { setting: 'maxmemory-policy', safe: 'noeviction', means: 'Redis may throw a whole log away when memory runs short' },
];

/** A sentence for the person who runs the server; undefined when Redis keeps the promise. */
export async function redisDurabilityWarning(client: Pick<RedisClient, 'configGet'>): Promise<string | undefined> {
  let settings: Record<string, string>;
  try {
    settings = { ...(await client.configGet(weaknesses.map(({ setting }) => setting))) };
  } catch (error) {
    return `Whether Redis writes every fact to disk could not be checked (${messageOf(error)}). It should run with appendonly yes and appendfsync always.`;
  }
  const found = weaknesses.filter(({ setting, safe }) => settings[setting] !== safe);
  if (found.length === 0) return undefined;
  const parts = found.map(
    ({ setting, safe, means }) => `${setting} is ${settings[setting] ?? 'unknown'}, not ${safe}: ${means}`,
  );
  return `Redis is set up weaker than the record needs. ${parts.join('; ')}.`;
}
