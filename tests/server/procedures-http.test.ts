import { readFileSync } from 'node:fs';
import { stringify } from 'yaml';
import { describe, expect, it, onTestFinished } from 'vitest';
import type { z } from 'zod';
import { identityOf } from '../../machines/procedure/identity.ts';
import type { Procedure, Step } from '../../machines/procedure/procedure.ts';
import type { ProcedureId } from '../../machines/wire/ids.ts';
import { procedureBytesMax, type ReportAnswer } from '../../machines/wire/messages.ts';
import { apiSchemas } from '../../server/http/api-schemas.ts';
import { checkProcedure } from '../../server/procedures/check-procedure.ts';
import { CheckThread } from '../../server/procedures/check-thread.ts';
import { procedureYaml } from '../../server/procedures/procedure-yaml.ts';
import { openUnit } from '../../server/unit/load-unit.ts';
import { parseProcedure } from '../../server/unit/load-procedure.ts';
import { smallProcedure } from '../machines/prove-fixture.ts';
import { demoFolder, demoUnit } from '../support/demo-unit.ts';
import { leadAt, serve, tabletAt, type Screen, type TestServer } from '../support/server-fixture.ts';
import { gown, hood, settings } from '../support/unit-fixture.ts';

/** Procedures over HTTP and through the lead's report: what is checked, what is adopted, and what a server does with old files. */
const version = (number: number): Procedure => ({ ...smallProcedure(), id: 'gown' as ProcedureId, version: number });
const fieldGown = readFileSync(`${demoFolder}procedures/field-gown.yaml`, 'utf8');

async function check(
  server: TestServer,
  text: string,
  headers: Record<string, string> = { 'Content-Type': 'text/yaml' },
) {
  const response = await fetch(`${server.url}/api/units/small/procedures/check`, {
    method: 'POST',
    headers,
    body: text,
  });
  return { status: response.status, json: (await response.json()) as unknown };
}

async function checked(server: TestServer, text: string): Promise<z.infer<typeof apiSchemas.Checked>> {
  const { status, json } = await check(server, text);
  expect(status).toBe(200);
  return apiSchemas.Checked.parse(json);
}

const get = async (server: TestServer, path: string) => {
  const response = await fetch(`${server.url}/api/units/small/${path}`);
  return { status: response.status, type: response.headers.get('Content-Type'), text: await response.text() };
};
const getJson = async (server: TestServer, path: string) => JSON.parse((await get(server, path)).text) as unknown;

describe('a text as it is being edited', () => {
  it('that is whole is proved, with the numbers of the proof', async () => {
    const answer = await checked(await serve(), procedureYaml(version(2)));
    expect(answer).toMatchObject({ proof: { verdict: 'proved', orders: '4', states: 33 }, mend: null });
    expect('procedure' in answer && answer.procedure).toEqual(version(2));
  });

  it('that contaminates comes with the shortest order that does, and with what mends it, as a text that is proved', async () => {
    const server = await serve();
    const answer = await checked(server, fieldGown);
    if (!('proof' in answer)) throw new Error('problems');
    expect(answer.proof).toMatchObject({
      verdict: 'not-proved',
      counterExample: { rule: expect.any(String) as string },
    });
    expect(answer.mend?.sentences.length).toBeGreaterThan(0);
    expect(await checked(server, answer.mend?.yaml ?? '')).toMatchObject({ proof: { verdict: 'proved' } });
  });

  it('changes nothing', async () => {
    const server = await serve();
    const before = await getJson(server, 'state');
    await checked(server, procedureYaml(version(2)));
    expect(await getJson(server, 'state')).toEqual(before);
  });
});

