import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { format } from 'prettier';
import { describe, expect, it } from 'vitest';
import { assumptionWords } from '../../machines/procedure/assumptions.ts';
import { procedureJsonSchema } from '../../machines/procedure/json-schema.ts';
import { bareSurfaces } from '../../machines/procedure/order.ts';
import { procedure } from '../../machines/procedure/procedure.ts';
import {
  agentUses,
  assumptionNames,
  comingOff,
  layer,
  procedureProofFields,
  stepProofFields,
} from '../../machines/procedure/proof-fields.ts';
import { faultKinds } from '../../machines/procedure/faults.ts';
import { ruleNames } from '../../machines/procedure/rules.ts';

const docs = fileURLToPath(new URL('../../docs/', import.meta.url));

/** Written anew with `npx vitest run tests/checks/prover-schema.test.ts -u`. */
it('docs/procedure.schema.json is the schema of today', async () => {
  const text = await format(JSON.stringify(procedureJsonSchema()), { parser: 'json', printWidth: 120 });
  await expect(text).toMatchFileSnapshot(`${docs}procedure.schema.json`);
});

describe('docs/procedures.md', () => {
  const text = readFileSync(`${docs}procedures.md`, 'utf8');
  const named = (name: string) => text.includes(`\`${name}\``);

  it.each([
    ['rule', ruleNames],
    ['assumption', assumptionNames],
    ['surface', [...bareSurfaces]],
    ['use of an agent', agentUses],
    ['way of coming off', comingOff],
    ['field of a step', Object.keys(stepProofFields)],
    ['field of a layer', Object.keys(layer.shape)],
    ['field of a procedure', [...Object.keys(procedureProofFields), ...Object.keys(procedure.shape)]],
  ])('explains every %s', (_, names) => expect(names.filter((name) => !named(name))).toEqual([]));

  it('explains every assumption in the words of the program, and every kind of fault', () => {
    for (const words of Object.values(assumptionWords)) expect(text.replaceAll(/\s+/g, ' ')).toContain(words);
    for (const words of Object.values(faultKinds)) expect(text).toContain(words);
  });
});
