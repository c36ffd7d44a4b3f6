import { describe, expect, it } from 'vitest';
import { rotation as rotationSchema } from '../../machines/unit/rotation.ts';
import { apiSchemas, type ApiSchemaName } from '../../server/http/api-schemas.ts';
import { openUnit } from '../../server/unit/load-unit.ts';
import { plannedFor, rotationRules } from '../support/rotation-fixture.ts';
import { boardAt, serve, type TestServer } from '../support/server-fixture.ts';
import { gown, hood, openedAt, minute, settings } from '../support/unit-fixture.ts';

const unit = openUnit({ ...settings, rotation: rotationRules }, [gown, hood], '2026-03-02');
const planned = () => serve({ units: [unit] });
const ask = { hours: 4, procedure: 'gown', staffInside: { r1: 1 }, seconds: 1 };
/** Around a locked trip nothing is proven the best, so it goes on until its time is over. */
const endless = { ...ask, locked: [plannedFor('w1', 60)], seconds: 100 };
const json = { 'content-type': 'application/json' };

async function asked(server: TestServer, method: string, path: string, body?: string, headers = json) {
  const sent = body === undefined ? { method } : { method, body, headers };
  const response = await fetch(`${server.url}/api/units/${path}`, sent);
  return { status: response.status, answer: (await response.json()) as Record<string, unknown> };
}

const posts = (server: TestServer, question: object) =>
  asked(server, 'POST', 'small/rotation/plans', JSON.stringify(question));
const read = <Name extends ApiSchemaName>(name: Name, value: unknown) => apiSchemas[name].parse(value) as never;

type PlanAnswer = ReturnType<(typeof apiSchemas)['Plan']['parse']>;

async function started(server: TestServer, question: object = ask): Promise<string> {
  const { status, answer } = await posts(server, question);
  expect([status, answer]).toEqual([202, { id: answer['id'] }]);
  return (read('PlanStarted', answer) as { id: string }).id;
}

async function planAt(server: TestServer, id: string): Promise<PlanAnswer> {
  return read('Plan', (await asked(server, 'GET', `small/rotation/plans/${id}`)).answer);
}

/** Asks until the plan is as wanted; the real planner works in its thread meanwhile. */
async function planOnce(server: TestServer, id: string, isWanted: (plan: PlanAnswer) => boolean) {
  let plan: PlanAnswer = await planAt(server, id);
  await expect.poll(async () => isWanted((plan = await planAt(server, id))), { timeout: 15_000 }).toBe(true);
  return plan;
}

const finished = async (server: TestServer, question: object = ask) =>
  planOnce(server, await started(server, question), ({ status }) => status !== 'planning');

describe('a plan over HTTP', () => {
  it('is made within its budget, covers the room, says how good it is, and is a rotation that the unit adopts', async () => {
    const server = await planned();
    const before = server.app.units.get('small' as never)?.authority.head.number;
    const plan = await finished(server);
    expect(plan.status).toBe('finished');
    expect([plan.whatIf, plan.notKept]).toEqual([false, []]);
    expect(plan.uncoveredMinutes).toBeLessThan(60);
    expect(plan.lowerBound).toBeLessThanOrEqual(plan.objective ?? -1);
    expect(plan.gapPct).toBeGreaterThanOrEqual(0);
    const rotation = rotationSchema.parse(plan.rotation);
    expect(rotation).toMatchObject({ startAt: openedAt, endAt: openedAt + 240 * minute, staffInside: { r1: 1 } });
    expect(rotation.trips.length).toBeGreaterThan(2);
    expect(server.app.units.get('small' as never)?.authority.head.number).toBe(before);
    const board = await boardAt(server);
    expect(await board.says('adopt-rotation', { rotation })).toMatchObject({ accepted: true });
  });

  it('keeps what is locked just as it is, says what had begun already, and marks a what-if as not for adopting', async () => {
    const server = await planned();
    await server.clock.advance(40 * minute);
    const locked = plannedFor('w2', 60, { locked: true });
    const begun = plannedFor('w3', 20, { locked: true });
    const plan = await finished(server, { ...ask, locked: [locked, begun], whatIf: { lanesMore: 1 } });
    expect([plan.whatIf, plan.notKept]).toEqual([true, ['w3-20']]);
    const kept = plan.rotation?.trips.filter((trip) => trip.locked);
    expect(kept?.map(({ id: _made, ...trip }) => trip)).toEqual([(({ id: _own, ...trip }) => trip)(locked)]);
    expect(plan.lowerBound).toBeLessThanOrEqual(plan.objective ?? -1);
  });

  it('with nobody inside yet uses all of its time, and says from when on the rooms are covered', async () => {
    const server = await planned();
    const plan = await finished(server, { ...ask, seconds: 2 });
    expect(plan).toMatchObject({ status: 'finished', coveredFrom: openedAt + 10 * minute, uncoveredMinutes: 0 });
    expect(plan).not.toHaveProperty('infeasible');
    const crowded = await finished(server, { ...ask, hours: 12, staffInside: { r1: 2, r2: 1 } });
    expect(crowded.uncoveredMinutes).toBeGreaterThan(0);
    expect(crowded).not.toHaveProperty('infeasible');
  });

  it('is cancelled with its best so far, once there is one', async () => {
    const server = await planned();
    const id = await started(server, endless);
    await planOnce(server, id, ({ rotation }) => rotation !== undefined);
    const { status, answer } = await asked(server, 'DELETE', `small/rotation/plans/${id}`);
    const plan: PlanAnswer = read('Plan', answer);
    expect([status, plan.status]).toEqual([200, 'cancelled']);
    expect(plan.rotation?.trips.length).toBeGreaterThan(0);
    expect((await planAt(server, id)).status).toBe('cancelled');
  });

  it('is one at a time, and the list says which', async () => {
    const server = await planned();
    const id = await started(server, endless);
    expect(await posts(server, ask)).toMatchObject({ status: 409, answer: { code: 'rotation/planning-already' } });
    const { answer } = await asked(server, 'GET', 'small/rotation/plans');
    expect(read('Plans', answer)).toEqual({ plans: [{ id, status: 'planning', askedAt: openedAt }] });
    await asked(server, 'DELETE', `small/rotation/plans/${id}`);
  });
});

