import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import type { z } from 'zod';
import { fold } from '../../machines/unit/fold.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import { apiSchemas, type ApiSchemaName } from '../../server/http/api-schemas.ts';
import { openApi } from '../../server/http/openapi.ts';
import { verifyChain } from '../../server/log/hash-chain.ts';
import { temporaryDirectories } from '../contracts/temporary-directory.ts';
import { serve, tabletAt, type TestServer } from '../support/server-fixture.ts';

const temporary = temporaryDirectories();

async function get(server: TestServer, path: string, init: RequestInit = {}) {
  const response = await fetch(`${server.url}${path}`, init);
  const text = await response.text();
  return { status: response.status, headers: response.headers, text, json: () => JSON.parse(text) as unknown };
}

const read = <Name extends ApiSchemaName>(name: Name, value: unknown) =>
  apiSchemas[name].parse(value) as z.infer<(typeof apiSchemas)[Name]>;

describe('reading a unit', () => {
  it('every path to read in the OpenAPI document answers as it says', async () => {
    const server = await serve();
    const paths = Object.entries(openApi.paths).flatMap(([path, item]) => ('get' in item ? [{ path, ...item }] : []));
    expect(paths.length).toBeGreaterThan(8);
    // A plan must have been asked for: rotation-http.test.ts.
    for (const { path, get: operation } of paths.filter((one) => !one.path.endsWith('/rotation/plans/{id}'))) {
      const address = path.replace('{unit}', 'small').replace('{id}', 'gown').replace('{version}', '1');
      const answer = await get(server, address);
      const { $ref } = operation.responses['200'].content['application/json'].schema;
      expect(answer.status).toBe(200);
      read($ref.slice('#/components/schemas/'.length) as ApiSchemaName, answer.json());
    }
  });

  it('every path to post to in the OpenAPI document is tested by name', () => {
    const posts = Object.entries(openApi.paths).flatMap(([path, item]) => ('post' in item ? [path] : []));
    // procedures-http.test.ts, climate-http.test.ts, forecast-http.test.ts, rotation-http.test.ts
    expect(posts.map((path) => path.replace('/api/units/{unit}/', '')).sort()).toEqual([
      'climate',
      'forecast/what-if',
      'procedures/check',
      'rotation/plans',
      'what-if',
    ]);
  });

  it('the format of a procedure is there as a JSON Schema, the one that the docs hold', async () => {
    const { json } = await get(await serve(), '/schema/procedure.json');
    const inDocs = readFileSync(new URL('../../docs/procedure.schema.json', import.meta.url), 'utf8');
    expect(json()).toEqual(JSON.parse(inDocs));
  });

  it('the log folds to the state, and its chain holds without the confidential parts', async () => {
    const server = await serve();
    const tablet = await tabletAt(server, 'o1');
    await tablet.says('start-duty');
    const { facts } = read('Log', (await get(server, '/api/units/small/log')).json());
    const state = read('State', (await get(server, '/api/units/small/state')).json());
    expect(facts.reduce<UnitState | undefined>(fold, undefined)).toEqual(state.state);
    expect(await verifyChain(facts)).toMatchObject({ ok: true, head: { number: state.number, hash: state.hash } });
  });

  it('the log comes in pages', async () => {
    const server = await serve();
    const tablet = await tabletAt(server, 'o1');
    for (const kind of ['start-duty', 'start-break', 'end-break'] as const) await tablet.says(kind);
    const page = read('Log', (await get(server, '/api/units/small/log?after=2&limit=2')).json());
    expect(page.facts.map((fact) => fact.number)).toEqual([3, 4]);
    expect(page.head).toBe(5);
    expect(read('Log', (await get(server, '/api/units/small/log?after=5')).json()).facts).toEqual([]);
  });

  it('the roster has names, which are nowhere in the log', async () => {
    const server = await serve();
    const { people } = read('Roster', (await get(server, '/api/units/small/roster')).json());
    expect(people).toContainEqual({ id: 'o1', name: 'Zephyrine-o1-Quill', roles: ['observer'] });
    expect((await get(server, '/api/units/small/log')).text).not.toContain('Zephyrine');
  });
});

