import { z } from 'zod';
import { wireVersion } from '../../machines/wire/report.ts';
import { apiSchemas, type ApiSchemaName } from './api-schemas.ts';
import { readingsMost } from './climate-readings.ts';
import { logPageDefault, logPageMost } from './log-page.ts';

/** Plain HTTP as an OpenAPI 3.1 document. */
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
const oneVersion = [
  { name: 'id', in: 'path', required: true, schema: { type: 'string' }, description: 'id of the procedure' },
  { name: 'version', in: 'path', required: true, schema: { type: 'integer', minimum: 1 }, description: 'its number' },
];
const noUnit = { '404': problem('This server has no such unit.') };
const planId = { name: 'id', in: 'path', required: true, schema: { type: 'string' }, description: 'id of the plan' };
const noPlan = { '404': problem('There is no such plan any more.') };
const query = (name: string, description: string, schema: object) => ({ name, in: 'query', description, schema });
const posted = {
  '413': problem('It is too long.'),
  '415': problem('It was sent as something else.'),
};
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
      'For reading, for questions that change nothing, and for sensors that measure the air of a room; devices report over their socket (see /asyncapi.json). Confidential parts of facts are never here. Every error is a code and a sentence.',
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
    '/api/units/{unit}/procedures': get(
      'Every version of every procedure on record, and which is adopted',
      ['the versions', 'Procedures'],
      { ...noUnit, '503': problem('The log is out of reach.') },
      [unit],
    ),
    '/api/units/{unit}/procedures/{id}/{version}.json': get(
      'One version; the same address ending in .yaml is the text to edit',
      ['the procedure', 'Procedure'],
      { '404': problem('This server has no such unit, or the unit no such version.') },
      [unit, ...oneVersion],
    ),
    '/api/units/{unit}/procedures/check': {
      post: {
        summary: 'Reads and proves a procedure as adopting it would. Nothing is changed',
        parameters: [unit],
        requestBody: { required: true, content: { 'text/yaml': { schema: { type: 'string' } } } },
        responses: {
          '200': answer('what is wrong and where, or what the proof says', 'Checked'),
          ...noUnit,
          '413': problem('The text is too long.'),
          '415': problem('It was not sent as text.'),
          '422': problem('It takes too long to read.'),
          '503': problem('Too many are being checked.'),
        },
      },
    },
    '/api/units/{unit}/learning': get(
      'What the log says about the steps of each procedure',
      ['counts, times and steps that deserve training', 'Learning'],
      { ...noUnit, '503': problem('The log is out of reach.') },
      [unit],
    ),
    '/api/units/{unit}/climate': {
      post: {
        summary: 'Records the air of rooms, as sensors read it: all of the readings, or none',
        parameters: [unit, query('sensor', 'for a table: its name', { type: 'string', minLength: 1, maxLength: 60 })],
        requestBody: {
          required: true,
          description: `At most ${readingsMost} readings and 64 KB, none older than 24 hours; one in five to fifteen minutes is enough. A table has a header row with the names of the fields.`,
          content: {
            ...json('Readings'),
            'text/csv': {
              schema: { type: 'string' },
              example: 'room,at,airTemperatureC,relativeHumidityPct\nroom-1,2026-03-02T08:30:00Z,23.5,45',
            },
          },
        },
        responses: {
          '200': answer('they are on record', 'Recorded'),
          '400': problem('One row will not do, by its number and field: nothing was recorded.'),
          ...noUnit,
          ...posted,
          '503': problem('The log is out of reach.'),
        },
      },
    },
    '/api/units/{unit}/what-if': {
      post: {
        summary: "What would govern, in such air with such work, for the unit's average person. Nothing is changed",
        parameters: [unit],
        requestBody: { required: true, content: json('Question') },
        responses: {
          '200': answer('limits, and which one governs', 'WhatIf'),
          '400': problem('The question will not do.'),
          ...noUnit,
          '409': problem('The unit or the procedure has no heat section.'),
          ...posted,
        },
      },
    },
    '/api/units/{unit}/strain': get(
      'Predicted heat strain of everybody in equipment, past and ahead',
      ['predictions for an average person', 'Strain'],
      noUnit,
      [unit],
    ),
    '/api/units/{unit}/forecast': get(
      'Who is likely to wait for a lane or an observer, and what would help',
      ['the forecast as it was played last', 'Forecast'],
      { ...noUnit, '503': problem('There is none yet.') },
      [unit],
    ),
    '/api/units/{unit}/forecast/what-if': {
      post: {
        summary: 'What would be with an observer less, more lanes, or longer doffing. Nothing is changed',
        parameters: [unit],
        requestBody: { required: true, content: json('ForecastQuestion') },
        responses: {
          '200': answer('before and after, with the same chance', 'ForecastWhatIf'),
          '400': problem('The question will not do.'),
          ...noUnit,
          ...posted,
          '503': problem('Too many ask at once.'),
        },
      },
    },
    '/api/units/{unit}/rotation/plans': {
      ...get('The last few plans of the rotation', ['which there are', 'Plans'], noUnit, [unit]),
      post: {
        summary: 'Asks for a plan of who goes in when. Nothing in the unit is changed: a plan is adopted by a report',
        parameters: [unit],
        requestBody: { required: true, content: json('PlanAsk') },
        responses: {
          '202': answer('it is being made', 'PlanStarted'),
          '400': problem('The question will not do.'),
          ...noUnit,
          '409': problem('The unit is not set up for it, or a plan is being made already.'),
          ...posted,
        },
      },
    },
    '/api/units/{unit}/rotation/plans/{id}': {
      ...get('A plan, the best so far while it is being made', ['the plan', 'Plan'], noPlan, [unit, planId]),
      delete: {
        summary: 'Ends the planning and keeps the best so far',
        parameters: [unit, planId],
        responses: { '200': answer('the plan as it is kept', 'Plan'), ...noPlan },
      },
    },
    '/api/units/{unit}/rotation/repair': get(
      'Where reality has left the adopted rotation, and one that would fit',
      ['what is offered; nothing is adopted by itself', 'Repair'],
      noUnit,
      [unit],
    ),
    '/healthz': get('Whether this server can follow its logs', ['it can', 'Health'], {
      '503': answer('it can not', 'Health'),
    }),
  },
  components: { schemas: schemas() },
};
