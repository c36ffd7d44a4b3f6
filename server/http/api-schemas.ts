import { z } from 'zod';
import { fact } from '../../machines/wire/fact.ts';
import { unitId } from '../../machines/wire/ids.ts';
import { personRoles, unitSettings } from '../../machines/unit/settings.ts';

/** What plain HTTP answers with: the OpenAPI document is made from these, and the tests hold real answers against them. */
const number = z.int().min(0).describe('number of the last fact');
const name = z.string();
const person = z.strictObject({
  id: unitSettings.shape.people.element.shape.id,
  name,
  roles: z.array(z.enum(personRoles)),
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
  Health: z.object({ healthy: z.boolean(), units: z.record(z.string(), number) }),
  Problem: z.strictObject({
    code: z.string().describe('never changes its meaning'),
    sentence: z.string().describe('what is wrong and what to do'),
  }),
} as const;

export type ApiSchemaName = keyof typeof apiSchemas;
