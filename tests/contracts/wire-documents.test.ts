import { describe, expect, it } from 'vitest';
import { asyncApi, wireSchemas } from '../../machines/wire/asyncapi.ts';
import { factKinds } from '../../machines/wire/fact.ts';
import { reportKinds } from '../../machines/wire/report.ts';
import { rights } from '../../machines/wire/rights.ts';
import { apiSchemas } from '../../server/http/api-schemas.ts';
import { openApi } from '../../server/http/openapi.ts';
import { serve } from '../support/server-fixture.ts';

/** The two documents are made from the schemas that check every message: all of them are in, and nothing else is. */
const toServer = ['beat', 'catch-up', 'hello', 'leave', 'report'];
const toDevice = ['facts', 'farewell', 'pulse'];
const answers = toServer.map((event) => `${event}.answer`);
const reports = reportKinds.map((kind) => `report.${kind}`);
const sorted = (names: readonly string[]) => [...names].sort();

function refsOf(value: unknown): string[] {
  if (typeof value !== 'object' || value === null) return [];
  return Object.entries(value).flatMap(([key, inner]) => (key === '$ref' ? [inner as string] : refsOf(inner)));
}

function at(document: unknown, ref: string): unknown {
  const path = ref.slice('#/'.length).split('/');
  return path.reduce<unknown>((inner, key) => (inner as Record<string, unknown> | undefined)?.[key], document);
}

describe('asyncapi.json', () => {
  it('is AsyncAPI 3 and describes every event as a channel, each with what is sent and what is answered', () => {
    expect(asyncApi.asyncapi).toBe('3.0.0');
    expect(sorted(Object.keys(asyncApi.channels))).toEqual(sorted([...toServer, ...toDevice]));
    const operations = Object.entries(asyncApi.operations) as [string, { action: string; reply?: object }][];
    expect(sorted(operations.map(([name]) => name))).toEqual(
      sorted([...toServer.map((event) => `take-${event}`), ...toDevice.map((event) => `send-${event}`)]),
    );
    for (const [name, { action, reply }] of operations) {
      expect(action).toBe(name.startsWith('take-') ? 'receive' : 'send');
      expect(reply === undefined).toBe(action === 'send');
    }
  });

  it('has every message and no other', () => {
    const sent = ['beat', 'catch-up', 'hello', 'leave', ...reports];
    expect(sorted(Object.keys(asyncApi.components.messages))).toEqual(
      sorted([...sent, ...answers, ...toDevice, 'refusal']),
    );
  });

  it('has every schema and no other, each with something in it', () => {
    const facts = factKinds.map((kind) => `fact.${kind}`);
    const messages = Object.keys(asyncApi.components.messages);
    expect(sorted(Object.keys(asyncApi.components.schemas))).toEqual(
      sorted([...messages, ...facts, 'fact', 'procedure']),
    );
    expect(sorted(Object.keys(wireSchemas))).toEqual(sorted(Object.keys(asyncApi.components.schemas)));
    for (const schema of Object.values(asyncApi.components.schemas))
      expect(Object.keys(schema).length).toBeGreaterThan(0);
  });

  it('every report and every fact has the schema of its own kind', () => {
    const kindOf = (name: string) =>
      (asyncApi.components.schemas[name] as { properties: { kind: { const: string } } }).properties.kind.const;
    for (const kind of reportKinds) expect(kindOf(`report.${kind}`)).toBe(kind);
    for (const kind of factKinds) expect(kindOf(`fact.${kind}`)).toBe(kind);
  });

  it('says who may send what, exactly as the table that is enforced', () => {
    expect(asyncApi['x-rights']).toEqual(rights);
    const messages = asyncApi.components.messages as Record<string, { 'x-sent-by'?: readonly string[] }>;
    for (const kind of reportKinds) expect(messages[`report.${kind}`]?.['x-sent-by']).toEqual(rights[kind]);
  });

  it('refers to nothing that is not in it', () => {
    const refs = refsOf(asyncApi);
    expect(refs.length).toBeGreaterThan(200);
    for (const ref of refs) expect(at(asyncApi, ref), ref).toBeDefined();
  });

  it('is what the server hands out', async () => {
    const { url } = await serve();
    expect(await (await fetch(`${url}/asyncapi.json`)).json()).toEqual(JSON.parse(JSON.stringify(asyncApi)));
  });
});

describe('openapi.json', () => {
  it('is OpenAPI 3.1; beside reading there are only sensors, and questions that change nothing', () => {
    expect(openApi.openapi).toBe('3.1.0');
    const others = Object.entries(openApi.paths).flatMap(([path, methods]) =>
      Object.keys(methods).flatMap((method) => (method === 'get' ? [] : [`${method} ${path.split('{unit}/')[1]}`])),
    );
    expect(sorted(others)).toEqual([
      'delete rotation/plans/{id}',
      'post climate',
      'post forecast/what-if',
      'post procedures/check',
      'post rotation/plans',
      'post what-if',
    ]);
  });

  it('has every schema and no other, and uses each', () => {
    expect(sorted(Object.keys(openApi.components.schemas))).toEqual(sorted(Object.keys(apiSchemas)));
    const used = new Set(refsOf(openApi.paths).map((ref) => ref.split('/').at(-1)));
    expect(sorted([...used] as string[])).toEqual(sorted(Object.keys(apiSchemas)));
  });

  it('refers to nothing that is not in it', () => {
    for (const ref of refsOf(openApi)) expect(at(openApi, ref), ref).toBeDefined();
  });

  it('is what the server hands out', async () => {
    const { url } = await serve();
    expect(await (await fetch(`${url}/openapi.json`)).json()).toEqual(JSON.parse(JSON.stringify(openApi)));
  });
});
