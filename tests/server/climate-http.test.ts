import { describe, expect, it } from 'vitest';
import type { z } from 'zod';
import type { RoomId } from '../../machines/wire/ids.ts';
import { apiSchemas, type ApiSchemaName } from '../../server/http/api-schemas.ts';
import { openUnit } from '../../server/unit/load-unit.ts';
import { small, wholeLog, writeWorld } from '../support/authority-fixture.ts';
import { FakeClock } from '../support/fake-clock.ts';
import { heat, heated, heatOpening } from '../support/heat-fixture.ts';
import { MoodyLog } from '../support/moody-log.ts';
import { serve, tabletAt, type TestServer } from '../support/server-fixture.ts';
import {
  given,
  gown,
  inside,
  minute,
  onDuty,
  openedAt,
  opening,
  passes,
  second,
  settings,
  unitChanges,
  workerOf,
} from '../support/unit-fixture.ts';

const warm = { room: 'r1', airTemperatureC: 31, relativeHumidityPct: 60 };
const unit = openUnit({ ...settings, heat }, heated(opening()).procedures, '2026-03-02');

/** A server of a unit with a heat section, somebody inside for ten minutes. */
async function withWorker(): Promise<TestServer> {
  const log = new MoodyLog();
  const { world } = given(
    unitChanges(() => heatOpening),
    onDuty('o1'),
    inside('o1', 'w1'),
    passes(10 * minute),
  );
  await writeWorld(log, world);
  return serve({ units: [unit], log, clock: new FakeClock(world.now) });
}

const json = { 'content-type': 'application/json' };
const csv = { 'content-type': 'text/csv' };

async function post(server: TestServer, path: string, body: string, headers: Record<string, string>) {
  const response = await fetch(`${server.url}/api/units/${path}`, { method: 'POST', headers, body });
  const answer = (await response.json()) as Record<string, unknown>;
  return { status: response.status, answer };
}

const sends = (server: TestServer, readings: unknown, more: object = {}) =>
  post(server, 'small/climate', JSON.stringify({ sensor: 'wall-1', readings, ...more }), json);
const sendsTable = (server: TestServer, table: string, query = '?sensor=wall-1') =>
  post(server, `small/climate${query}`, table, csv);

const read = <Name extends ApiSchemaName>(name: Name, value: unknown) =>
  apiSchemas[name].parse(value) as z.infer<(typeof apiSchemas)[Name]>;

const recorded = async (server: TestServer) =>
  (await wholeLog(server.log)).flatMap((fact) => (fact.kind === 'climate-recorded' ? [fact] : []));
const stateOf = (server: TestServer) => server.app.units.get(small)!.authority.state;

