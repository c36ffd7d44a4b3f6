import { Router, type Request } from 'express';
import { z } from 'zod';
import type { Log } from '../log/log.ts';
import type { ServedUnit, ServedUnits } from '../served-unit.ts';
import { openPart } from '../sockets/confidential.ts';
import { logPageDefault, logPageMost } from './log-page.ts';
import { RequestError } from './request-error.ts';

/** Reading a unit over plain HTTP: what the screens see, for whoever is no screen. Nothing confidential leaves this way. */
export function unitRoutes(units: ServedUnits, log: Log): Router {
  const router = Router();
  router.get('/units', (_request, response) => {
    response.json({
      units: [...units.values()].map(({ id, loaded, authority }) => ({
        id,
        name: loaded.settings.name,
        number: authority.head.number,
      })),
    });
  });
  router.get('/units/:unit/state', (request, response) => {
    const { authority } = unitOf(units, request);
    response.json({ ...authority.head, state: authority.state });
  });
  router.get('/units/:unit/roster', (request, response) => {
    const { loaded } = unitOf(units, request);
    response.json({ people: loaded.settings.people.map(({ id, name, roles }) => ({ id, name, roles })) });
  });
  router.get('/units/:unit/log', async (request, response) => {
    const { id, authority } = unitOf(units, request);
    const { after, limit } = pageOf(request);
    const facts = await readLog(log, id, after, limit);
    response.json({ facts: openPart(facts), head: Math.max(authority.head.number, facts.at(-1)?.number ?? 0) });
  });
  return router;
}

async function readLog(log: Log, ...[unit, after, limit]: Parameters<Log['read']>): ReturnType<Log['read']> {
  try {
    return await log.read(unit, after, limit);
  } catch (error) {
    throw new RequestError(503, 'unit/log-unavailable', 'The log cannot be read now. Try again in a moment.', {
      cause: error,
    });
  }
}

function unitOf(units: ServedUnits, request: Request<{ unit: string }>): ServedUnit {
  const unit = [...units.values()].find(({ id }) => id === request.params.unit);
  if (unit) return unit;
  throw new RequestError(404, 'unit/unknown', 'This server has no such unit. GET /api/units lists those it has.');
}

const wholeNumber = (what: string) =>
  z
    .string({ error: `${what} must be given once` })
    .regex(/^\d{1,15}$/, `${what} must be a whole number, not negative`)
    .transform(Number);

const page = z.object({
  after: wholeNumber('after').default(0),
  limit: wholeNumber('limit')
    .refine((limit) => limit >= 1 && limit <= logPageMost, `limit must be from 1 to ${logPageMost}`)
    .default(logPageDefault),
});

function pageOf(request: Request): { after: number; limit: number } {
  const read = page.safeParse(request.query);
  if (read.success) return read.data;
  throw new RequestError(400, 'request/bad-number', `${read.error.issues[0]?.message ?? 'The numbers are not right'}.`);
}