describe('a question that will not do', () => {
  const bad: [string, object, string, string?][] = [
    ['too few hours', { ...ask, hours: 3 }, 'rotation/not-understood', 'hours'],
    ['a field that nobody knows', { ...ask, colour: 'red' }, 'rotation/not-understood', 'colour'],
    [
      'half an observer less',
      { ...ask, whatIf: { observersLess: 0.5 } },
      'rotation/not-understood',
      'whatIf.observersLess',
    ],
    ['more seconds than anybody gets', { ...ask, seconds: 9_000 }, 'rotation/not-understood', 'seconds'],
    ['no such procedure', { ...ask, procedure: 'cloak' }, 'procedure/unknown', 'procedure'],
    ['no such room', { ...ask, staffInside: { r9: 1 } }, 'room/unknown', 'staffInside.r9'],
    ['more people than places', { ...ask, staffInside: { r2: 2 } }, 'rotation/too-many-inside', 'staffInside.r2'],
    ['nobody wanted', { ...ask, staffInside: { r1: 0 } }, 'rotation/nobody-wanted', 'staffInside'],
    ['a trip of a stranger', { ...ask, locked: [plannedFor('zz', 60)] }, 'worker/unknown', 'locked.0.worker'],
    [
      'a trip of another procedure',
      { ...ask, procedure: 'hood', locked: [plannedFor('w1', 60)] },
      'rotation/one-procedure',
      'locked.0.procedure',
    ],
  ];
  it('names its field and a code, and starts nothing', async () => {
    const server = await planned();
    for (const [what, question, code, field] of bad) {
      const { status, answer } = await posts(server, question);
      expect([what, status, answer['code'], answer['field']]).toEqual([what, 400, code, field]);
      expect(String(answer['sentence']).length).toBeGreaterThan(10);
      // A person reads it: the field is what names ids.
      expect(answer['sentence']).not.toMatch(/cloak|\b(r9|r2|zz|w1)\b/);
    }
    expect((await asked(server, 'GET', 'small/rotation/plans')).answer).toEqual({ plans: [] });
  });

  it('is told when the unit has no rotation settings, or there is no such unit or plan', async () => {
    const plain = await serve();
    expect(await posts(plain, ask)).toMatchObject({ status: 409, answer: { code: 'rotation/not-set-up' } });
    const server = await planned();
    for (const method of ['GET', 'DELETE'])
      expect(await asked(server, method, 'small/rotation/plans/none')).toMatchObject({
        status: 404,
        answer: { code: 'rotation/no-such-plan' },
      });
    for (const path of ['other/rotation/plans', 'other/rotation/plans/x', 'other/rotation/repair'])
      expect((await asked(server, 'GET', path)).status).toBe(404);
  });

  it('is JSON and said to be: 415, 400 and 413 else', async () => {
    const server = await planned();
    const path = 'small/rotation/plans';
    const text = { 'content-type': 'text/plain' };
    expect((await asked(server, 'POST', path, JSON.stringify(ask), text as never)).status).toBe(415);
    expect((await asked(server, 'POST', path, '{')).answer['code']).toBe('request/not-json');
    expect((await asked(server, 'POST', path, `"${'x'.repeat(200_000)}"`)).status).toBe(413);
  });
});
