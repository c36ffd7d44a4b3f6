import { mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import type { Fact } from '../../machines/wire/fact.ts';
import { replayFile } from '../../server/cli/replay.ts';
import { replayText } from '../../server/cli/replay-text.ts';
import { emptyHead } from '../../server/log/empty-head.ts';
import { sealFact } from '../../server/log/hash-chain.ts';
import { factLine } from '../../server/log/read-log-file.ts';
import { temporaryDirectories } from '../contracts/temporary-directory.ts';
import { anteroom, AnteroomProcess, type Ended } from '../support/anteroom-process.ts';
import { demoFolder, demoUnitFile } from '../support/demo-unit.ts';
import { RedisServer } from '../support/redis-server.ts';
import { given, inside, minute, onDuty, passes } from '../support/unit-fixture.ts';

const temporary = temporaryDirectories();

/** A log of a small story: w1 goes in and stays until the limit is reached. */
function story(): Fact[] {
  const facts: Fact[] = [];
  const { log } = given(onDuty('o1'), inside('o1', 'w1'), passes(61 * minute)).world;
  for (const numbered of log) facts.push(sealFact(numbered, facts.at(-1)?.hash ?? emptyHead.hash));
  return facts;
}

function file(content: string | Buffer): string {
  const path = join(temporary(), 'log.jsonl');
  writeFileSync(path, content);
  return path;
}

const fileOf = (facts: readonly Fact[]): string => file(facts.map(factLine).join(''));

/** The same facts with new hashes: the chain holds, whatever they say. */
function resealed(facts: readonly object[]): Fact[] {
  const sealed: Fact[] = [];
  for (const one of facts) {
    const { hash: _hash, previousHash: _previous, ...numbered } = one as Fact;
    sealed.push(sealFact(numbered as Fact, sealed.at(-1)?.hash ?? emptyHead.hash));
  }
  return sealed;
}

describe('replay', () => {
  it('prints where everybody is and every alert on the way there', async () => {
    const text = replayText(await replayFile(fileOf(story())));
    expect(text).toMatch(/^unit {4}small\nfacts {3}\d+, the last at 2026-03-02 09:01:00 UTC\nhash {4}[0-9a-f]{64}\n/);
    expect(text).toMatch(/^ {2}w1 +inside, working +room r1, observer o1, limit at 2026-03-02 09:00:00 UTC$/m);
    expect(text).toMatch(/^ {2}l1 +free$/m);
    expect(text).toMatch(/ high +limit-reached +w1 +raised 2026-03-02 09:01:00 UTC; .*; not acknowledged; open$/m);
    expect(text).toMatch(/^to be reviewed: none$/m);
  });

  it('as JSON has the same in a shape that stays', async () => {
    const result = await replayFile(fileOf(story()));
    expect(Object.keys(result)).toEqual([
      'unit',
      'number',
      'hash',
      'lastAt',
      'workers',
      'lanes',
      'observers',
      'alerts',
      'reviews',
    ]);
    expect(result.workers['w1']).toMatchObject({ place: 'inside', detail: 'working', room: 'r1', observer: 'o1' });
    expect(result.alerts).toMatchObject([{ kind: 'limit-reached', subject: 'w1', priority: 'high' }]);
  });

  it('stops where it is told to', async () => {
    const facts = story();
    const path = fileOf(facts);
    for (const until of [1, 5, facts.length])
      expect(await replayFile(path, until)).toMatchObject({ number: until, hash: facts[until - 1]!.hash });
    await expect(replayFile(path, facts.length + 1)).rejects.toThrow(/ends at fact \d+; there is no fact \d+\.$/);
  });

  it('tells the whole life of an alert that is over', async () => {
    const [shift] = readdirSync(join(demoFolder, 'logs')).filter((name) => name.startsWith('breach'));
    const { alerts } = await replayFile(join(demoFolder, 'logs', shift!));
    const breach = alerts.find(({ kind }) => kind === 'breach');
    expect(breach).toMatchObject({ priority: 'high', acknowledged: { by: expect.any(String) as string } });
    expect(alerts.filter(({ cleared }) => cleared).length).toBeGreaterThan(0);
  });

  it('says the same whenever it is asked', async () => {
    for (const name of readdirSync(join(demoFolder, 'logs'))) {
      const path = join(demoFolder, 'logs', name);
      expect(replayText(await replayFile(path))).toBe(replayText(await replayFile(path)));
    }
  });

  const strange = (facts: Fact[]) => [
    ...facts.slice(0, 4),
    { ...facts[4]!, kind: 'duty-ended', data: { observer: 'o2' } },
  ];
  it.each<[string, () => string, RegExp]>([
    ['a file that is not there', () => join(temporary(), 'none.jsonl'), /^There is no file .*none\.jsonl\.$/],
    ['a directory', () => temporary(), /is a directory; replay takes a \.jsonl file\.$/],
    ['an empty file', () => file(''), /holds no facts\.$/],
    ['bytes that are no text', () => file(Buffer.from([0xff, 0xfe, 0x00, 0x81])), /line 1: it is not UTF-8 text\.$/],
    ['text that is no log', () => file('dear diary\n'), /line 1: it is not JSON/],
    ['a broken line', () => file(`${factLine(story()[0]!)}{"v":1,\n`), /line 2: it is not JSON/],
    [
      'an unknown kind',
      () => fileWith(2, (fact) => ({ ...fact, kind: 'moon-landed' })),
      /line 2: "moon-landed" is not a known kind of fact/,
    ],
    [
      'a gap',
      () => fileOf(story().filter(({ number }) => number !== 3)),
      /broken at fact 3: number 4 follows number 2\.$/,
    ],
    [
      'a fact that was changed',
      () => fileWith(3, (fact) => ({ ...fact, receivedAt: fact.receivedAt + 1 })),
      /broken at fact 3: its hash does not match/,
    ],
    ['a fact that does not fold', () => fileOf(resealed(strange(story()))), /^fact 5 \(duty-ended\) does not fit/],
  ])('refuses %s in one line', async (_what, path, sentence) => {
    const message = await replayFile(path()).then(
      () => 'accepted',
      (error: Error) => error.message,
    );
    expect(message).toMatch(sentence);
    expect(message).not.toContain('\n');
  });

  function fileWith(number: number, change: (fact: Fact) => object): string {
    const lines = story().map((fact) => JSON.stringify(fact.number === number ? change(fact) : fact));
    return file(`${lines.join('\n')}\n`);
  }
});

describe('the command line as a process', { timeout: 120_000 }, () => {
  const oneLine = /^anteroom: [^\n]+\n$/;
  const refused = (ended: Ended, code: number, sentence: RegExp) => {
    expect([ended.code, ended.stdout]).toEqual([code, '']);
    expect(ended.stderr).toMatch(oneLine);
    expect(ended.stderr).toMatch(sentence);
  };

  it('has help for every command', async () => {
    const commands = ['serve', 'drill', 'replay', 'verify', 'log', 'limits'];
    const [overview, ...each] = await Promise.all(
      [[], ...commands.map((one) => [one])].map((one) => anteroom(...one, '--help')),
    );
    for (const command of commands) expect(overview!.stdout).toContain(`  ${command} `);
    for (const [index, { code, stdout }] of each.entries()) {
      expect(code).toBe(0);
      expect(stdout).toContain(`Usage: anteroom ${commands[index]}`);
    }
  });

  it('answers what it does not understand with code 2 and one line', async () => {
    const lines = [
      ['fly'],
      ['replay'],
      ['serve', '--port', 'high'],
      ['serve', '--port', '70000'],
      ['replay', 'x', '--until', '0'],
    ];
    for (const ended of await Promise.all(lines.map((line) => anteroom(...line)))) refused(ended, 2, /./);
  });

  it('replays a log, and verifies it', async () => {
    const facts = story();
    const path = fileOf(facts);
    const [text, json, verified] = await Promise.all([
      anteroom('replay', path),
      anteroom('replay', path, '--json', '--until', '9'),
      anteroom('verify', path),
    ]);
    expect([text.code, text.stderr, text.stdout]).toEqual([0, '', replayText(await replayFile(path))]);
    expect(JSON.parse(json.stdout)).toEqual(await replayFile(path, 9));
    expect([verified.code, verified.stdout]).toEqual([
      0,
      `${path}: ${facts.length} facts hold, the last with hash ${facts.at(-1)!.hash}\n`,
    ]);
  });

  it('names the first number that is not what was written', async () => {
    const facts = story();
    const changed = facts.map((fact) => (fact.number === 7 ? { ...fact, at: fact.at + 1 } : fact));
    refused(await anteroom('verify', fileOf(changed)), 1, /broken at fact 7: /);
    refused(await anteroom('verify', join(temporary(), 'none')), 1, /can't be read/);
  });

  it('does not start what can not be served, and says why in one line', async () => {
    const taken = createServer().listen(0, '127.0.0.1');
    onTestFinished(() => void taken.close());
    await new Promise((listening) => taken.once('listening', listening));
    const { port } = taken.address() as { port: number };
    const half = join(temporary(), 'unit.yaml');
    writeFileSync(half, readFileSync(demoUnitFile, 'utf8').slice(0, 2_000));
    const data = () => ['--data', temporary(), '--no-build', '--port', '0'];
    const redis = await RedisServer.start();
    onTestFinished(() => redis.stop());
    const blocked = join(temporary(), 'file');
    writeFileSync(blocked, 'not a directory');
    const cases: [string[], RegExp][] = [
      [['serve', ...data(), '--port', String(port)], new RegExp(`Port ${port} on 127.0.0.1 is in use`)],
      [['serve', '--no-build', '--port', String(port), '--redis', redis.url], new RegExp(`Port ${port} .* is in use`)],
      [['serve', ...data(), '--host', '203.0.113.1'], /has no address "203\.0\.113\.1"/],
      [['serve', ...data(), '--unit', half], /The unit can't be opened: .*unit\.yaml:\d+: /],
      [['serve', ...data(), '--unit', '/no/such/unit.yaml'], /unit\.yaml: There is no such file/],
      [['serve', '--no-build', '--port', '0', '--data', blocked], /can't be opened/],
      [['serve', ...data(), '--redis', 'redis://127.0.0.1:1'], /Redis at 127\.0\.0\.1:1 can't be reached/],
      [['log', temporary()], /There is no log in/],
    ];
    const ended = await Promise.all(cases.map(([line]) => anteroom(...line)));
    for (const [index, [, sentence]] of cases.entries()) refused(ended[index]!, 1, sentence);
  });

  it('serves: says where, keeps its log where it is told, stops cleanly, and goes on where it was', async () => {
    const data = join(temporary(), 'data');
    mkdirSync(data);
    const line = ['drill', '--empty', '--no-build', '--port', '0', '--data', data];
    const server = new AnteroomProcess(...line);
    const url = await server.started();
    for (const screen of ['board', 'tablet', 'safety', '']) expect(server.stdout).toContain(`${url}/${screen}`);
    expect(server.stdout).toContain(data);
    expect(server.stdout).toMatch(/only their device’s word/);
    expect(server.stdout).toMatch(/not a medical device/);
    const state: unknown = await (await fetch(`${url}/api/units/drill/state`)).json();

    // A second server must not write to the same log.
    refused(await anteroom(...line), 1, /Another Anteroom server is running on the data directory/);

    const stopped = await server.stop('SIGTERM');
    expect([stopped.code, stopped.stderr]).toEqual([0, '']);
    const verified = await anteroom('verify', data);
    expect(verified.code).toBe(0);
    expect(verified.stdout).toMatch(/^drill: 1 facts hold/);
    const log = await anteroom('log', data);
    expect(JSON.parse(log.stdout)).toMatchObject({ kind: 'unit-opened', number: 1 });

    const again = new AnteroomProcess(...line);
    const url2 = await again.started();
    expect(await (await fetch(`${url2}/api/units/drill/state`)).json()).toEqual(state);
    expect((await again.stop('SIGINT')).code).toBe(0);
  });

  it('a drill says that it is one, and stops cleanly while its shift is still being played in', async () => {
    const drill = new AnteroomProcess('drill', '--no-build', '--port', '0', '--data', temporary());
    await drill.started();
    expect(drill.stdout).toMatch(/a drill: the people and the shift are invented/);
    expect(await drill.stop('SIGINT')).toMatchObject({ code: 0, stderr: '' });
  });
});
