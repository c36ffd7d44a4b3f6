import { describe, expect, it } from 'vitest';
import { pulseEveryMs, type ReportAnswer } from '../../machines/wire/messages.ts';
import { MemoryPresence } from '../../server/presence/memory-presence.ts';
import { FakeClock } from '../support/fake-clock.ts';
import { MoodyLog } from '../support/moody-log.ts';
import { boardAt, safetyAt, Screen, serve, tabletAt, wallAt } from '../support/server-fixture.ts';
import { minute, openedAt, second, vitals } from '../support/unit-fixture.ts';

const call = { worker: 'w1', room: 'r1', procedure: 'gown' };

describe('hello', () => {
  it('brings everything that is missing, and from then on every fact', async () => {
    const server = await serve();
    const board = await boardAt(server);
    const tablet = await tabletAt(server, 'o1');
    await tablet.says('start-duty');
    await board.seen(4);
    expect(board.received.map((fact) => fact.kind)).toEqual([
      'unit-opened',
      'device-joined',
      'device-joined',
      'duty-started',
    ]);
  });

  it('tells the time of the server, its name, and whether this is a drill', async () => {
    const server = await serve({ drill: true, server: 'server-7' });
    const answer = await new Screen(server, 'board', 'c1', 'coordinator').hello();
    expect(answer).toMatchObject({ welcome: true, serverTime: openedAt, drill: true, server: 'server-7' });
  });

  it('a wall needs nobody; every other screen needs somebody who holds its role', async () => {
    const server = await serve();
    await wallAt(server);
    const screen = new Screen(server, 'tablet-o1', 'o1', 'observer');
    expect(await screen.hello({ person: undefined })).toMatchObject({ welcome: false, code: 'session/unknown-person' });
    expect(await screen.hello({ person: 'ghost' })).toMatchObject({ welcome: false, code: 'session/unknown-person' });
    expect(await screen.hello({ person: 'c1' })).toMatchObject({ welcome: false, code: 'session/role-not-held' });
    expect(await screen.hello({ unit: 'elsewhere' })).toMatchObject({ welcome: false, code: 'unit/unknown' });
    expect(await screen.hello({ v: 99 })).toMatchObject({ welcome: false, code: 'message/wrong-version' });
    expect(await screen.hello({ after: -1 })).toMatchObject({ welcome: false, code: 'message/not-understood' });
    expect(await screen.hello()).toMatchObject({ welcome: true });
  });

  it('a device that is opened again replaces its earlier socket', async () => {
    const server = await serve();
    const first = await tabletAt(server, 'o1');
    const gone = first.closed();
    const second = await tabletAt(server, 'o1');
    await gone;
    expect(first.farewell).toMatchObject({ code: 'session/replaced' });
    expect(await second.says('start-duty')).toMatchObject({ accepted: true });
    expect(await server.metric('anteroom_sockets')).toBe(1);
    expect(await server.metric('anteroom_sockets_cut_total{reason="replaced"}')).toBe(1);
  });

  it('while the log is away nobody is welcomed, and the page may try again', async () => {
    const server = await serve();
    server.log.mood = 'gone';
    const screen = new Screen(server, 'tablet-o1', 'o1', 'observer');
    expect(await screen.hello()).toMatchObject({ welcome: false, code: 'unit/log-unavailable' });
    server.log.release();
    expect(await screen.hello()).toMatchObject({ welcome: true });
  });
});