describe('a text that is not whole: what is wrong, and in which line', () => {
  const good = procedureYaml(version(2));
  const lineOf = (text: string, words: string) => text.split('\n').findIndex((line) => line.includes(words)) + 1;
  const step = (index: number) => `  - { id: s${index}, phase: donning, words: look }\n`;

  it.each<[string, string, string, number | undefined]>([
    ['half a line', `${good.slice(0, good.indexOf('ensemble:'))}ensemble: {`, 'yaml/broken', undefined],
    ['nothing', '', 'yaml/empty', 1],
    ['another thing', 'just words', 'schema/wrong-value', 1],
    [
      'a misspelt word',
      good.replace('doffingAssistant', 'dofingAssistant'),
      'schema/unknown-key',
      lineOf(good, 'doffingAssistant'),
    ],
    [
      'a cycle',
      good.replace(/(id: look-kit[\s\S]*?after:\n\s+- )watch-donning/, '$1rub-hands'),
      'procedure/cycle',
      lineOf(good, 'id: look-kit'),
    ],
    [
      'two steps with one id',
      good.replace('id: gown-off', 'id: inner-off'),
      'procedure/duplicate-step',
      lineOf(good.replace('id: inner-off', '-'), 'id: inner-off') || lineOf(good, 'id: inner-off'),
    ],
    [
      'five thousand steps',
      `${good}${Array.from({ length: 2_000 }, (_, one) => step(one)).join('')}`,
      'schema/wrong-value',
      lineOf(good, 'steps:'),
    ],
    [
      'a huge word',
      good.replace('title: Small', `title: ${'x'.repeat(50_000)}`),
      'schema/wrong-value',
      lineOf(good, 'title: Small'),
    ],
    ['a hundred thousand brackets', '['.repeat(100_000), 'yaml/broken', undefined],
    ['anchors that would grow', 'a: &a [1, 2]\nb: [*a, *a]', 'yaml/anchor', 1],
  ])('%s', (_, text, code, line) => {
    const answer = checkProcedure(text, () => true);
    const [problem] = 'problems' in answer ? answer.problems : [];
    expect(problem?.code).toBe(code);
    if (line !== undefined) expect(problem?.line).toBe(line);
    expect(problem?.sentence.length).toBeGreaterThan(10);
    expect(problem?.sentence.length).toBeLessThan(420);
  });

  it('is answered over HTTP in the same words', async () => {
    const server = await serve();
    for (const text of ['', '['.repeat(1_000), good.replace('id: gown-off', 'id: inner-off')])
      expect(await checked(server, text)).toEqual(checkProcedure(text, () => true));
  });

  it.each([
    ['one that is too long', 'x'.repeat(procedureBytesMax + 1), 'text/yaml', 413, 'procedure/too-large'],
    ['one that is not text', '{}', 'application/json', 415, 'request/not-yaml'],
  ])('%s is refused before anybody reads it', async (_, text, type, status, code) => {
    const answer = await check(await serve(), text, { 'Content-Type': type });
    expect([answer.status, apiSchemas.Problem.parse(answer.json).code]).toEqual([status, code]);
  });

  it('of an unknown unit, too', async () => {
    const { url } = await serve();
    const answer = await fetch(`${url}/api/units/other/procedures/check`, { method: 'POST', body: 'x' });
    expect([answer.status, apiSchemas.Problem.parse(await answer.json()).code]).toEqual([404, 'unit/unknown']);
  });
});

describe('the thread that reads and proves', () => {
  const thread = (msMost: number) => {
    const checks = new CheckThread({ msMost });
    onTestFinished(() => checks.close());
    return checks;
  };
  /** Every key is compared with every other: seconds of work in a text of a hundred kilobytes. */
  const slow = Array.from({ length: 12_000 }, (_, index) => `k${index}: 1`).join('\n');

  it('gives up a text that takes too long, and then checks the next one', async () => {
    const checks = thread(1_500);
    const [late, next] = await Promise.all([checks.check(slow), checks.check('')]);
    expect(late).toEqual({ notChecked: 'took-too-long' });
    expect(next).toMatchObject({ problems: [{ code: 'yaml/empty' }] });
  });

  it('turns away what would wait behind too many', async () => {
    const checks = thread(10_000);
    const outcomes = await Promise.all(Array.from({ length: 12 }, () => checks.check('')));
    expect(outcomes.filter((one) => 'notChecked' in one)).toEqual(
      Array.from({ length: 3 }, () => ({ notChecked: 'busy' })),
    );
  });

  it('stops looking for a mend when its time is up, and still says what the proof says', () => {
    expect(checkProcedure(fieldGown, () => false)).toMatchObject({ proof: { verdict: 'not-proved' }, mend: null });
  });
});