describe('readings of sensors', () => {
  it('are recorded in the name of the sensor, at their own time', async () => {
    const server = await serve();
    const at = openedAt - 5 * minute;
    const { status, answer } = await sends(server, [
      { ...warm, at: new Date(at).toISOString() },
      { room: 'r2', airTemperatureC: 22.5, relativeHumidityPct: 40, airSpeedMs: 0.2, globeTemperatureC: 24 },
    ]);
    expect(status).toBe(200);
    expect(read('Recorded', answer).accepted).toBe(2);
    const facts = await recorded(server);
    expect(facts.map((fact) => fact.number)).toEqual(answer.numbers);
    expect(facts.map((fact) => [fact.at, fact.by, fact.data])).toEqual([
      [at, { sensor: 'wall-1' }, { room: 'r1', climate: { airTemperatureC: 31, relativeHumidityPct: 60 } }],
      [
        openedAt,
        { sensor: 'wall-1' },
        {
          room: 'r2',
          climate: { airTemperatureC: 22.5, relativeHumidityPct: 40, airSpeedMs: 0.2, globeTemperatureC: 24 },
        },
      ],
    ]);
  });

  it('come as a table too, and mean the same', async () => {
    const server = await serve();
    const table = `\u{feff}room, at ,airTemperatureC,relativeHumidityPct,globeTemperatureC\r\nr1,${openedAt - minute},31,60,\r\n\r\n"r2",2026-03-02T09:00:00+01:00,22.5,40,24\r\n`;
    const { status, answer } = await sendsTable(server, table);
    expect([status, read('Recorded', answer).accepted]).toEqual([200, 2]);
    expect((await recorded(server)).map((fact) => [fact.at, fact.data.climate])).toEqual([
      [openedAt - minute, { airTemperatureC: 31, relativeHumidityPct: 60 }],
      [openedAt, { airTemperatureC: 22.5, relativeHumidityPct: 40, globeTemperatureC: 24 }],
    ]);
  });

  it('shorten the limit of whoever is inside, and every screen hears of it', async () => {
    const server = await withWorker();
    const screen = await tabletAt(server, 'o1');
    const head = stateOf(server).number;
    await sends(server, [warm]);
    await server.clock.advance(second);
    await screen.seen(head + 2);
    const limit = screen.received.findLast((fact) => fact.kind === 'limit-set');
    expect(limit?.data).toMatchObject({ limitKind: 'core-temperature', indicative: true });
    expect(workerOf(stateOf(server), 'w1').entry?.limit?.minutes).toBeLessThan(gown.limit.minutes);
  });

  it('that are sent again are accepted again and write nothing', async () => {
    const server = await serve();
    const twice = [
      { ...warm, at: openedAt - minute },
      { ...warm, at: openedAt - minute },
    ];
    expect((await sends(server, twice)).answer).toMatchObject({ accepted: 2 });
    expect((await sends(server, twice)).answer).toEqual({ accepted: 2, numbers: [] });
    const other = await sends(server, [{ ...warm, at: openedAt - minute, airTemperatureC: 32 }]);
    expect(read('Recorded', other.answer).numbers).toHaveLength(1);
    expect(await recorded(server)).toHaveLength(2);
  });

  it('up to two hundred at once are taken', async () => {
    const server = await serve();
    const many = Array.from({ length: 200 }, (_, at) => ({ ...warm, at: openedAt - at * minute }));
    expect((await sends(server, many)).answer).toMatchObject({ accepted: 200 });
  });

  it('that nobody could write are for the sensor to send again', async () => {
    const server = await serve();
    server.log.mood = 'gone';
    const { status, answer } = await sends(server, [warm]);
    expect(status).toBe(503);
    expect(read('Problem', answer).code).toBe('unit/log-unavailable');
  });
});

