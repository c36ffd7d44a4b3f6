import express, { Router, type Request, type RequestHandler } from 'express';
import type { Clock } from '../clock.ts';
import { outsideRangeOf } from '../heat/live/advice.ts';
import { exposures, type Exposure } from '../heat/live/exposure.ts';
import { LiveStrain, strainPoints, type Body } from '../heat/live/live-strain.ts';
import { rectalTemperatureLimitC } from '../heat/predicted-heat-strain.ts';
import { rounded } from '../heat/printed-limits.ts';
import { prepareConditions } from '../heat/strain-conditions.ts';
import type { ServedUnit, ServedUnits } from '../served-unit.ts';
import { newReadings, readCsvReadings, readJsonReadings, type Read, type SentReadings } from './climate-readings.ts';
import { RequestError } from './request-error.ts';
import { whatIf, whatIfQuestion } from './what-if.ts';

/**
 * Heat over plain HTTP: readings from sensors (the one thing that can be recorded this way), the strain that is predicted for
 * everybody in equipment, and questions of what would be. JSON and CSV only: a browser does not send those from a page of another
 * site without asking this server first, which does not answer that.
 */
export function heatRoutes(units: ServedUnits, clock: Clock): Router {
  const router = Router();
  const ofUnit: RequestHandler<{ unit: string }> = (request, _response, next) => {
    unitOf(units, request);
    next();
  };
  router.post('/units/:unit/climate', ofUnit, text(['application/json', 'text/csv']), async (request, response) => {
    response.json(await record(unitOf(units, request), request, clock.now()));
  });
  router.post('/units/:unit/what-if', ofUnit, text(['application/json']), (request, response) => {
    const answer = whatIf(unitOf(units, request).authority.state, questionOf(request));
    if (!answer.ok) throw new RequestError(answer.code === 'what-if/no-heat' ? 409 : 400, answer.code, answer.sentence);
    response.json(answer.limits);
  });
  router.get('/units/:unit/strain', (request, response) => {
    const { state } = unitOf(units, request).authority;
    const now = clock.now();
    response.json({ at: now, workers: new LiveStrain().follow(exposures(state, now)).map(strainOf) });
  });
  return router;
}

async function record({ authority }: ServedUnit, request: Request<{ unit: string }>, now: number) {
  const { sensor, readings } = taken(readingsOf(authority.state, request, now));
  const fresh = newReadings(readings, authority.state);
  if (fresh.length === 0) return { accepted: readings.length, numbers: [] };
  const answer = await authority.readings(fresh, sensor);
  if (!answer.accepted) throw new RequestError(503, answer.code, answer.sentence);
  return { accepted: readings.length, numbers: answer.numbers };
}

function readingsOf(state: ServedUnit['authority']['state'], request: Request<{ unit: string }>, now: number) {
  const { sensor, ...others } = request.query;
  const isJson = Boolean(request.is('application/json'));
  const [unknown] = Object.keys(isJson ? request.query : others);
  if (unknown !== undefined)
    throw new RequestError(
      400,
      'climate/unknown-field',
      `The address asks for "${unknown.slice(0, 40)}", which is not read.`,
    );
  const sent = textOf(request);
  return isJson ? readJsonReadings(sent, state, now) : readCsvReadings(sent, sensor, state, now);
}

function taken(read: Read<SentReadings>): SentReadings {
  if (read.ok) return read.value;
  const { code, sentence, ...where } = read.problem;
  throw new RequestError(400, code, sentence, { where });
}

function questionOf(request: Request<{ unit: string }>) {
  const read = whatIfQuestion.safeParse(parsed(textOf(request)));
  if (read.success) return read.data;
  const [issue] = read.error.issues;
  const field = issue?.path.join('.') ?? '';
  throw new RequestError(
    400,
    'what-if/not-understood',
    `${field || 'The question'}: ${issue?.message ?? 'not right'}.`,
    {
      where: field ? { field } : {},
    },
  );
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    throw new RequestError(400, 'request/not-json', 'This is not JSON. Check what was sent.');
  }
}

/** The prediction for the unit's average person in the conditions of this entry: nothing of it was measured on anybody. */
function strainOf({ exposure, ahead }: Body) {
  const outsideRange = outsideRangeOf(exposure);
  const reached = [ahead.coreTemperatureMin, ahead.waterLossMin].filter((minute) => minute !== undefined);
  return {
    worker: exposure.worker,
    entry: exposure.entry,
    donnedAt: exposure.donnedAt,
    minute: exposure.minutesPassed,
    points: strainPoints(exposure, 5).map(({ minute, rectalTemperatureC, waterLossG }) => ({
      minute,
      rectalTemperatureC: rounded(rectalTemperatureC, 3),
      waterLossG: rounded(waterLossG, 1),
    })),
    limitRectalTemperatureC: rectalTemperatureLimitC,
    limitWaterLossG: waterLossLimitG(exposure),
    ...(reached.length > 0 && { reachedMin: Math.min(...reached) }),
    indicative: outsideRange.length > 0,
    outsideRange,
  };
}

const waterLossLimitG = ({ person, spans }: Exposure): number =>
  rounded(prepareConditions(person, spans[0].conditions).waterLoss95LimitG, 1);

function unitOf(units: ServedUnits, { params }: { params: { unit: string } }): ServedUnit {
  const unit = [...units.values()].find(({ id }) => id === params.unit);
  if (unit) return unit;
  throw new RequestError(404, 'unit/unknown', 'This server has no such unit. GET /api/units lists those it has.');
}

export const postedBytesMax = 64 * 1024;

/** Takes what was posted as text, of these types only; compressed bodies are refused, so that 64 KB are 64 KB. */
function text(types: readonly string[]): RequestHandler<{ unit: string }> {
  const read = express.text({ type: [...types], limit: postedBytesMax, inflate: false });
  return (request, response, next) => {
    if (!request.is([...types]))
      return next(new RequestError(415, 'request/wrong-type', `Send it with the content type ${types.join(' or ')}.`));
    read(request, response, (error?: unknown) => {
      const { status } = (error ?? {}) as { status?: unknown };
      next(status === 413 ? tooLarge() : error);
    });
  };
}

const tooLarge = () =>
  new RequestError(413, 'request/too-large', `At most ${postedBytesMax / 1024} KB are read at once. Send it in parts.`);

/** An empty body is left out by the framework: it is the empty text. */
const textOf = ({ body }: { body?: unknown }): string => (typeof body === 'string' ? body : '');