describe('a version as text', () => {
  it.each(demoUnit().procedures.map((one) => [one.id, one] as const))(
    '%s reads back as the same version',
    (_, procedure) => {
      expect(parseProcedure('text', procedureYaml(procedure))).toEqual({ ok: true, value: procedure });
    },
  );

  it('has a title that cannot break out of its comment', () => {
    const odd = { ...version(2), title: 'A\nid: other\u2028id: third' };
    expect(parseProcedure('text', procedureYaml(odd))).toEqual({ ok: true, value: odd });
  });

  it('is there for every version on record, with the mark that a printed card has', async () => {
    const server = await serve();
    const lead = await leadAt(server);
    expect(await lead.says('adopt-procedure', { procedure: version(2) })).toMatchObject({ accepted: true });
    const { versions } = apiSchemas.Procedures.parse(await getJson(server, 'procedures'));
    expect(versions.map((one) => [one.id, one.version, one.adopted, one.arrival.how])).toEqual([
      ['gown', 1, false, 'files'],
      ['hood', 1, true, 'files'],
      ['gown', 2, true, 'proved'],
    ]);
    expect(versions[2]?.mark).toBe(identityOf(version(2)));
    const text = await get(server, 'procedures/gown/2.yaml');
    expect([text.status, text.type]).toEqual([200, 'text/yaml; charset=utf-8']);
    expect(parseProcedure('text', text.text)).toEqual({ ok: true, value: version(2) });
    expect(await getJson(server, 'procedures/gown/1.json')).toEqual(gown);
  });

  it.each(['gown/9.yaml', 'gown/1', 'gown/01x.yaml', '..%2F..%2Fetc/1.yaml', '__proto__/1.yaml'])(
    '%s is unknown',
    async (path) => {
      const answer = await get(await serve(), `procedures/${path}`);
      expect([answer.status, apiSchemas.Problem.parse(JSON.parse(answer.text)).code]).toEqual([
        404,
        'procedure/unknown',
      ]);
    },
  );

  it('has another mark as soon as one word of it is another', () => {
    const marks = [version(2), version(3), { ...version(2), cautions: ['A test!'] }].map(identityOf);
    expect(new Set(marks).size).toBe(3);
    expect(marks[0]).toMatch(/^[2-9A-HJ-NP-Z]{4}-[2-9A-HJ-NP-Z]{4}$/);
    const { id, ...rest } = version(2);
    expect(identityOf({ ...rest, id })).toBe(marks[0]);
  });
});

describe('the report that adopts, over a real socket', () => {
  /** As a program would send it that knows no schema. */
  const adopts = async (lead: Screen, data: object) =>
    (await lead.ask('report', { ...lead.report('adopt-procedure', { procedure: gown }), data })) as ReportAnswer;

  it('what is not sound or not whole is refused with its place, and nothing is adopted', async () => {
    const server = await serve();
    const lead = await leadAt(server);
    const { steps, ...rest } = version(2);
    const cases: [object, string][] = [
      [
        { ...rest, steps: steps.map((step) => (step.id === 'gown-off' ? { ...step, id: 'inner-off' } : step)) },
        'procedure/not-sound',
      ],
      [
        { ...rest, steps: steps.map((step) => (step.id === 'look-kit' ? { ...step, after: ['rub-hands'] } : step)) },
        'procedure/not-sound',
      ],
      [
        { ...rest, steps: Array.from({ length: 401 }, (_, index) => ({ ...(steps[0] as Step), id: `s${index}` })) },
        'message/not-understood',
      ],
      [{ ...rest, steps, title: 'x'.repeat(40_000) }, 'message/not-understood'],
      [{ ...rest, steps, title: 'x'.repeat(200_000) }, 'message/too-large'],
      [rest, 'message/not-understood'],
    ];
    for (const [procedure, code] of cases) {
      const answer = await adopts(lead, { procedure });
      expect(answer).toMatchObject({ accepted: false, code });
      if (!answer.accepted) expect(answer.sentence).toMatch(/procedure|steps|Step|bytes/);
      await server.clock.advance(1_000);
    }
    expect(server.app.units.get(settings.id)?.authority.state.adopted).toEqual({ gown: 1, hood: 1 });
  });

  it('takes a reason of ten characters and no shorter one', async () => {
    const server = await serve();
    const lead = await leadAt(server);
    const answer = await adopts(lead, { procedure: version(2), override: 'too short' });
    expect(answer).toMatchObject({ accepted: false, code: 'message/not-understood' });
  });

  it('the largest procedure that is shipped fits, and twice as large as that too', () => {
    const largest = demoUnit().procedures.map((one) => JSON.stringify(one).length);
    expect(Math.max(...largest) * 2).toBeLessThan(procedureBytesMax);
  });

  it('an observer on duty notices nothing but that the next entry has the new version', async () => {
    const server = await serve();
    const [lead, tablet] = [await leadAt(server), await tabletAt(server, 'o1')];
    const answer = await lead.says('adopt-procedure', { procedure: version(2) });
    if (!answer.accepted) throw new Error(answer.sentence);
    await tablet.seen(answer.numbers.at(-1) ?? 0);
    expect([tablet.folded?.adopted, tablet.folded?.alerts, tablet.folded?.reviews]).toEqual([
      { gown: 2, hood: 1 },
      {},
      [],
    ]);
  });
});

