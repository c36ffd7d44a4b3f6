import { pino, type Logger } from 'pino';
import { io, type Socket } from 'socket.io-client';
import { onTestFinished } from 'vitest';
import { foldAll } from '../../machines/unit/fold.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import type { Hello, HelloAnswer, Missing, Pulse, ReportAnswer } from '../../machines/wire/messages.ts';
import { wireVersion, type ReportKind } from '../../machines/wire/report.ts';
import { createApp, type App, type AppParts } from '../../server/app.ts';
import { MemoryPresence } from '../../server/presence/memory-presence.ts';
import { openUnit } from '../../server/unit/load-unit.ts';
import { small, Tablet } from './authority-fixture.ts';
import { FakeClock } from './fake-clock.ts';
import { MoodyLog } from './moody-log.ts';
import { gown, hood, openedAt, settings } from './unit-fixture.ts';

export interface TestServer {
  app: App;
  url: string;
  log: MoodyLog;
  clock: FakeClock;
  /** The lines of the server's own journal. */
  journal: string[];
  /** One line of /metrics, as a number; 0 when it is not there. */
  metric(line: string): Promise<number>;
}

/** A whole server on a port of its own, with a log in memory and a clock that stands still. Gone with the test. */
export async function serve(more: Partial<AppParts> & { log?: MoodyLog; clock?: FakeClock } = {}): Promise<TestServer> {
  const { log = new MoodyLog(), clock = new FakeClock(openedAt) } = more;
  const journal: string[] = [];
  const app = await createApp({
    units: [openUnit(settings, [gown, hood], '2026-03-02')],
    presence: new MemoryPresence(),
    logger: journalInto(journal),
    salt: () => 'a-salt-for-tests-only-0',
    server: 'server-1',
    drill: false,
    clientDirectory: '/nowhere',
    ...more,
    log,
    clock,
  });
  const [url = ''] = await app.listen(0, '127.0.0.1');
  onTestFinished(() => app.close());
  const metric = async (line: string) => {
    const text = await (await fetch(`${url}/metrics`)).text();
    return Number(
      text
        .split('\n')
        .find((one) => one.startsWith(`${line} `))
        ?.slice(line.length + 1) ?? 0,
    );
  };
  return { app, url, log, clock, journal, metric };
}

const journalInto = (lines: string[]): Logger =>
  pino({ level: 'trace' }, { write: (line: string) => lines.push(line) });

/** A client that answers nothing by itself: what it sends and sees is the test's business. */
export class Screen extends Tablet {
  readonly socket: Socket;
  readonly received: Fact[] = [];
  readonly pulses: Pulse[] = [];
  farewell: { code: string } | undefined;
  folded: UnitState | undefined;

  constructor(server: TestServer, device: string, person: string, role: Tablet['role'], extraHeaders = {}) {
    super(device, person, role, () => server.clock.now());
    this.socket = io(server.url, { transports: ['websocket'], reconnection: false, forceNew: true, extraHeaders });
    this.socket.on('facts', ({ facts }: { facts: Fact[] }) => this.take(facts));
    this.socket.on('pulse', (pulse: Pulse) => this.pulses.push(pulse));
    this.socket.on('farewell', (farewell: { code: string }) => (this.farewell = farewell));
    onTestFinished(() => void this.socket.disconnect());
  }

  /** Any event, any arguments, and whatever comes back; rejects when nothing does. */
  ask(event: string, ...args: unknown[]): Promise<unknown> {
    return this.socket.timeout(5_000).emitWithAck(event, ...args) as Promise<unknown>;
  }

  async hello(more: Partial<Hello> | Record<string, unknown> = {}): Promise<HelloAnswer> {
    const { device, person, role } = this;
    const message = { v: wireVersion, unit: small, device, role, person, after: this.number, ...more };
    const answer = (await this.ask('hello', message)) as HelloAnswer;
    if (answer.welcome) this.takeMissing(answer.missing);
    return answer;
  }

  async welcome(): Promise<this> {
    const answer = await this.hello();
    if (!answer.welcome) throw new Error(`turned away: ${answer.code}`);
    return this;
  }

  async catchUp(): Promise<void> {
    this.takeMissing((await this.ask('catch-up', { after: this.number })) as Missing);
  }

  says(kind: ReportKind, data: object = {}, more: object = {}): Promise<ReportAnswer> {
    return this.ask('report', { ...this.report(kind, data), ...more }) as Promise<ReportAnswer>;
  }

  get number(): number {
    return this.folded?.number ?? 0;
  }

  /** Resolves when this screen has folded up to `number`. */
  async seen(number: number): Promise<void> {
    while (this.number < number) await new Promise((heard) => this.socket.once('facts', heard));
  }

  /** Whether the server lets this socket in. */
  connected(): Promise<boolean> {
    return new Promise((resolve) => {
      this.socket.once('connect', () => resolve(true));
      this.socket.once('connect_error', () => resolve(false));
    });
  }

  closed(): Promise<void> {
    return new Promise((resolve) => {
      if (this.socket.disconnected && !this.socket.active) resolve();
      else this.socket.once('disconnect', () => resolve());
    });
  }

  private takeMissing(missing: Missing): void {
    if ('state' in missing) this.folded = missing.state as UnitState;
    else this.take(missing.facts);
  }

  private take(facts: readonly Fact[]): void {
    this.received.push(...facts);
    this.folded = foldAll(
      this.folded,
      facts.filter((fact) => fact.number > this.number),
    );
  }
}

export const tabletAt = (server: TestServer, who: string): Promise<Screen> =>
  new Screen(server, `tablet-${who}`, who, 'observer').welcome();
export const boardAt = (server: TestServer): Promise<Screen> =>
  new Screen(server, 'board', 'c1', 'coordinator').welcome();
export const safetyAt = (server: TestServer): Promise<Screen> =>
  new Screen(server, 'safety', 's1', 'safety-officer').welcome();
export const leadAt = (server: TestServer): Promise<Screen> => new Screen(server, 'lead', 'lead', 'lead').welcome();
export const wallAt = (server: TestServer): Promise<Screen> => new Screen(server, 'wall', 'nobody', 'wall').welcome();
