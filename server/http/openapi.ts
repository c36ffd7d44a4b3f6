import { z } from 'zod';
import { wireVersion } from '../../machines/wire/report.ts';
import { apiSchemas, type ApiSchemaName } from './api-schemas.ts';
import { logPageDefault, logPageMost } from './log-page.ts';

/** Reading over plain HTTP as an OpenAPI 3.1 document. */
const json = (name: ApiSchemaName) => ({
  'application/json': { schema: { $ref: `#/components/schemas/${name}` } },
});
const answer = (description: string, name: ApiSchemaName) => ({ description, content: json(name) });
const problem = (description: string) => answer(description, 'Problem');

function get(
  summary: string,
  good: [string, ApiSchemaName],
  others: Record<string, object> = {},
  parameters: object[] = [],
) {
  return {
    get: {
      summary,
      ...(parameters.length > 0 && { parameters }),
      responses: { '200': answer(...good), ...others },
    },
  };
}

const unit = { name: 'unit', in: 'path', required: true, schema: { type: 'string' }, description: 'id of the unit' };
const noUnit = { '404': problem('This server has no such unit.') };
const query = (name: string, description: string, schema: object) => ({ name, in: 'query', description, schema });
const logPage = [
  query('after', 'facts with a higher number than this', { type: 'integer', minimum: 0, default: 0 }),
  query('limit', 'at most so many', { type: 'integer', minimum: 1, maximum: logPageMost, default: logPageDefault }),
];

function schemas(): Record<string, object> {
  const registry = z.registry<{ id: string }>();
  for (const [id, schema] of Object.entries(apiSchemas)) registry.add(schema, { id });
  const made = z.toJSONSchema(registry, { uri: (id) => `#/components/schemas/${id}` }).schemas;
  return Object.fromEntries(
    Object.entries(made).map(([id, { $id: _id, $schema: _schema, ...schema }]) => [id, schema]),
  );
}

export const openApi = {
  openapi: '3.1.0',
  info: {
    title: 'Anteroom, reading a unit',
    version: `${wireVersion}.0.0`,
    description:
      'For reading only; devices report over their socket (see /asyncapi.json). Confidential parts of facts are never here. Every error is a code and a sentence.',
    license: { name: 'MIT', identifier: 'MIT' },
  },
  paths: {
    '/api/here': get('Which unit this server serves, and where it is reached', [
      'the server as a device sees it',
      'Here',
    ]),
    '/api/units': get('The units of this server', ['its units', 'Units']),
    '/api/units/{unit}/state': get('The state of a unit at the end of its log', ['the folded state', 'State'], noUnit, [
      unit,
    ]),
    '/api/units/{unit}/log': get(
      'Facts of a unit, in order',
      ['facts after the number, and the number of the last', 'Log'],
      { '400': problem('A number is not right.'), ...noUnit, '503': problem('The log is out of reach.') },
      [unit, ...logPage],
    ),
    '/api/units/{unit}/roster': get('Who belongs to a unit, by name', ['its people', 'Roster'], noUnit, [unit]),
    '/healthz': get('Whether this server can follow its logs', ['it can', 'Health'], {
      '503': answer('it can not', 'Health'),
    }),
  },
  components: { schemas: schemas() },
};