describe('a reading that will not do refuses them all', () => {
  const good = { ...warm };
  it.each<[string, unknown, string, string]>([
    ['an unknown room', { ...good, room: 'r9' }, 'climate/unknown-room', 'room'],
    ['a room that is no name', { ...good, room: 7 }, 'climate/unknown-room', 'room'],
    ['no humidity', { room: 'r1', airTemperatureC: 20 }, 'climate/missing-field', 'relativeHumidityPct'],
    ['a field nobody knows', { ...good, windMs: 1 }, 'climate/unknown-field', '"windMs"'],
    ['text for a number', { ...good, airTemperatureC: '31' }, 'climate/wrong-type', 'airTemperatureC'],
    ['null for a number', { ...good, airSpeedMs: null }, 'climate/wrong-type', 'airSpeedMs'],
    ['degrees Fahrenheit', { ...good, airTemperatureC: 88 }, 'climate/out-of-bounds', 'airTemperatureC'],
    [
      'a share instead of per cent',
      { ...good, relativeHumidityPct: -0.6 },
      'climate/out-of-bounds',
      'relativeHumidityPct',
    ],
    [
      'a globe that no walls explain',
      { ...good, globeTemperatureC: -20, airSpeedMs: 5 },
      'climate/out-of-bounds',
      'globeTemperatureC',
    ],
    ['a time to come', { ...good, at: openedAt + 6 * second }, 'climate/time-ahead', 'at'],
    ['a time long past', { ...good, at: openedAt - 1441 * minute }, 'climate/too-old', 'at'],
    ['a day without a time', { ...good, at: '2026-03-02' }, 'climate/wrong-type', 'at'],
    ['a time of no zone', { ...good, at: '2026-03-02T08:00:00' }, 'climate/wrong-type', 'at'],
    ['a day that is not', { ...good, at: '2026-02-31T99:00:00Z' }, 'climate/wrong-type', 'at'],
    ['a row that is none', 'r1', 'climate/wrong-type', 'reading'],
  ])('%s', async (_, row, code, field) => {
    const server = await serve();
    const { status, answer } = await sends(server, [good, row, { room: 'also wrong' }]);
    expect(status).toBe(400);
    expect(read('Problem', answer)).toMatchObject({ code, row: 2, field });
    expect(answer.sentence).toContain(`Row 2, ${field}: `);
    expect(await recorded(server)).toEqual([]);
  });

  it.each([
    ['no JSON', '{"sensor":', 'climate/not-understood'],
    ['a list', '[]', 'climate/not-understood'],
    ['no readings', '{"sensor":"a"}', 'climate/missing-field'],
    ['an empty list', '{"sensor":"a","readings":[]}', 'climate/missing-field'],
    ['no sensor', JSON.stringify({ readings: [good] }), 'climate/missing-field'],
    ['something beside', JSON.stringify({ sensor: 'a', readings: [good], unit: 'x' }), 'climate/unknown-field'],
    ['too many', JSON.stringify({ sensor: 'a', readings: Array(201).fill(good) }), 'climate/too-many'],
  ])('%s', async (_, body, code) => {
    const server = await serve();
    const { status, answer } = await post(server, 'small/climate', body, json);
    expect([status, read('Problem', answer).code]).toEqual([400, code]);
    expect(await recorded(server)).toEqual([]);
  });

  const header = 'room,airTemperatureC,relativeHumidityPct';
  it.each<[string, string, string, object]>([
    ['a short row', `${header}\nr1,31\n`, 'climate/not-understood', {}],
    ['an open quote', `${header}\nr1,"31,60\n`, 'climate/not-understood', {}],
    ['a column nobody knows', `${header},__proto__\nr1,31,60,1\n`, 'climate/unknown-field', {}],
    ['a column twice', `${header},room\nr1,31,60,r1\n`, 'climate/unknown-field', {}],
    ['a column too few', 'room,airTemperatureC\nr1,31\n', 'climate/missing-field', {}],
    ['a header alone', `${header}\n`, 'climate/missing-field', {}],
    ['nothing but a blank', '\n', 'climate/missing-field', {}],
    ['an empty cell', `${header}\nr1,31,60\nr1,,60\n`, 'climate/missing-field', { row: 2, field: 'airTemperatureC' }],
    ['a decimal comma', `${header}\nr1,"31,5",60\n`, 'climate/wrong-type', { row: 1, field: 'airTemperatureC' }],
    ['a number in words', `${header}\nr1,1e1,60\n`, 'climate/wrong-type', { row: 1, field: 'airTemperatureC' }],
  ])('a table with %s', async (_, table, code, where) => {
    const server = await serve();
    const { status, answer } = await sendsTable(server, table);
    expect(status).toBe(400);
    expect(read('Problem', answer)).toMatchObject({ code, ...where });
    expect(await recorded(server)).toEqual([]);
  });

  it('a table of no sensor, and an address that asks for more', async () => {
    const server = await serve();
    for (const [query, code] of [
      ['', 'climate/missing-field'],
      ['?sensor=a&sensor=b', 'climate/missing-field'],
      ['?sensor=a&room=r1', 'climate/unknown-field'],
    ] as const)
      expect((await sendsTable(server, `${header}\nr1,31,60\n`, query)).answer.code).toBe(code);
  });

  it('what a page of another site could send is not taken, nor what is too long or packed', async () => {
    const server = await serve();
    const body = JSON.stringify({ sensor: 'a', readings: [good] });
    for (const type of ['text/plain', 'application/x-www-form-urlencoded', 'multipart/form-data; boundary=x'])
      expect(await post(server, 'small/climate', body, { 'content-type': type })).toMatchObject({
        status: 415,
        answer: { code: 'request/wrong-type' },
      });
    expect((await post(server, 'small/climate', body, { ...json, 'content-encoding': 'gzip' })).status).toBe(415);
    const long = JSON.stringify({ sensor: 'a'.repeat(65 * 1024), readings: [good] });
    expect(await post(server, 'small/climate', long, json)).toMatchObject({
      status: 413,
      answer: { code: 'request/too-large' },
    });
    const preflight = await fetch(`${server.url}/api/units/small/climate`, {
      method: 'OPTIONS',
      headers: { origin: 'http://elsewhere.example', 'access-control-request-method': 'POST' },
    });
    expect(preflight.headers.get('access-control-allow-origin')).toBeNull();
    expect(await recorded(server)).toEqual([]);
  });

  it('an unknown unit is said first; other posts are refused in words', async () => {
    const server = await serve();
    expect((await post(server, 'other/climate', 'x', json)).answer.code).toBe('unit/unknown');
    const refused = await post(server, 'small/state', '{}', json);
    expect([refused.status, refused.answer.code]).toEqual([405, 'request/read-only']);
    expect(refused.answer.sentence).toContain('/openapi.json');
  });
});

const asks = (server: TestServer, question: unknown) => post(server, 'small/what-if', JSON.stringify(question), json);