describe('what is asked wrongly', () => {
  it.each([
    ['/api/units/other/state', 404, 'unit/unknown'],
    ['/api/units/other/log', 404, 'unit/unknown'],
    ['/api/units/__proto__/state', 404, 'unit/unknown'],
    ['/api/units/small/log?after=-1', 400, 'request/bad-number'],
    ['/api/units/small/log?after=1.5', 400, 'request/bad-number'],
    ['/api/units/small/log?after=1e3', 400, 'request/bad-number'],
    ['/api/units/small/log?after=', 400, 'request/bad-number'],
    ['/api/units/small/log?after=1&after=2', 400, 'request/bad-number'],
    ['/api/units/small/log?limit=0', 400, 'request/bad-number'],
    ['/api/units/small/log?limit=100000', 400, 'request/bad-number'],
    ['/api', 404, 'request/unknown-path'],
    ['/api/nothing', 404, 'request/unknown-path'],
    ['/api/units/small', 404, 'request/unknown-path'],
    ['/no-such-file.js', 404, 'request/unknown-path'],
    ['/../package.json', 404, 'request/unknown-path'],
    ['/%2e%2e/package.json', 404, 'request/unknown-path'],
    ['/%E0%A4%A', 400, 'request/not-understood'],
  ])('%s is %i %s', async (path, status, code) => {
    const server = await serve();
    const answer = await get(server, path);
    expect([answer.status, read('Problem', answer.json()).code]).toEqual([status, code]);
  });

  it.each(['POST', 'PUT', 'DELETE'])('%s changes nothing', async (method) => {
    const server = await serve();
    const answer = await get(server, '/api/units/small/state', { method, body: '{}' });
    expect([answer.status, read('Problem', answer.json()).code]).toEqual([405, 'request/read-only']);
  });

  it('while the log is away, reading it says so; the state is still there', async () => {
    const server = await serve();
    server.log.mood = 'gone';
    const answer = await get(server, '/api/units/small/log');
    expect([answer.status, read('Problem', answer.json()).code]).toEqual([503, 'unit/log-unavailable']);
    expect((await get(server, '/api/units/small/state')).status).toBe(200);
  });
});

describe('the pages', () => {
  function built(): string {
    const directory = temporary();
    mkdirSync(join(directory, 'assets'));
    writeFileSync(join(directory, 'index.html'), '<!doctype html><title>the page</title>');
    writeFileSync(join(directory, 'assets', 'app-1.js'), 'export {};');
    return directory;
  }

  it('every address without a file ending is the one page; a missing file is missing', async () => {
    const server = await serve({ clientDirectory: built() });
    for (const path of ['/', '/board', '/tablet', '/safety', '/anything/else'])
      expect(await get(server, path)).toMatchObject({
        status: 200,
        text: expect.stringContaining('the page') as string,
      });
    expect(await get(server, '/assets/app-1.js')).toMatchObject({ status: 200, text: 'export {};' });
    expect((await get(server, '/assets/app-2.js')).status).toBe(404);
    expect((await get(server, '/board.html')).status).toBe(404);
  });

  it('that are not built are said to be so', async () => {
    const answer = await get(await serve(), '/board');
    expect([answer.status, read('Problem', answer.json()).code]).toEqual([503, 'pages/not-built']);
  });

  it('may load only from this server, over plain http too', async () => {
    const server = await serve({ clientDirectory: built() });
    const { headers } = await get(server, '/');
    const policy = headers.get('content-security-policy') ?? '';
    expect(policy).toContain("default-src 'self'");
    expect(policy).toContain(`connect-src 'self' ws://${new URL(server.url).host} `);
    expect(policy).not.toMatch(/unsafe-eval|upgrade-insecure-requests|\*/);
    expect(policy.match(/script-src [^;]*/)?.[0]).toBe("script-src 'self'");
    expect(headers.has('strict-transport-security')).toBe(false);
    expect(headers.has('x-powered-by')).toBe(false);
  });
});

describe('running it', () => {
  it('says where it is reached, which unit it serves, and whether this is a drill', async () => {
    const server = await serve({ drill: true });
    expect((await get(server, '/api/here')).json()).toEqual({
      unit: 'small',
      name: 'Small unit',
      drill: true,
      addresses: [server.url],
    });
  });

  it('is healthy while it can follow its logs, and says what is wrong when it can not', async () => {
    const server = await serve();
    expect(await get(server, '/healthz')).toMatchObject({ status: 200 });
    const authority = [...server.app.units.values()][0]!.authority;
    Object.defineProperty(authority, 'fault', { value: 'fact 9 does not fit' });
    const answer = await get(server, '/healthz');
    expect(answer.status).toBe(503);
    expect(answer.json()).toMatchObject({ healthy: false, sentence: 'fact 9 does not fit' });
  });

  it('counts facts, reports by answer, appends and what they shared, sockets and alerts', async () => {
    const server = await serve();
    const tablet = await tabletAt(server, 'o1');
    const report = tablet.report('start-duty');
    await tablet.ask('report', report);
    await tablet.ask('report', report);
    await tablet.says('start-duty');
    expect(await server.metric('anteroom_facts_total{kind="duty-started"}')).toBe(2);
    expect(await server.metric('anteroom_reports_total{answer="accepted",code=""}')).toBe(2);
    expect(await server.metric('anteroom_reports_total{answer="repeat",code=""}')).toBe(1);
    expect(await server.metric('anteroom_reports_per_append_sum')).toBe(2);
    expect(await server.metric('anteroom_append_seconds_count')).toBe(3);
    expect(await server.metric('anteroom_sockets')).toBe(1);
  });
});
