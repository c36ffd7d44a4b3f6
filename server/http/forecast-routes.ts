import { Router, type Request } from 'express';
import type { ForecastPlayer } from '../rotation/live/forecast-thread.ts';
import { forecastView, nothingAhead } from '../rotation/live/forecast-view.ts';
import { changedScenario, forecastQuestion, whatIfFigures } from '../rotation/live/forecast-what-if.ts';
import type { ServedUnit, ServedUnits } from '../served-unit.ts';
import { jsonBody, parsedJson } from './posted.ts';
import { RequestError } from './request-error.ts';

/** The forecast of a unit over plain HTTP: as it was played last, and what would be otherwise. Ids and minutes; nothing about health. */
export function forecastRoutes(units: ServedUnits, player: ForecastPlayer): Router {
  const router = Router();
  router.get('/units/:unit/forecast', (request, response) => {
    response.json(forecastOf(unitOf(units, request)));
  });
  router.post(
    '/units/:unit/forecast/what-if',
    (request, _response, next) => {
      unitOf(units, request);
      next();
    },
    jsonBody,
    async (request, response) => {
      response.json(await whatIf(unitOf(units, request), player, request));
    },
  );
  return router;
}

function forecastOf({ authority, forecasts }: ServedUnit) {
  const now = forecasts.now;
  switch (now.is) {
    case 'known':
      return forecastView(now.known);
    case 'nobody':
      return nothingAhead(authority.head.number, authority.state.at);
    case 'none':
      throw new RequestError(503, 'forecast/none-yet', 'There is no forecast of this unit now. Ask again in a moment.');
    default:
      return now satisfies never;
  }
}

async function whatIf({ forecasts }: ServedUnit, player: ForecastPlayer, request: Request<{ unit: string }>) {
  const question = questionOf(request);
  const { scenario, number, at } = forecasts.scenarioNow();
  const changed = changedScenario(scenario, question);
  if (!changed.ok) throw new RequestError(400, changed.code, changed.sentence, { where: { field: changed.field } });
  const played = await player.play<'compare'>({ kind: 'compare', before: scenario, after: changed.scenario });
  if (!played.ok) throw notPlayed(played.why);
  const { before, after } = played.worked;
  const { horizonMinutes, runs, waitQuantile, chanceHalfWidth95 } = before;
  const about = { number, at, horizonMinutes, runs, waitQuantile, chanceHalfWidth95 };
  return { ...about, before: whatIfFigures(before), after: whatIfFigures(after) };
}

function questionOf(request: Request<{ unit: string }>) {
  const read = forecastQuestion.safeParse(parsedJson(request));
  if (read.success) return read.data;
  const [issue] = read.error.issues;
  const keys = issue?.code === 'unrecognized_keys' ? issue.keys.slice(0, 1) : [];
  const field = [...(issue?.path ?? []), ...keys].join('.').slice(0, 60);
  throw new RequestError(
    400,
    'what-if/not-understood',
    `${field || 'The question'}: ${issue?.message ?? 'not right'}.`,
    {
      where: field ? { field } : {},
    },
  );
}

function notPlayed(why: 'busy' | 'closed' | 'failed'): RequestError {
  switch (why) {
    case 'busy':
      return new RequestError(503, 'forecast/busy', 'Too many ask at once. Try again in a moment.');
    case 'closed':
      return new RequestError(503, 'forecast/closing', 'This server is closing. Ask again when it is back.');
    case 'failed':
      return new RequestError(500, 'server/mistake', 'The forecast made a mistake. Try again, and tell the lead.');
    default:
      return why satisfies never;
  }
}

function unitOf(units: ServedUnits, { params }: { params: { unit: string } }): ServedUnit {
  const unit = [...units.values()].find(({ id }) => id === params.unit);
  if (unit) return unit;
  throw new RequestError(404, 'unit/unknown', 'This server has no such unit. GET /api/units lists those it has.');
}
