import { createServer, type Server as HttpServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { Server } from 'socket.io';
import { afterEach, describe, expect, it } from 'vitest';
import { UnitLink, type Identity, type LinkListener } from '../../client/link/unit-link.ts';
import type { Hello, HelloAnswer, Missing } from '../../machines/wire/messages.ts';

/** A server of this test's own: it says what the test wants to every hello and catch-up, and keeps what it was asked. */
class ScriptedServer {
  readonly hellos: Hello[] = [];
  readonly catchUps: number[] = [];
  welcome: (hello: Hello) => HelloAnswer = () => ({
    welcome: true,
    serverTime: 1,
    drill: false,
    server: 's1',
    missing: none,
  });
  private readonly http: HttpServer = createServer();
  private readonly io = new Server(this.http);

  async listen(): Promise<string> {
    this.io.on('connection', (socket) => {
      socket.on('hello', (hello: Hello, answer: (answer: HelloAnswer) => void) => {
        this.hellos.push(hello);
        answer(this.welcome(hello));
      });
      socket.on('catch-up', ({ after }: { after: number }, answer: (missing: Missing) => void) => {
        this.catchUps.push(after);
        answer({ state: { number: 7 }, head: 7 });
      });
      socket.on('beat', (_: unknown, answer: (beat: object) => void) => answer({ sentAt: 0, serverTime: 1, head: 7 }));
    });
    await new Promise<void>((resolve) => this.http.listen(0, '127.0.0.1', resolve));
    return `http://127.0.0.1:${(this.http.address() as AddressInfo).port}`;
  }

  send(event: string, message: object): void {
    this.io.emit(event, message);
  }

  /** As a network does. */
  cutEverybody(): void {
    for (const socket of this.io.sockets.sockets.values()) socket.conn.close();
  }

  /** As a server does that wants to be rid of a connection. */
  endEverybody(): void {
    this.io.disconnectSockets(true);
  }

  close(): Promise<void> {
    return this.io.close();
  }
}

const none: Missing = { facts: [], head: 0 };
const identity = { unit: 'u', device: 'board-1', role: 'coordinator', person: 'p' } as unknown as Identity;

/** A screen that only writes down what it is told. */
function screen(number: number) {
  const told: string[] = [];
  const listener: LinkListener = {
    number: () => number,
    welcomed: () => void told.push('welcomed'),
    turnedAway: ({ code }) => void told.push(`turned away: ${code}`),
    missing: (missing) => {
      if ('state' in missing) number = missing.head;
      told.push('state' in missing ? 'state' : 'facts');
    },
    startOver: () => {
      number = 0;
      told.push('start over');
    },
    facts: (facts) => void told.push(`facts from ${facts[0]?.number ?? 0}`),
    pulse: () => undefined,
    beat: () => undefined,
    lost: () => undefined,
  };
  return { told, listener };
}

describe('the link of a screen', () => {
  let server: ScriptedServer;
  let link: UnitLink;

  async function open(number: number, prepare: (server: ScriptedServer) => void = () => undefined) {
    server = new ScriptedServer();
    prepare(server);
    const { told, listener } = screen(number);
    link = new UnitLink(identity, listener, () => Date.now(), await server.listen());
    link.open();
    return told;
  }

  afterEach(async () => {
    link.close();
    await server.close();
  });

  it('says hello with its own number, and asks again from there when it sees a gap', async () => {
    const told = await open(5);
    await expect.poll(() => told).toEqual(['facts', 'welcomed']);
    expect(server.hellos[0]).toMatchObject({ after: 5, device: 'board-1' });
    server.send('facts', { facts: [{ number: 5 }, { number: 6 }] });
    await expect.poll(() => told.at(-1)).toBe('facts from 6');
    server.send('facts', { facts: [{ number: 9 }] });
    await expect.poll(() => server.catchUps).toEqual([5]);
    await expect.poll(() => told.at(-1)).toBe('state');
  });

  it('asks when a pulse tells of facts it never got', async () => {
    const told = await open(5);
    await expect.poll(() => told.at(-1)).toBe('welcomed');
    server.send('pulse', { serverTime: 1, head: 6 });
    await expect.poll(() => server.catchUps).toEqual([5]);
  });

  it('builds on nothing it knew when the server was started anew: the same numbers may be other facts', async () => {
    const told = await open(5);
    await expect.poll(() => told.at(-1)).toBe('welcomed');
    server.welcome = () => ({ welcome: true, serverTime: 1, drill: false, server: 's2', missing: none });
    server.cutEverybody();
    await expect.poll(() => told.slice(2), { timeout: 8_000 }).toEqual(['start over', 'state', 'welcomed']);
    expect(server.catchUps).toEqual([0]);
  });

  it('comes back by itself when the server cannot take anybody just now', async () => {
    let asked = 0;
    const told = await open(5, (server) => {
      const welcome = server.welcome;
      server.welcome = (hello) =>
        asked++ === 0 ? { welcome: false, code: 'unit/log-unavailable', sentence: 'Later.' } : welcome(hello);
    });
    await expect.poll(() => told, { timeout: 8_000 }).toEqual(['facts', 'welcomed']);
    expect(server.hellos).toHaveLength(2);
  });

  it('comes back by itself when the server ended the connection without a word', async () => {
    const told = await open(5);
    await expect.poll(() => told.at(-1)).toBe('welcomed');
    server.endEverybody();
    await expect.poll(() => server.hellos.length, { timeout: 8_000 }).toBe(2);
  });

  it('stays away when it is turned away for what it is', async () => {
    const told = await open(5, (server) => {
      server.welcome = () => ({ welcome: false, code: 'session/role-not-held', sentence: 'Not you.' });
    });
    await expect.poll(() => told).toEqual(['turned away: session/role-not-held']);
  });
});
