import { randomBytes, randomUUID } from 'node:crypto';
import { pino, type Logger } from 'pino';
import { createApp, type App } from './app.ts';
import { systemClock, type Clock } from './clock.ts';
import { clientDirectory, type ServerConfig } from './config.ts';
import type { Log } from './log/log.ts';
import { openRedisLog } from './log/redis-log.ts';
import { openSqliteLog } from './log/sqlite-log.ts';
import { MemoryPresence } from './presence/memory-presence.ts';
import type { Presence } from './presence/presence.ts';
import { openRedisPresence } from './presence/redis-presence.ts';
import type { ServedUnit } from './served-unit.ts';
import { StartError } from './start-error.ts';
import { loadUnit, type LoadedUnit } from './unit/load-unit.ts';

/** The only file that picks real parts: the clock, the log, presence, randomness, the server's journal. */
export interface RunningServer {
  unit: ServedUnit;
  addresses: string[];
  /** Where the log is kept, in words. */
  logAt: string;
  close(): Promise<void>;
}

/** `clock` is another than the machine's own only in a drill. */
export async function startServer(config: ServerConfig, clock: Clock = systemClock()): Promise<RunningServer> {
  const unit = readUnit(config.unitFile);
  const logger = pino({ level: config.logLevel }, pino.destination({ dest: 2, sync: false }));
  const parts = await openParts(config, logger);
  try {
    const app = await createApp({
      ...parts,
      units: [unit],
      clock,
      logger,
      salt: () => randomBytes(18).toString('base64url'),
      server: randomUUID(),
      drill: config.drill,
      clientDirectory,
    });
    const [served] = app.units.values();
    if (!served) throw new Error('a server without a unit');
    const addresses = await listen(app, config);
    return { unit: served, addresses, logAt: parts.logAt, close: () => closeAll(app, parts) };
  } catch (error) {
    await closeParts(parts);
    throw error;
  }
}

function readUnit(path: string): LoadedUnit {
  const openedOn = new Date().toLocaleDateString('sv-SE');
  const outcome = loadUnit(path, { openedOn });
  if (outcome.ok) return outcome.unit;
  const [first, ...more] = outcome.problems;
  const place = [first?.file, first?.line].filter((part) => part !== undefined).join(':');
  const rest = more.length > 0 ? ` (and ${more.length} more)` : '';
  throw new StartError(`The unit can't be opened: ${place}: ${first?.sentence}${rest}`);
}

interface StoredParts {
  log: Log;
  presence: Presence;
  logAt: string;
}

async function openParts({ redis, data }: ServerConfig, logger: Logger): Promise<StoredParts> {
  if (redis === undefined) return { log: await openSqliteLog(data), presence: new MemoryPresence(), logAt: data };
  let opened = false;
  const onTrouble = (sentence: string) => {
    // While it is being opened the failure itself is the answer.
    if (opened) logger.error({ sentence }, 'trouble with Redis');
  };
  const settings = { url: redis, onTrouble };
  const log = await openRedisLog(settings);
  opened = true;
  try {
    const warning = await log.durabilityWarning();
    if (warning) logger.warn({ warning }, 'Redis may lose acknowledged facts');
    return { log, presence: await openRedisPresence(settings), logAt: hostOf(redis) };
  } catch (error) {
    await log.close();
    throw error;
  }
}

/** A Redis address may carry a password, which is nobody's business. */
function hostOf(url: string): string {
  return URL.canParse(url) ? `Redis at ${new URL(url).host}` : 'Redis';
}

async function listen(app: App, { port, host }: ServerConfig): Promise<string[]> {
  try {
    return await app.listen(port, host);
  } catch (error) {
    await app.close();
    throw new StartError(whyNotListening(error, host, port));
  }
}

function whyNotListening(error: unknown, host: string, port: number): string {
  const { code } = error as NodeJS.ErrnoException;
  if (code === 'EADDRINUSE')
    return `Port ${port} on ${host} is in use. Stop what is running there, or give another --port.`;
  if (code === 'EACCES') return `Port ${port} may not be used by this account. Give a --port above 1023.`;
  if (code === 'EADDRNOTAVAIL' || code === 'ENOTFOUND')
    return `This machine has no address "${host}". Give another --host, or 0.0.0.0 for all of them.`;
  return `The server can't listen on ${host}:${port} (${code ?? String(error)}).`;
}

async function closeAll(app: App, parts: StoredParts): Promise<void> {
  await app.close();
  await closeParts(parts);
}

async function closeParts({ log, presence }: StoredParts): Promise<void> {
  await presence.close();
  await log.close();
}
