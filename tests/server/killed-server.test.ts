import { expect, it } from 'vitest';
import { io, type Socket } from 'socket.io-client';
import { foldAll } from '../../machines/unit/fold.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import type { ReportAnswer } from '../../machines/wire/messages.ts';
import { wireVersion } from '../../machines/wire/report.ts';
import { verifyChain } from '../../server/log/hash-chain.ts';
import { temporaryDirectories } from '../contracts/temporary-directory.ts';
import { AnteroomProcess } from '../support/anteroom-process.ts';

/** Promise 1 with a real process, a real disk and SIGKILL: whatever was acknowledged is there after the restart, once. */
const temporary = temporaryDirectories();
const observers = ['p-13', 'p-14', 'p-15', 'p-16'];

interface Acknowledged {
  id: string;
  numbers: number[];
}

const serve = (data: string) => new AnteroomProcess('serve', '--port', '0', '--data', data, '--no-build');

/** A tablet that sends one report after the other as fast as they are answered, until the server is gone. */
async function sendUntilGone(url: string, person: string, firstSequence: number, acknowledged: Acknowledged[]) {
  const device = `tablet-${person}`;
  const socket: Socket = io(url, { transports: ['websocket'], reconnection: false, forceNew: true });
  const ask = (event: string, message: object) => socket.timeout(5_000).emitWithAck(event, message) as Promise<unknown>;
  try {
    await new Promise((connected) => socket.once('connect', connected as () => void));
    await ask('hello', { v: wireVersion, unit: 'drill', device, role: 'observer', person, after: 0 });
    const kinds = ['start-duty', 'start-break', 'end-break'];
    for (let sequence = firstSequence; ; sequence += 1) {
      const kind = sequence === firstSequence ? 'start-duty' : kinds[1 + (sequence % 2)];
      const id = `${device}.${sequence}`;
      const report = {
        v: wireVersion,
        id,
        unit: 'drill',
        device,
        sequence,
        person,
        observedAt: Date.now(),
        kind,
        data: {},
      };
      const answer = (await ask('report', report)) as ReportAnswer;
      if (answer.accepted) acknowledged.push({ id, numbers: answer.numbers });
    }
  } catch {
    // The server is gone, as it should be.
  } finally {
    socket.disconnect();
  }
}

async function logOf(url: string): Promise<Fact[]> {
  const facts: Fact[] = [];
  for (;;) {
    const page = (await (await fetch(`${url}/api/units/drill/log?after=${facts.length}&limit=1000`)).json()) as {
      facts: Fact[];
    };
    if (page.facts.length === 0) return facts;
    facts.push(...page.facts);
  }
}

const stateOf = async (url: string) =>
  (await (await fetch(`${url}/api/units/drill/state`)).json()) as { number: number; state: object };

it(
  'killed at any moment, it loses nothing that was acknowledged and doubles nothing',
  { timeout: 120_000 },
  async () => {
    const data = temporary();
    const acknowledged: Acknowledged[] = [];
    const seen: { number: number; state: object }[] = [];
    for (let round = 0; round < 3; round += 1) {
      const server = serve(data);
      const url = await server.started();
      const clients = observers.map((person) => sendUntilGone(url, person, 1 + round * 100_000, acknowledged));
      const before = acknowledged.length;
      await expect.poll(() => acknowledged.length, { timeout: 20_000 }).toBeGreaterThan(before + 100 + round * 37);
      seen.push(await stateOf(url));
      await server.stop('SIGKILL');
      await Promise.all(clients);
    }
    const url = await serve(data).started();
    const facts = await logOf(url);
    expect(await verifyChain(facts)).toMatchObject({ ok: true, count: facts.length });
    for (const { id, numbers } of acknowledged)
      expect(facts.filter((fact) => fact.report?.id === id).map((fact) => fact.number)).toEqual(numbers);
    for (const { number, state } of seen) expect(foldAll(undefined, facts.slice(0, number))).toEqual(state);
    const now = await stateOf(url);
    expect(foldAll(undefined, facts.slice(0, now.number))).toEqual(now.state);
  },
);