describe('promise 3: every screen equals the fold of the log up to the number it shows', () => {
  it('after a busy minute, every screen and /state are the same', async () => {
    const server = await serve();
    const [board, safety, wall] = [await boardAt(server), await safetyAt(server), await wallAt(server)];
    const tablets = [await tabletAt(server, 'o1'), await tabletAt(server, 'o2')] as const;
    await Promise.all(tablets.map((tablet) => tablet.says('start-duty')));
    await board.says('call-worker', call);
    await tablets[0].says('take-worker', { worker: 'w1' });
    await tablets[0].says('record-screening', { worker: 'w1', points: ['drank', 'toilet'], vitals });
    await server.clock.advance(minute);
    const { number, state } = await stateOf(server.url);
    for (const screen of [board, safety, wall, ...tablets]) {
      await screen.seen(number);
      expect(screen.folded).toEqual(state);
    }
  });

  it('a screen that was away catches up with the facts after its number', async () => {
    const server = await serve();
    const tablet = await tabletAt(server, 'o1');
    const before = await boardAt(server);
    before.socket.disconnect();
    await tablet.says('start-duty');
    const after = new Screen(server, 'board', 'c1', 'coordinator');
    after.folded = before.folded;
    await after.welcome();
    expect(after.received.map((fact) => fact.kind)).toEqual(['duty-started']);
    expect(after.folded).toEqual((await stateOf(server.url)).state);
  });

  it('a screen that has lost a message sees the gap and asks again', async () => {
    const server = await serve();
    const [tablet, board] = [await tabletAt(server, 'o1'), await boardAt(server)];
    const old = board.folded;
    await tablet.says('start-duty');
    await board.seen(4);
    board.folded = old;
    await server.clock.advance(pulseEveryMs);
    await expect.poll(() => board.pulses.at(-1)?.head).toBe(4);
    await board.catchUp();
    expect(board.folded).toEqual((await stateOf(server.url)).state);
  });

  it('a screen that is ahead of the log gets the state', async () => {
    const server = await serve();
    const board = new Screen(server, 'board', 'c1', 'coordinator');
    expect(await board.hello({ after: 1_000 })).toMatchObject({ missing: { state: { unit: 'small' }, head: 2 } });
  });
});

describe('two servers on one log', () => {
  it('a tablet at one and a board at the other see the same unit', async () => {
    const shared = { log: new MoodyLog(), clock: new FakeClock(openedAt), presence: new MemoryPresence() };
    const [one, two] = [await serve(shared), await serve(shared)];
    const [tablet, board] = [await tabletAt(one, 'o1'), await boardAt(two)];
    await tablet.says('start-duty');
    await board.says('call-worker', call);
    await tablet.says('take-worker', { worker: 'w1' });
    for (const screen of [tablet, board]) await screen.seen(6);
    expect(board.folded).toEqual(tablet.folded);
    expect(await stateOf(one.url)).toEqual(await stateOf(two.url));
    // Heard by the first server only, and no silence to the second.
    for (let passed = 0; passed < 60; passed += 5) {
      for (const screen of [tablet, board]) await screen.ask('beat', { sentAt: 0 });
      await shared.clock.advance(5 * second);
    }
    expect(tablet.received.filter((fact) => fact.kind === 'device-silent')).toEqual([]);
  });

  it('a report whose answer was lost with one server is answered by the other, and written once', async () => {
    const shared = { log: new MoodyLog(), clock: new FakeClock(openedAt), presence: new MemoryPresence() };
    const [one, two] = [await serve(shared), await serve(shared)];
    const tablet = await tabletAt(one, 'o1');
    const report = tablet.report('start-duty');
    const first = (await tablet.ask('report', report)) as ReportAnswer;
    const moved = await tabletAt(two, 'o1');
    expect(await moved.ask('report', report)).toEqual({ ...first, repeat: true });
  });
});

describe('confidential values', () => {
  async function screened() {
    const server = await serve();
    const screens = { board: await boardAt(server), safety: await safetyAt(server), wall: await wallAt(server) };
    const tablet = await tabletAt(server, 'o1');
    await tablet.says('start-duty');
    await screens.board.says('call-worker', call);
    await tablet.says('take-worker', { worker: 'w1' });
    const recorded = await tablet.says('record-screening', { worker: 'w1', points: ['drank', 'toilet'], vitals });
    const number = recorded.accepted ? recorded.numbers[0]! : 0;
    for (const screen of [...Object.values(screens), tablet]) await screen.seen(number);
    return { server, ...screens, tablet, number };
  }
  const pulse = String(vitals.pulsePerMin);

  it('go to the safety officer and to nobody else, in facts, at hello, at catch-up and over HTTP', async () => {
    const { server, board, safety, wall, tablet, number } = await screened();
    const factAt = (screen: Screen) => screen.received.find((fact) => fact.number === number)!;
    expect(factAt(safety).confidential).toMatchObject({ vitals });
    for (const screen of [board, wall, tablet]) {
      expect(factAt(screen)).toMatchObject({ kind: 'screening-recorded', hash: factAt(safety).hash });
      expect(JSON.stringify(screen.received)).not.toContain(pulse);
      expect(JSON.stringify(await screen.ask('catch-up', { after: 0 }))).not.toContain(pulse);
      expect(JSON.stringify(await screen.hello({ after: 0 }))).not.toContain(pulse);
    }
    expect(JSON.stringify(await safety.ask('catch-up', { after: 0 }))).toContain(pulse);
    for (const path of ['state', 'log']) {
      const text = await (await fetch(`${server.url}/api/units/small/${path}`)).text();
      expect(text).toContain('screening');
      expect(text).not.toContain(pulse);
    }
  });

  it('neither they nor names are in the journal of the server', async () => {
    const { server } = await screened();
    const journal = server.journal.join('');
    expect(journal).not.toContain(pulse);
    expect(journal).not.toContain('Zephyrine');
  });
});

