import { describe, expect, it } from 'vitest';
import type { z } from 'zod';
import { apiSchemas, type ApiSchemaName } from '../../server/http/api-schemas.ts';
import { openUnit } from '../../server/unit/load-unit.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import { writeWorld } from '../support/authority-fixture.ts';
import { FakeClock } from '../support/fake-clock.ts';
import { MoodyLog } from '../support/moody-log.ts';
import { serve, type TestServer } from '../support/server-fixture.ts';
import {
  given,
  gown,
  hood,
  inside,
  nameOf,
  onDuty,
  reports,
  second,
  settings,
  workerOf,
} from '../support/unit-fixture.ts';

const unit = { ...settings, forecast: { runs: 400, source: 'invented for tests' } };
const units = [openUnit(unit, [gown, hood], '2026-03-02')];
const clash = [
  onDuty('o1', 'o2'),
  reports('c1', 'close-lane', { lane: 'l2', reason: 'spill' }),
  inside('o1', 'w1'),
  inside('o2', 'w2'),
];

/** A server in the middle of a shift, with a thread that really plays. */
async function serving(...story: Parameters<typeof given>): Promise<TestServer> {
  const { world } = given(...story);
  const log = new MoodyLog();
  await writeWorld(log, world);
  return serve({ units, log, clock: new FakeClock(world.now) });
}

async function ask(server: TestServer, path = 'forecast', body?: unknown, type = 'application/json') {
  const init = body === undefined ? {} : { method: 'POST', headers: { 'Content-Type': type }, body: textOf(body) };
  const response = await fetch(`${server.url}/api/units/small/${path}`, init);
  return { status: response.status, body: (await response.json()) as unknown };
}
const textOf = (body: unknown): string => (typeof body === 'string' ? body : JSON.stringify(body));

const read = <Name extends ApiSchemaName>(name: Name, value: unknown) =>
  apiSchemas[name].parse(value) as z.infer<(typeof apiSchemas)[Name]>;

/** Lets the clock reach the watch, and waits until the thread has answered. */
async function played(server: TestServer): Promise<void> {
  const [served] = server.app.units.values();
  const heard = new Promise<void>((resolve) => void served!.forecasts.onForecast(resolve));
  await server.clock.advance(second);
  await heard;
}

describe('GET forecast', () => {
  it('is refused with a code while there is none yet, and answers once it is played', async () => {
    const server = await serving(...clash);
    expect(await ask(server)).toMatchObject({ status: 503, body: { code: 'forecast/none-yet' } });
    await played(server);
    const { status, body } = await ask(server);
    expect(status).toBe(200);
    const forecast = read('Forecast', body);
    expect(forecast.people.map(({ worker }) => worker)).toEqual(['w1', 'w2']);
    expect(forecast.runs).toBe(400);
    expect(forecast.people.some((one) => one.chanceOfWaiting.lane > 0.5)).toBe(true);
    const [first] = forecast.moves;
    expect(first!.after.waitMinutes).toBeLessThan(first!.before.waitMinutes);
    expect(forecast.moves.map(({ kind }) => kind)).toContain('reopen-lane');
  });

  it('has ids and minutes: no name, and nothing about anybody’s health', async () => {
    const server = await serving(...clash);
    await played(server);
    const text = JSON.stringify((await ask(server)).body);
    for (const id of ['w1', 'w2', 'o1', 'o2']) expect(text).not.toContain(nameOf(id));
    expect(text).not.toMatch(/vitals|pulse|temperature/i);
  });

  it('of a unit with nobody in an entry says so, and nothing was played', async () => {
    const server = await serving(onDuty('o1'));
    const { status, body } = await ask(server);
    expect(status).toBe(200);
    expect(read('Forecast', body)).toMatchObject({ runs: 0, people: [], moves: [] });
  });

  it('of another unit is not there', async () => {
    const server = await serving(onDuty('o1'));
    const response = await fetch(`${server.url}/api/units/other/forecast`);
    expect(response.status).toBe(404);
  });

  it('offers no call-out later than the limit allows, and each move as the unit would take it', async () => {
    const server = await serving(...clash);
    await played(server);
    const { moves } = read('Forecast', (await ask(server)).body);
    const [served] = server.app.units.values();
    const limitOf = (worker: string) => workerOf(served!.authority.state, worker).entry!.limit!;
    expect(moves.some(({ kind }) => kind === 'call-out')).toBe(true);
    for (const move of moves) {
      if (move.kind !== 'call-out') continue;
      expect(move.callOutAt).toBeLessThanOrEqual(limitOf(move.worker).callOutAt);
    }
  });
});

describe('POST forecast/what-if', () => {
  it('says before and after, and changes nothing', async () => {
    const server = await serving(...clash);
    const before = (await server.log.read('small' as Fact['unit'], 0, 1000)).length;
    const { status, body } = await ask(server, 'forecast/what-if', { addsLanes: 1 });
    expect(status).toBe(200);
    const answer = read('ForecastWhatIf', body);
    expect(answer.after.waitMinutes).toBeLessThan(answer.before.waitMinutes);
    const longer = read('ForecastWhatIf', (await ask(server, 'forecast/what-if', { doffingLongerPct: 50 })).body);
    expect(longer.before).toEqual(answer.before);
    expect(longer.after.overLimit).toBeGreaterThan(longer.before.overLimit);
    const lost = read('ForecastWhatIf', (await ask(server, 'forecast/what-if', { losesObserver: 'o2' })).body);
    expect(lost.after.waitMinutes).toBeGreaterThanOrEqual(lost.before.waitMinutes);
    expect((await server.log.read('small' as Fact['unit'], 0, 1000)).length).toBe(before);
  });

  it.each([
    [{}, 'what-if/not-understood', undefined],
    [{ addsLanes: 0 }, 'what-if/not-understood', 'addsLanes'],
    [{ doffingLongerPct: 'a lot' }, 'what-if/not-understood', 'doffingLongerPct'],
    [{ addsLanes: 1, colour: 'green' }, 'what-if/not-understood', 'colour'],
    [{ losesObserver: 'w1' }, 'forecast/no-such-observer', 'losesObserver'],
    ['{', 'request/not-json', undefined],
    ['', 'request/not-json', undefined],
  ])('refuses %j by field', async (question, code, field) => {
    const server = await serving(...clash);
    const { status, body } = await ask(server, 'forecast/what-if', question);
    expect(status).toBe(400);
    expect(body).toMatchObject({ code, ...(field && { field }) });
  });

  it('takes JSON only, and not much of it', async () => {
    const server = await serving(...clash);
    expect(await ask(server, 'forecast/what-if', 'a,b', 'text/csv')).toMatchObject({ status: 415 });
    const long = { losesObserver: 'x'.repeat(20_000) };
    expect(await ask(server, 'forecast/what-if', long)).toMatchObject({ status: 413 });
  });
});
