import { readFileSync } from 'node:fs';
import type { Procedure } from '../../machines/procedure/procedure.ts';
import { parseProcedure } from '../../server/unit/load-procedure.ts';
import { demoFolder } from '../support/demo-unit.ts';

/** The procedures that are shipped, those that the invented unit uses and those that it does not. */
export const shippedIds = [
  'respirator-gown',
  'respirator-coverall',
  'powered-gown',
  'powered-coverall',
  'field-gown',
] as const;
export type ShippedId = (typeof shippedIds)[number];

export const shippedFile = (id: ShippedId): string => `${demoFolder}procedures/${id}.yaml`;

export function shippedProcedure(id: ShippedId): Procedure {
  const file = shippedFile(id);
  const outcome = parseProcedure(file, readFileSync(file, 'utf8'));
  if (!outcome.ok) throw new Error(outcome.problems.map((one) => `${one.file}:${one.line} ${one.sentence}`).join('\n'));
  return outcome.value;
}
