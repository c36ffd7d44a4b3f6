import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import type { Logger } from 'pino';
import type { Clock } from './clock.ts';
import { createHttp } from './http/http.ts';
import { Metrics } from './http/metrics.ts';
import { addressesOf } from './http/addresses.ts';
import type { Log } from './log/log.ts';
import type { Presence } from './presence/presence.ts';
import { CheckThread } from './procedures/check-thread.ts';
import { ForecastThread, type ForecastPlayer } from './rotation/live/forecast-thread.ts';
import { RotationService } from './rotation/live/rotation-service.ts';
import type { ServedUnit, ServedUnits } from './served-unit.ts';
import { openSockets } from './sockets/sockets.ts';
import { openAuthority } from './unit/authority.ts';
import type { LoadedUnit } from './unit/load-unit.ts';
import { ForecastWatch } from './watch/forecast-watch.ts';
import { RotationWatch } from './watch/rotation-watch.ts';
import { openWatch } from './watch/watch.ts';

/** Everything a server is made of. `main.ts` and a test differ only in what they pass. */
export interface AppParts {
  units: readonly LoadedUnit[];
  log: Log;
  presence: Presence;
  clock: Clock;
  logger: Logger;
  salt: () => string;
  /** Names this run of the server. */
  server: string;
  /** True when the people of the shift are simulated. */
  drill: boolean;
  clientDirectory: string;
}

export interface App {
  units: ServedUnits;
  metrics: Metrics;
  /** Resolves with the addresses to open once devices are answered; rejects when the port can't be had. */
  listen(port: number, host: string): Promise<string[]>;
  /** Ends the conversation with every device, finishes what was begun and leaves the log as it was given. */
  close(): Promise<void>;
}

export async function createApp(parts: AppParts): Promise<App> {
  const metrics = new Metrics();
  const forecaster = new ForecastThread();
  const opened = await Promise.all(parts.units.map((one) => openUnit(one, parts, metrics, forecaster)));
  const units = new Map(opened.map((one) => [one.id, one]));
  const checks = new CheckThread();
  let addresses: string[] = [];
  const http = createServer(createHttp({ ...parts, units, metrics, checks, forecaster, addresses: () => addresses }));
  const sockets = openSockets(http, { ...parts, units, metrics });
  const watches = [...units.values()].map(({ authority, forecasts }) =>
    openWatch(authority, parts.presence, parts.clock, parts.logger, forecasts),
  );
  return {
    units,
    metrics,
    async listen(port, host) {
      await listening(http, port, host);
      addresses = addressesOf(host, (http.address() as AddressInfo).port);
      return addresses;
    },
    async close() {
      for (const watch of watches) watch.stop();
      await sockets.close();
      const planning = [...units.values()].flatMap(({ rotations, repairs }) => [rotations.close(), repairs.close()]);
      await Promise.all([checks.close(), forecaster.close(), ...planning]);
      await Promise.all([...units.values()].map(({ authority }) => authority.close()));
    },
  };
}

async function openUnit(
  loaded: LoadedUnit,
  parts: AppParts,
  metrics: Metrics,
  forecaster: ForecastPlayer,
): Promise<ServedUnit> {
  const { id } = loaded.settings;
  const authority = await openAuthority(
    { id, opening: loaded.opening },
    { ...parts, onBatch: (batch) => metrics.batchAppended(batch) },
  );
  authority.onFacts((facts) => metrics.factsPublished(facts));
  const forecasts = new ForecastWatch(authority, parts.clock, parts.logger, forecaster, loaded.settings.forecast);
  const rotations = new RotationService({ ...parts, state: () => authority.state });
  const repairs = new RotationWatch(authority, parts.clock, parts.logger);
  return { id, loaded, authority, forecasts, rotations, repairs };
}

function listening(http: Server, port: number, host: string): Promise<void> {
  return new Promise((resolve, reject) => {
    http.once('error', reject);
    http.listen(port, host, () => {
      http.off('error', reject);
      resolve();
    });
  });
}
