import { join, resolve } from 'node:path';

/** The levels of the server's own journal (not of the unit's log), from most to least talkative. */
export const logLevels = ['trace', 'debug', 'info', 'warn', 'error', 'fatal', 'silent'] as const;
export type LogLevel = (typeof logLevels)[number];

export interface ServerConfig {
  port: number;
  host: string;
  /** The directory of the embedded log; not used with Redis. */
  data: string;
  redis?: string;
  unitFile: string;
  /** True when the people of the shift are simulated. */
  drill: boolean;
  logLevel: LogLevel;
  /** Build the pages first when they are older than their sources. */
  build: boolean;
}

/** Where this program lies, whatever directory it is called from. */
export const programDirectory = resolve(import.meta.dirname, '..');
export const clientDirectory = join(programDirectory, 'dist', 'client');

/**
 * What a flag is when it is not given. The only place that reads the environment, so that a container can be set up by it;
 * a flag that is given wins.
 */
export const defaults = {
  port: process.env['ANTEROOM_PORT'] ?? '4300',
  /** Loopback: until devices have to prove who they are, a network is opened only on purpose. */
  host: process.env['ANTEROOM_HOST'] ?? '127.0.0.1',
  data: process.env['ANTEROOM_DATA'],
  redis: process.env['ANTEROOM_REDIS'],
  unitFile: process.env['ANTEROOM_UNIT'] ?? join(programDirectory, 'demo-data', 'unit.yaml'),
  logLevel: process.env['ANTEROOM_LOG_LEVEL'] ?? 'warn',
} as const;

/** Where the log of a real unit is kept when nobody says otherwise. */
export const dataDefault = join(process.cwd(), 'data');