describe('signs of life', () => {
  it('a pulse comes every second, with the time and the number of the last fact', async () => {
    const server = await serve();
    const board = await boardAt(server);
    await server.clock.advance(3 * second);
    await expect.poll(() => board.pulses).toHaveLength(3);
    expect(board.pulses.at(-1)).toEqual({ serverTime: openedAt + 3 * second, head: 2 });
  });

  it('a beat comes back with the time of the device and of the server', async () => {
    const server = await serve();
    const board = await boardAt(server);
    expect(await board.ask('beat', { sentAt: 12.5 })).toEqual({ sentAt: 12.5, serverTime: openedAt, head: 2 });
  });

  it('a tablet that falls silent is a fact, and so is its return, by whatever it sends first', async () => {
    const server = await serve();
    const [tablet, board] = [await tabletAt(server, 'o1'), await boardAt(server)];
    await tablet.says('start-duty');
    for (let passed = 0; passed < 35; passed += 5) {
      await board.ask('beat', { sentAt: 0 });
      await server.clock.advance(5 * second);
    }
    await expect.poll(() => board.folded?.devices).toMatchObject({ 'tablet-o1': { value: 'silent' } });
    expect(board.folded?.observers).toMatchObject({ o1: { value: 'unreachable' } });
    await tablet.ask('beat', { sentAt: 0 });
    await expect.poll(() => board.folded?.devices).toMatchObject({ 'tablet-o1': { value: 'live' } });
    expect(board.folded?.observers).toMatchObject({ o1: { value: 'available' } });
  });

  it('a device that signs off is gone and not silent; one that guides nobody may', async () => {
    const server = await serve();
    const [tablet, board] = [await tabletAt(server, 'o1'), await boardAt(server)];
    expect(await tablet.ask('leave', {})).toEqual({ left: true });
    await expect.poll(() => board.folded?.devices).toMatchObject({ 'tablet-o1': { value: 'gone' } });
    expect(await tablet.says('start-duty')).toMatchObject({ accepted: false, code: 'session/no-hello' });
    await server.clock.advance(10 * minute);
    expect(board.received.filter((fact) => fact.kind === 'device-silent').map((fact) => fact.data)).not.toContainEqual(
      expect.objectContaining({ device: 'tablet-o1' }),
    );
  });

  it('a device that does not read is cut when too much waits for it', async () => {
    const server = await serve();
    const [slow, tablet] = [await tabletAt(server, 'o1'), await tabletAt(server, 'o2')];
    const stream = (slow.socket.io.engine.transport as unknown as { ws: { _socket: { pause(): void } } }).ws._socket;
    stream.pause();
    // What is asked for and never read: the whole log, again and again.
    const cut = () => server.metric('anteroom_sockets_cut_total{reason="slow-reader"}');
    for (let round = 0; round < 400 && (await cut()) === 0; round += 1) {
      for (let each = 0; each < 20; each += 1) slow.socket.emit('catch-up', { after: 0 }, () => undefined);
      await server.clock.advance(second);
    }
    expect(await cut()).toBe(1);
    expect(await tablet.says('start-duty')).toMatchObject({ accepted: true });
  });
});

async function stateOf(url: string): Promise<{ number: number; state: object }> {
  return (await (await fetch(`${url}/api/units/small/state`)).json()) as { number: number; state: object };
}
