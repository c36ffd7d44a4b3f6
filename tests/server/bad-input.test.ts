import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { messageBytesMax } from '../../machines/wire/messages.ts';
import { refusalCodes } from '../../machines/wire/refusal.ts';
import { wireVersion } from '../../machines/wire/report.ts';
import { socketBytesMax } from '../../server/sockets/sockets.ts';
import { boardAt, safetyAt, Screen, serve, tabletAt, type TestServer } from '../support/server-fixture.ts';
import { minute, second } from '../support/unit-fixture.ts';

/** A server on which w1 is called to the gown procedure and o1 guides them, and the screens of both. */
async function underWay() {
  const server = await serve();
  const [board, tablet] = [await boardAt(server), await tabletAt(server, 'o1')];
  await tablet.says('start-duty');
  await board.says('call-worker', { worker: 'w1', room: 'r1', procedure: 'gown' });
  await tablet.says('take-worker', { worker: 'w1' });
  return { server, board, tablet };
}

/** Whatever came before: the connection and the server live on. */
async function livesOn(server: TestServer, screen: Screen): Promise<void> {
  await server.clock.advance(second);
  expect(await screen.ask('beat', { sentAt: 1 })).toMatchObject({ sentAt: 1 });
  expect((await fetch(`${server.url}/healthz`)).status).toBe(200);
}

const refusedWith = (code: string) => ({ accepted: false, code, sentence: expect.stringMatching(/\w.*\./) as string });
const count = (server: TestServer, code: string) => server.metric(`anteroom_refusals_total{code="${code}"}`);

