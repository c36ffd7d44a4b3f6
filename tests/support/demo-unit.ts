import { fileURLToPath } from 'node:url';
import type { Procedure } from '../../machines/procedure/procedure.ts';
import { loadUnit, type LoadedUnit } from '../../server/unit/load-unit.ts';

export const demoFolder = fileURLToPath(new URL('../../demo-data/', import.meta.url));
export const demoUnitFile = `${demoFolder}unit.yaml`;

/** The shipped unit, opened on a day of the test's choice. */
export function demoUnit(openedOn = '2026-03-02'): LoadedUnit {
  const outcome = loadUnit(demoUnitFile, { openedOn });
  if (!outcome.ok) throw new Error(outcome.problems.map((one) => `${one.file}:${one.line} ${one.sentence}`).join('\n'));
  return outcome.unit;
}

export function demoProcedure(id: string): Procedure {
  const found = demoUnit().procedures.find((one) => one.id === id);
  if (!found) throw new Error(`the demo unit has no procedure "${id}"`);
  return found;
}
