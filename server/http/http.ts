import express, { type Express, type NextFunction, type Request, type Response } from 'express';
import type { Logger } from 'pino';
import { procedureJsonSchema } from '../../machines/procedure/json-schema.ts';
import { asyncApi } from '../../machines/wire/asyncapi.ts';
import type { Log } from '../log/log.ts';
import type { CheckThread } from '../procedures/check-thread.ts';
import type { ForecastPlayer } from '../rotation/live/forecast-thread.ts';
import type { ServedUnits } from '../served-unit.ts';
import type { Clock } from '../clock.ts';
import { forecastRoutes } from './forecast-routes.ts';
import { heatRoutes } from './heat-routes.ts';
import type { Metrics } from './metrics.ts';
import { openApi } from './openapi.ts';
import { pages } from './pages.ts';
import { procedureRoutes } from './procedure-routes.ts';
import { RequestError } from './request-error.ts';
import { rotationRoutes } from './rotation-routes.ts';
import { securityHeaders } from './security-headers.ts';
import { unitRoutes } from './unit-routes.ts';

export interface HttpParts {
  units: ServedUnits;
  log: Log;
  clock: Clock;
  logger: Logger;
  metrics: Metrics;
  checks: CheckThread;
  forecaster: ForecastPlayer;
  drill: boolean;
  /** Under which addresses a device can reach this server, best first. */
  addresses: () => string[];
  clientDirectory: string;
}

/**
 * Plain HTTP: the pages, reading a unit, and what a person who runs the server asks. The one thing recorded this way is the air of
 * a room, from a sensor; a procedure that is sent to be checked is read, proved and forgotten.
 */
export function createHttp(parts: HttpParts): Express {
  const app = express();
  app.disable('x-powered-by');
  app.set('query parser', 'simple');
  app.use(securityHeaders());
  app.get('/healthz', (_request, response) => health(parts.units, response));
  app.get('/metrics', async (_request, response) => {
    response.type(parts.metrics.registry.contentType).send(await parts.metrics.registry.metrics());
  });
  app.get('/asyncapi.json', (_request, response) => void response.json(asyncApi));
  app.get('/openapi.json', (_request, response) => void response.json(openApi));
  app.get('/schema/procedure.json', (_request, response) => void response.json(procedureJsonSchema()));
  app.use('/api', api(parts));
  app.use(pages(parts.clientDirectory));
  app.use((request: Request) => {
    throw unknownPath(request);
  });
  app.use((error: unknown, request: Request, response: Response, next: NextFunction) => {
    if (response.headersSent) return next(error);
    answerError(parts.logger, error, request, response);
  });
  return app;
}

function api(parts: HttpParts): express.Router {
  const router = express.Router();
  router.use((_request, response, next) => {
    response.set('Cache-Control', 'no-store');
    next();
  });
  router.get('/here', (_request, response) => {
    const [unit] = parts.units.values();
    response.json({
      unit: unit?.id,
      name: unit?.loaded.settings.name,
      drill: parts.drill,
      addresses: parts.addresses(),
    });
  });
  router.use(unitRoutes(parts.units, parts.log));
  router.use(heatRoutes(parts.units, parts.clock));
  router.use(forecastRoutes(parts.units, parts.forecaster));
  router.use(rotationRoutes(parts.units, parts.clock));
  router.use(procedureRoutes(parts.units, parts.log, parts.checks));
  router.use((request) => {
    throw unknownPath(request);
  });
  return router;
}

/** Healthy means: this server can still follow every log it serves. */
function health(units: ServedUnits, response: Response): void {
  const faults = [...units.values()].flatMap(({ authority }) => authority.fault ?? []);
  const numbers = Object.fromEntries([...units.values()].map(({ id, authority }) => [id, authority.head.number]));
  if (faults.length === 0) response.json({ healthy: true, units: numbers });
  else
    response
      .status(503)
      .json({ healthy: false, units: numbers, code: 'unit/log-unavailable', sentence: faults.join(' ') });
}

function unknownPath({ method, baseUrl, path }: Request): RequestError {
  if (method !== 'GET' && method !== 'HEAD')
    return new RequestError(
      405,
      'request/read-only',
      'Over HTTP this server is only read, except for readings of sensors and questions that change nothing: /openapi.json lists them. Devices report over their socket.',
    );
  const known = baseUrl === '/api' ? ' /openapi.json lists what there is.' : '';
  return new RequestError(404, 'request/unknown-path', `There is nothing at ${baseUrl}${path}.${known}`.slice(0, 300));
}

function answerError(logger: Logger, error: unknown, { method, path }: Request, response: Response): void {
  const known = error instanceof RequestError ? error : fromFramework(error);
  if (known.status >= 500) logger.error({ err: error, method, path }, 'request failed');
  response.status(known.status).json({ code: known.code, sentence: known.message, ...known.where });
}

/** Express refuses some requests itself (a path that can't be decoded); anything else is a bug, in plain words outward. */
function fromFramework(error: unknown): RequestError {
  const { status } = error as { status?: unknown };
  if (typeof status === 'number' && status >= 400 && status < 500)
    return new RequestError(status, 'request/not-understood', 'The request was not understood. Check its address.');
  return new RequestError(
    500,
    'server/mistake',
    'The server made a mistake, which is noted. Try again, and tell the lead.',
  );
}
