import { z } from 'zod';
import { fact, sensorName } from '../../machines/wire/fact.ts';
import { procedure } from '../../machines/procedure/procedure.ts';
import { entryId, personId, procedureId, roomId, unitId } from '../../machines/wire/ids.ts';
import { climate } from '../../machines/unit/heat-settings.ts';
import { personRoles, unitSettings } from '../../machines/unit/settings.ts';
import { readingsMost } from './climate-readings.ts';
import { forecastSchemas } from './forecast-schemas.ts';
import { rotationSchemas } from './rotation-schemas.ts';
import { whatIfQuestion } from './what-if.ts';

/** What plain HTTP answers with: the OpenAPI document is made from these, and the tests hold real answers against them. */
const number = z.int().min(0).describe('number of the last fact');
const name = z.string();
const person = z.strictObject({
  id: unitSettings.shape.people.element.shape.id,
  name,
  roles: z.array(z.enum(personRoles)),
});

const instant = z.int().min(0).describe('milliseconds since 1970-01-01T00:00Z');

const climateReadings = z.strictObject({
  sensor: sensorName,
  readings: z
    .array(
      z.strictObject({
        room: roomId,
        at: z
          .union([instant, z.iso.datetime({ offset: true })])
          .optional()
          .describe('left out: now'),
        ...climate.shape,
      }),
    )
    .min(1)
    .max(readingsMost),
});

const workerStrain = z.strictObject({
  worker: personId,
  entry: entryId,
  donnedAt: instant,
  minute: z.int().min(0).describe('minutes in equipment; points up to it are past, the others ahead'),
  points: z.array(z.strictObject({ minute: z.int().min(0), rectalTemperatureC: z.number(), waterLossG: z.number() })),
  limitRectalTemperatureC: z.number(),
  limitWaterLossG: z.number(),
  reachedMin: z
    .int()
    .min(1)
    .optional()
    .describe('the minute in which the first of the two is reached; absent: not by the horizon'),
  indicative: z.boolean().describe('true: outside what the calculation was validated for'),
  outsideRange: z.array(z.string()).describe('which inputs are'),
});

export const apiSchemas = {
  Here: z.strictObject({
    unit: unitId,
    name,
    drill: z.boolean().describe('true when the people and the shift are invented'),
    addresses: z.array(z.url()).describe('under which a device can open this server, best first'),
  }),
  Units: z.strictObject({ units: z.array(z.strictObject({ id: unitId, name, number })) }),
  State: z.strictObject({
    number,
    hash: z.string().length(64).describe('of that fact: whoever folds the log to this number gets this state'),
    state: z.looseObject({ unit: unitId, number }),
  }),
  Log: z.strictObject({ facts: z.array(fact), head: number }),
  Roster: z.strictObject({ people: z.array(person) }),
  Procedures: z.strictObject({
    versions: z.array(
      z.strictObject({
        id: procedureId,
        version: z.int().min(1),
        title: z.string(),
        mark: z.string().describe('of everything this version says: a printed card with another mark is out of date'),
        at: z.int().min(0).describe('when the log first had it, milliseconds since 1970-01-01T00:00Z'),
        adopted: z.boolean().describe('a new entry gets this version'),
        arrival: z.looseObject({ how: z.enum(['files', 'proved', 'override']) }),
      }),
    ),
  }),
  Procedure: procedure,
  Checked: z.union([
    z.strictObject({
      problems: z.array(
        z.strictObject({ line: z.int().min(1), column: z.int().min(1), code: z.string(), sentence: z.string() }),
      ),
    }),
    z.strictObject({
      procedure,
      proof: z.looseObject({ verdict: z.enum(['proved', 'not-proved', 'undecided', 'unfit']) }),
      mend: z.strictObject({ sentences: z.array(z.string()), yaml: z.string() }).nullable(),
    }),
  ]),
  Learning: z.strictObject({
    number,
    lessons: z.array(
      z.looseObject({
        procedure: procedureId,
        version: z.int().min(1),
        entries: z.int().min(0),
        enough: z.boolean().describe('false: too few entries to conclude anything from'),
        train: z.array(z.string()).describe('steps that deserve training, the worst first'),
      }),
    ),
    published: z.array(z.strictObject({ hotSpot: z.string(), finding: z.string(), source: z.string() })),
    publishedOverall: z.array(z.strictObject({ finding: z.string(), source: z.string() })),
  }),
  Readings: climateReadings,
  Recorded: z.strictObject({
    accepted: z.int().min(1).describe('readings; those the unit had already are among them and write nothing'),
    numbers: z.array(z.int().min(1)).describe('of the facts they became, and of what followed at once'),
  }),
  Question: whatIfQuestion,
  WhatIf: z.strictObject({
    governing: z.strictObject({ minutes: z.number(), reason: z.string(), source: z.string(), caution: z.string() }),
    predictedHeatStrain: z.looseObject({ limitCoreTemperatureMin: z.number(), outsideRange: z.array(z.string()) }),
    screening: z.looseObject({ effectiveWbgtC: z.number(), over: z.boolean(), firstCheckMin: z.number().optional() }),
    caution: z.string(),
  }),
  Strain: z
    .strictObject({ at: instant, workers: z.array(workerStrain) })
    .describe('predicted for an average person in the conditions of each entry; nothing of it was measured on anybody'),
  ...forecastSchemas,
  ...rotationSchemas,
  Health: z.object({ healthy: z.boolean(), units: z.record(z.string(), number) }),
  Problem: z.strictObject({
    code: z.string().describe('never changes its meaning'),
    sentence: z.string().describe('what is wrong and what to do'),
    row: z.int().min(1).optional().describe('of what was posted, the first that will not do; a header is not counted'),
    field: z.string().optional().describe('of what was posted'),
  }),
} as const;

export type ApiSchemaName = keyof typeof apiSchemas;