describe('promise 6: every bad report gets its code and a sentence, is counted, and harms nothing', () => {
  const cases: [what: string, code: string, send: (screen: Screen) => Promise<unknown>][] = [
    ['an unknown kind', 'message/unknown-kind', (s) => s.says('start-duty', {}, { kind: 'fly-away' })],
    [
      'a kind that is a name of every object',
      'message/unknown-kind',
      (s) => s.says('start-duty', {}, { kind: 'constructor' }),
    ],
    ['a wrong type', 'message/not-understood', (s) => s.says('start-duty', {}, { sequence: 'seven' })],
    ['a missing field', 'message/not-understood', (s) => s.says('start-duty', {}, { kind: 'take-worker', data: {} })],
    ['a field too many', 'message/not-understood', (s) => s.says('start-duty', {}, { data: { also: 1 } })],
    ['an id that is none', 'message/not-understood', (s) => s.says('start-duty', {}, { id: '../../etc' })],
    ['another version', 'message/wrong-version', (s) => s.says('start-duty', {}, { v: 99 })],
    ['no version', 'message/wrong-version', (s) => s.ask('report', { kind: 'start-duty' })],
    ['another unit', 'session/other-unit', (s) => s.says('start-duty', {}, { unit: 'other' })],
    ['another device', 'session/other-device', (s) => s.says('start-duty', {}, { device: 'tablet-o2' })],
    ['a person nobody knows', 'session/unknown-person', (s) => s.says('start-duty', {}, { person: 'ghost' })],
    ['a person without the role', 'session/role-not-held', (s) => s.says('start-duty', {}, { person: 'c1' })],
    ['an unknown worker', 'worker/unknown', (s) => s.says('verify-step', { worker: 'nobody', step: 'gown-on' })],
    ['an unknown step', 'step/unknown', (s) => s.says('verify-step', { worker: 'w1', step: 'no-such-step' })],
    [
      'a step of another procedure',
      'step/other-procedure',
      (s) => s.says('verify-step', { worker: 'w1', step: 'hood-on' }),
    ],
    ['a worker in another state', 'worker/elsewhere', (s) => s.says('enter-room', { worker: 'w1' })],
    [
      'a report from the future',
      'report/from-the-future',
      (s) => s.says('start-break', {}, { observedAt: Date.parse('2026-03-02T08:01:00Z') }),
    ],
    ['a report ahead of the log', 'report/ahead-of-log', (s) => s.says('start-break', {}, { basedOn: 9_999 })],
    ['a used sequence', 'report/sequence-used', (s) => s.says('start-break', {}, { sequence: 1 })],
    [
      'a used id with another sequence',
      'report/id-used',
      (s) => s.says('start-break', {}, { id: 'board.1', sequence: 1 }),
    ],
    [
      'a message too large',
      'message/too-large',
      (s) => s.says('start-duty', {}, { data: { note: 'x'.repeat(messageBytesMax) } }),
    ],
    [
      'a message of a megabyte',
      'message/too-large',
      (s) => s.says('start-duty', {}, { data: { note: 'x'.repeat(1024 * 1024) } }),
    ],
    ['a string', 'message/not-understood', (s) => s.ask('report', 'start-duty')],
    ['null', 'message/not-understood', (s) => s.ask('report', null)],
    ['a list', 'message/not-understood', (s) => s.ask('report', [1, 2, 3])],
    ['nothing at all', 'message/not-understood', (s) => s.ask('report')],
    ['two messages', 'message/not-understood', (s) => s.ask('report', {}, {})],
    ['bytes', 'message/wrong-version', (s) => s.ask('report', Buffer.from('report'))],
    [
      'something that nests deeply',
      'message/too-large',
      (s) => sendRaw(s, `{"v":${wireVersion},"data":${'['.repeat(400_000)}${']'.repeat(400_000)}}`),
    ],
    ['an attempt on the prototype', 'message/not-understood', (s) => s.ask('report', poisoned())],
  ];

  it.each(cases)('%s: %s', async (_what, code, send) => {
    const { server, tablet } = await underWay();
    const facts = server.app.units.get('small' as never)!.authority.head.number;
    const before = await count(server, code);
    expect(await send(tablet)).toMatchObject(refusedWith(code));
    expect(refusalCodes).toContain(code);
    expect(await count(server, code)).toBe(before + 1);
    expect(server.app.units.get('small' as never)!.authority.head.number - facts).toBeLessThanOrEqual(1);
    expect(({} as { polluted?: unknown }).polluted).toBeUndefined();
    await livesOn(server, tablet);
  });

  it('an hour late: kept for review when it contradicts the record, taken with a remark when it does not', async () => {
    const { server, tablet, board } = await underWay();
    await server.clock.advance(2 * minute);
    const hourAgo = { observedAt: server.clock.now() - 60 * minute };
    const contradicts = await tablet.says('verify-step', { worker: 'w1', step: 'gown-on' }, hourAgo);
    expect(contradicts).toMatchObject({ accepted: false, keptAs: expect.any(Number) as number });
    const fits = await board.says('call-worker', { worker: 'w2', room: 'r1', procedure: 'gown' }, hourAgo);
    expect(fits).toMatchObject({ accepted: true, notice: { code: 'report/late' } });
    await livesOn(server, tablet);
  });

  it('before hello: nothing is taken, and hello is still possible', async () => {
    const server = await serve();
    const screen = new Screen(server, 'tablet-o1', 'o1', 'observer');
    const early = screen.report('start-duty');
    expect(await screen.ask('report', early)).toMatchObject({ ...refusedWith('session/no-hello'), retry: true });
    expect(await screen.ask('beat', { sentAt: 1 })).toMatchObject({ code: 'session/no-hello' });
    expect(await screen.ask('catch-up', { after: 0 })).toMatchObject({ code: 'session/no-hello' });
    expect(await screen.ask('leave', {})).toMatchObject({ code: 'session/no-hello' });
    expect(await screen.hello()).toMatchObject({ welcome: true });
    expect(await screen.ask('report', early)).toMatchObject({ accepted: true });
  });

  it.each([
    ['an event nobody knows', 'fly-away', {}],
    ['an event called error', 'error', {}],
    ['an event called message', 'message', {}],
    ['an event without a name', '', {}],
    ['a beat that is none', 'beat', { sentAt: 'now' }],
    ['a catch-up that is none', 'catch-up', { after: -1 }],
    ['a hello that is none', 'hello', { v: wireVersion }],
  ])('%s', async (_what, event, message) => {
    const { server, tablet } = await underWay();
    expect(await tablet.ask(event, message)).toMatchObject({
      code: expect.stringMatching(/^message\//) as string,
      sentence: expect.any(String) as string,
    });
    await livesOn(server, tablet);
  });

  it('without a callback nothing is answered, and nothing breaks', async () => {
    const { server, tablet } = await underWay();
    for (const event of ['hello', 'report', 'beat', 'catch-up', 'leave?', 'error'])
      for (const args of [[], [null], [{}], ['text'], [1, 2, 3], [nested(50)]]) tablet.socket.emit(event, ...args);
    await livesOn(server, tablet);
    expect(await tablet.says('start-break')).toMatchObject({ accepted: false, code: 'observer/not-free' });
  });
});

describe('a bug of ours', () => {
  it.each([
    ['catch-up', { after: 0 }],
    ['hello', { v: wireVersion, unit: 'small', device: 'tablet-o1', role: 'observer', person: 'o1', after: 0 }],
  ])('in answering %s is answered too, noted, and ends nothing', async (event, message) => {
    const { server, tablet } = await underWay();
    const { authority } = server.app.units.get('small' as never)!;
    authority.missingAfter = () => {
      throw new Error('a bug');
    };
    expect(await tablet.ask(event, message)).toMatchObject({ code: 'message/not-understood' });
    expect(server.journal.join('')).toContain('a bug: message not handled');
    await livesOn(server, tablet);
  });
});

describe('too much', () => {
  it('more reports than a second allows are turned away to come again; none is lost or overtaken', async () => {
    const { server, tablet } = await underWay();
    const reports = Array.from({ length: 100 }, () =>
      tablet.report('confirm-kit-item', { worker: 'w1', item: 'kit-gown' }),
    );
    const answers = (await Promise.all(reports.map((one) => tablet.ask('report', one)))) as {
      code: string;
      retry?: true;
    }[];
    const turnedAway = answers.filter((answer) => answer.retry);
    expect(turnedAway.length).toBeGreaterThan(10);
    expect(new Set(turnedAway.map((answer) => answer.code))).toEqual(new Set(['message/too-many']));
    await server.clock.advance(2 * second);
    // The one after a turned-away one has to wait for it.
    const first = answers.findIndex((answer) => answer.retry);
    expect(await tablet.ask('report', reports[first + 1])).toMatchObject({ code: 'unit/busy', retry: true });
    expect(await tablet.ask('report', reports[first])).not.toHaveProperty('retry');
    expect(await tablet.ask('report', reports[first + 1])).not.toHaveProperty('retry');
  });

  it('a flood is cut; everybody else goes on', async () => {
    const { server, tablet, board } = await underWay();
    const cut = tablet.closed();
    for (let each = 0; each < 10_000; each += 1) tablet.socket.emit('report', {});
    await cut;
    expect(await server.metric('anteroom_sockets_cut_total{reason="flood"}')).toBe(1);
    await livesOn(server, board);
  });

  it('a message larger than any may be ends its own connection and no other, and is counted', async () => {
    const { server, tablet, board } = await underWay();
    const cut = tablet.closed();
    tablet.socket.emit('report', { note: 'x'.repeat(socketBytesMax) });
    await cut;
    await expect.poll(() => count(server, 'message/too-large')).toBe(1);
    await livesOn(server, board);
    expect(await tabletAt(server, 'o1')).toMatchObject({ folded: { unit: 'small' } });
  });
});

describe('the door', () => {
  it('a page of another origin is not let in, one of this server is', async () => {
    const server = await serve();
    const from = (origin: string) => {
      const screen = new Screen({ ...server }, `tablet-${origin.length}`, 'o1', 'observer', { origin });
      return screen.connected();
    };
    expect(await from('http://elsewhere.example')).toBe(false);
    expect(await from(server.url)).toBe(true);
  });
});

describe('anything at all', () => {
  it('any JSON on any event is answered, and the server stands (fast-check)', async () => {
    const server = await serve();
    const officer = await safetyAt(server);
    const event = fc.oneof(
      fc.constantFrom('hello', 'report', 'beat', 'catch-up', 'error'),
      fc.string({ maxLength: 12 }),
    );
    const reserved = ['connect', 'connect_error', 'disconnect', 'disconnecting', 'newListener', 'removeListener'];
    const args = fc.array(fc.jsonValue({ maxDepth: 4 }), { maxLength: 3 });
    await fc.assert(
      fc.asyncProperty(event, args, async (name, values) => {
        fc.pre(!reserved.includes(name));
        await server.clock.advance(second);
        const answer = await officer.ask(name, ...values);
        expect(answer).toBeTypeOf('object');
      }),
      { numRuns: 300, seed: 20260302 },
    );
    await livesOn(server, officer);
  });

  it('any change to a good report is answered with a code of the list (fast-check)', async () => {
    const { server, tablet } = await underWay();
    const good = tablet.report('start-break');
    const change = fc.record({
      key: fc.constantFrom(...Object.keys(good), 'extra'),
      value: fc.jsonValue({ maxDepth: 3 }),
    });
    await fc.assert(
      fc.asyncProperty(change, async ({ key, value }) => {
        await server.clock.advance(second);
        const answer = (await tablet.ask('report', { ...good, [key]: value })) as { accepted: boolean; code?: string };
        if (!answer.accepted) expect(refusalCodes).toContain(answer.code);
      }),
      { numRuns: 200, seed: 20260302 },
    );
    await livesOn(server, tablet);
  });
});

/** Past the client's own code, which could not write it down itself. */
function sendRaw(screen: Screen, message: string): Promise<unknown> {
  const { engine } = screen.socket.io;
  const answerTo = 777;
  return new Promise((resolve) => {
    engine.on('data', (data: string) => {
      const start = `3${answerTo}`;
      if (data.startsWith(start)) resolve((JSON.parse(data.slice(start.length)) as unknown[])[0]);
    });
    engine.write(`2${answerTo}["report",${message}]`);
  });
}

function nested(depth: number): unknown {
  let value: unknown = 1;
  for (let level = 0; level < depth; level += 1) value = [value];
  return value;
}

/** What JSON.parse makes of these keys are own properties; nothing may make prototypes of them. */
function poisoned(): unknown {
  return JSON.parse(
    `{"v":${wireVersion},"__proto__":{"polluted":true},"constructor":{"prototype":{"polluted":true}},"kind":"start-duty"}`,
  );
}