describe('a server that starts with older files than the log', () => {
  const filesSay = (...procedures: Procedure[]) => ({ units: [openUnit(settings, procedures, '2026-03-02')] });

  it('goes by the higher version, and says so', async () => {
    const first = await serve();
    expect(await (await leadAt(first)).says('adopt-procedure', { procedure: version(3) })).toMatchObject({
      accepted: true,
    });
    const second = await serve({ ...filesSay(gown, hood), log: first.log, clock: first.clock });
    const { state, head } = second.app.units.get(settings.id)!.authority;
    expect(state.adopted).toEqual({ gown: 3, hood: 1 });
    expect(state.adoptions).toMatchObject({ gown: { version: 3, by: 'lead' } });
    // Nothing had to be written for that.
    expect(head.number).toBe(first.app.units.get(settings.id)!.authority.head.number);
    expect(second.journal.join('\n')).toContain('"procedure":"gown","adopted":3,"inFiles":1');
  });

  it('takes in whatever else the files say anew, and keeps what was adopted although no file names it', async () => {
    const first = await serve();
    const fresh = { ...version(1), id: 'new-one' as ProcedureId };
    await (await leadAt(first)).says('adopt-procedure', { procedure: fresh });
    const files = filesSay(gown, { ...hood, version: 2, title: 'Another hood' });
    const second = await serve({ ...files, log: first.log, clock: first.clock });
    expect(second.app.units.get(settings.id)!.authority.state.adopted).toEqual({ gown: 1, hood: 2, 'new-one': 1 });
  });

  it('goes by the files once they are the newer ones', async () => {
    const first = await serve();
    await (await leadAt(first)).says('adopt-procedure', { procedure: version(3) });
    const second = await serve({ ...filesSay(version(4), hood), log: first.log, clock: first.clock });
    const { state } = second.app.units.get(settings.id)!.authority;
    expect([state.adopted, state.adoptions]).toEqual([{ gown: 4, hood: 1 }, {}]);
  });

  it('refuses files that say other words under a version that was adopted', async () => {
    const first = await serve();
    await (await leadAt(first)).says('adopt-procedure', { procedure: version(3) });
    const other = { ...version(3), title: 'Other words' };
    await expect(serve({ ...filesSay(other, hood), log: first.log, clock: first.clock })).rejects.toThrow(
      /still says version 3.*Raise its version/,
    );
  });
});

describe('what the unit has learned', () => {
  it('is served, with what studies found beside it', async () => {
    const { lessons, published } = apiSchemas.Learning.parse(await getJson(await serve(), 'learning'));
    expect(lessons).toEqual([]);
    expect(published.length).toBeGreaterThan(4);
  });

  it('while the log is away, says so', async () => {
    const server = await serve();
    server.log.mood = 'gone';
    for (const path of ['learning', 'procedures']) {
      const answer = await get(server, path);
      expect([answer.status, apiSchemas.Problem.parse(JSON.parse(answer.text)).code]).toEqual([
        503,
        'unit/log-unavailable',
      ]);
    }
  });
});

it('YAML that another program wrote is read the same', () => {
  expect(parseProcedure('text', stringify(version(2)))).toEqual({ ok: true, value: version(2) });
});
