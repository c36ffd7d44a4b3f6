import express, { Router, type Request, type RequestHandler } from 'express';
import { identityOf } from '../../machines/procedure/identity.ts';
import { published, publishedOverall } from '../../machines/procedure/hot-spots.ts';
import { lessonsOf } from '../../machines/procedure/lessons.ts';
import { versionOnRecord, type VersionOnRecord } from '../../machines/procedure/on-record.ts';
import { at } from '../../machines/unit/state.ts';
import { procedureId, type UnitId } from '../../machines/wire/ids.ts';
import { procedureBytesMax } from '../../machines/wire/messages.ts';
import type { Log } from '../log/log.ts';
import type { CheckThread, NotChecked } from '../procedures/check-thread.ts';
import { procedureYaml } from '../procedures/procedure-yaml.ts';
import { UnitHistory, type History } from '../procedures/unit-history.ts';
import type { ServedUnit, ServedUnits } from '../served-unit.ts';
import { RequestError } from './request-error.ts';

/**
 * A unit's procedures over plain HTTP: every version on record, as JSON or as the text to edit, what the unit has learned of them,
 * and a check of a text that is not adopted yet. The check is a POST because a text is long; like everything here it changes nothing.
 */
export function procedureRoutes(units: ServedUnits, log: Log, checks: CheckThread): Router {
  const router = Router();
  const histories = new Map([...units.keys()].map((id) => [id, new UnitHistory(log, id)]));
  const historyOf = (unit: UnitId) => readHistory(histories.get(unit));

  router.post('/units/:unit/procedures/check', ofUnit(units), yamlBody, async (request, response) => {
    const outcome = await checks.check(textOf(request));
    if ('notChecked' in outcome) throw notChecked(outcome);
    response.json(outcome);
  });
  router.get('/units/:unit/procedures', async (request, response) => {
    const { id, authority } = unitOf(units, request);
    const { versions } = await historyOf(id);
    response.json({
      versions: versions.map((one) => describe(one, at(authority.state.adopted, one.procedure.id))),
    });
  });
  router.get('/units/:unit/procedures/:id/:file', async (request, response) => {
    const { id, version, ending } = versionOf(request);
    const found = versionOnRecord((await historyOf(unitOf(units, request).id)).versions, id, version);
    if (!found)
      throw new RequestError(
        404,
        'procedure/unknown',
        'This unit has no such version on record. GET procedures lists them.',
      );
    if (ending === 'json') response.json(found.procedure);
    else
      response
        .type('text/yaml')
        .set('Content-Disposition', `attachment; filename="${id}-${version}.yaml"`)
        .send(procedureYaml(found.procedure));
  });
  router.get('/units/:unit/learning', async (request, response) => {
    response.json(lessonsIn(await historyOf(unitOf(units, request).id)));
  });
  return router;
}

function lessonsIn({ number, versions, learning }: History) {
  const lessons = versions.flatMap(({ procedure }) => {
    const learned = learning.versions[`${procedure.id}@${procedure.version}`];
    return learned ? [lessonsOf(procedure, learned)] : [];
  });
  return { number, lessons, published, publishedOverall };
}

const describe = ({ procedure, at: since, arrival }: VersionOnRecord, adopted: number | undefined) => ({
  id: procedure.id,
  version: procedure.version,
  title: procedure.title,
  mark: identityOf(procedure),
  at: since,
  adopted: procedure.version === adopted,
  arrival,
});

async function readHistory(history: UnitHistory | undefined): Promise<History> {
  try {
    if (history) return await history.read();
  } catch (error) {
    throw new RequestError(503, 'unit/log-unavailable', 'The log cannot be read now. Try again in a moment.', {
      cause: error,
    });
  }
  throw new RequestError(404, 'unit/unknown', 'This server has no such unit. GET /api/units lists those it has.');
}

/** An unknown unit is answered before anybody reads what was sent. */
const ofUnit =
  (units: ServedUnits): RequestHandler<{ unit: string }> =>
  (request, _response, next) => {
    unitOf(units, request);
    next();
  };

function unitOf(units: ServedUnits, request: { params: { unit: string } }): ServedUnit {
  const unit = [...units.values()].find(({ id }) => id === request.params.unit);
  if (unit) return unit;
  throw new RequestError(404, 'unit/unknown', 'This server has no such unit. GET /api/units lists those it has.');
}

interface Asked {
  id: string;
  version: number;
  ending: 'yaml' | 'json';
}

function versionOf({ params }: Request<{ unit: string; id: string; file: string }>): Asked {
  const [, digits, ending] = /^(\d{1,9})\.(yaml|json)$/.exec(params.file) ?? [];
  if (procedureId.safeParse(params.id).success && digits !== undefined)
    return { id: params.id, version: Number(digits), ending: ending === 'json' ? 'json' : 'yaml' };
  throw new RequestError(404, 'procedure/unknown', 'A version is asked for as number and ending, such as 2.yaml.');
}

const parseText = express.text({ type: ['text/yaml', 'application/yaml', 'text/plain'], limit: procedureBytesMax });

const yamlBody: RequestHandler<{ unit: string }> = (request, response, next) => {
  parseText(request, response, (error?: unknown) => {
    const { status } = (error ?? {}) as { status?: unknown };
    next(status === 413 ? tooLarge() : error);
  });
};

const tooLarge = () =>
  new RequestError(
    413,
    'procedure/too-large',
    `A procedure may have at most ${procedureBytesMax} bytes, which is some four times the longest one shipped. Shorten it.`,
  );

function textOf({ body }: Request<{ unit: string }>): string {
  if (typeof body === 'string') return body;
  throw new RequestError(415, 'request/not-yaml', 'Send the procedure as text, with the content type text/yaml.');
}

function notChecked({ notChecked: why }: NotChecked): RequestError {
  switch (why) {
    case 'busy':
      return new RequestError(503, 'check/busy', 'Too many procedures are being checked. Try again in a moment.');
    case 'took-too-long':
      return new RequestError(
        422,
        'check/took-too-long',
        'This text takes too long to read. Make it shorter and flatter.',
      );
    case 'failed':
      return new RequestError(500, 'server/mistake', 'The check made a mistake. Try again, and keep the text.');
    default:
      return why satisfies never;
  }
}