describe('what if', () => {
  it('says what would govern in such air, with such work, and changes nothing', async () => {
    const server = await withWorker();
    const { number } = stateOf(server);
    const cool = read('WhatIf', (await asks(server, { procedure: 'gown' })).answer);
    expect(cool.governing).toMatchObject({ minutes: 60, reason: gown.limit.reason });
    const { room: _room, ...climate } = warm;
    const hot = read('WhatIf', (await asks(server, { procedure: 'gown', climate })).answer);
    expect(hot.governing.reason).toBe('the predicted rectal temperature reaches 38.0 °C');
    const harder = read('WhatIf', (await asks(server, { procedure: 'gown', climate, work: 'heavy' })).answer);
    expect(harder.governing.minutes).toBeLessThan(hot.governing.minutes);
    expect(harder.screening.over).toBe(true);
    expect(harder.caution).toContain('not a medical device');
    const tired = read('WhatIf', (await asks(server, { procedure: 'gown', minutesSoFar: 140 })).answer);
    expect(tired.governing).toMatchObject({ minutes: 10, reason: '10 min in equipment are left of today' });
    expect(stateOf(server).number).toBe(number);
  });

  it('of an entry from its start is what the unit then finds', async () => {
    const server = await withWorker();
    await server.clock.advance(0);
    const at = openedAt;
    const { room: _room, ...climate } = warm;
    const asked = read('WhatIf', (await asks(server, { procedure: 'gown', climate })).answer);
    await sends(server, [{ ...warm, at }]);
    await server.clock.advance(second);
    expect(workerOf(stateOf(server), 'w1').entry?.limit?.minutes).toBe(asked.governing.minutes);
  });

  it.each<[unknown, number, string]>([
    [{ procedure: 'suit' }, 400, 'what-if/unknown-procedure'],
    [{ procedure: '__proto__' }, 400, 'what-if/not-understood'],
    [{}, 400, 'what-if/not-understood'],
    ['gown', 400, 'what-if/not-understood'],
    [{ procedure: 'gown', work: 'hard' }, 400, 'what-if/not-understood'],
    [{ procedure: 'gown', minutes: 3 }, 400, 'what-if/not-understood'],
    [{ procedure: 'gown', climate: { airTemperatureC: 90, relativeHumidityPct: 5 } }, 400, 'what-if/not-understood'],
    [
      {
        procedure: 'gown',
        climate: { airTemperatureC: 20, relativeHumidityPct: 5, globeTemperatureC: 120, airSpeedMs: 20 },
      },
      400,
      'heat/out-of-bounds',
    ],
  ])('%j is refused: %i %s', async (question, status, code) => {
    const server = await withWorker();
    const answer = await asks(server, question);
    expect([answer.status, read('Problem', answer.answer).code]).toEqual([status, code]);
  });

  it('is refused in a unit without a heat section, and when it is no JSON', async () => {
    const server = await serve();
    expect(await asks(server, { procedure: 'gown' })).toMatchObject({
      status: 409,
      answer: { code: 'what-if/no-heat' },
    });
    expect((await post(server, 'small/what-if', '{', json)).answer.code).toBe('request/not-json');
  });
});

describe('predicted strain', () => {
  it('has everybody in equipment, past and ahead, and says that it is of nobody in person', async () => {
    const server = await withWorker();
    await sends(server, [{ ...warm, at: openedAt }]);
    const response = await fetch(`${server.url}/api/units/small/strain`);
    const { at, workers } = read('Strain', await response.json());
    expect(at).toBe(server.clock.now());
    expect(workers).toHaveLength(1);
    const [one] = workers;
    expect(one).toMatchObject({ worker: 'w1', donnedAt: openedAt, minute: 10, limitRectalTemperatureC: 38 });
    expect(one).toMatchObject({ limitWaterLossG: 2250, indicative: true, outsideRange: ['permeabilityIndex'] });
    expect(one!.points.map((point) => point.minute)).toEqual(Array.from({ length: 49 }, (_, at) => at * 5));
    expect(one!.points[0]).toEqual({ minute: 0, rectalTemperatureC: 36.8, waterLossG: 0 });
    const over = one!.points.find((point) => point.rectalTemperatureC >= 38);
    expect(Math.ceil(one!.reachedMin! / 5) * 5).toBe(over?.minute);
    expect(stateOf(server).climate['r1' as RoomId]).toHaveLength(1);
  });

  it('of a unit without a heat section is of nobody', async () => {
    const server = await serve();
    const { workers } = read('Strain', await (await fetch(`${server.url}/api/units/small/strain`)).json());
    expect(workers).toEqual([]);
  });
});
