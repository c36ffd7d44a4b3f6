import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { fileURLToPath } from 'node:url';
import { Command } from 'commander';
import { afterAll, describe, expect, it, test } from 'vitest';
import { addForecastCommand, forecastCommand, inputBytesMax } from '../../server/cli/forecast.ts';
import type { CommandOutcome, CommandStreams } from '../../server/cli/json-command.ts';
import { forecastRefusalCodes } from '../../server/rotation/forecast/refusal.ts';

interface Printed {
  people: object[];
  moves: { sentence: string }[];
  caution: string;
}

function answered<Answer = Printed>(input: unknown): Answer {
  const outcome = forecastCommand(JSON.stringify(input));
  expect(outcome).toMatchObject({ exitCode: 0, stderr: '' });
  return JSON.parse(outcome.stdout) as Answer;
}

/** One clear line with a code of the list, nothing on standard output. */
function refusedFor(input: string): string {
  const outcome = forecastCommand(input);
  expect(outcome).toMatchObject({ exitCode: 2, stdout: '' });
  expect(outcome.stderr).toMatch(/^forecast: [^\n]{5,400}\n$/);
  const code = /\(([a-z/-]+)\)\n$/.exec(outcome.stderr)?.[1] ?? '';
  expect(forecastRefusalCodes).toContain(code);
  return outcome.stderr;
}
const refused = (input: unknown) => refusedFor(JSON.stringify(input));

const lane = { id: 'l1' };
const observer = { id: 'o1' };
const person = { id: 'p1', stage: 'waiting', elapsedMinutes: 3 };
const scenario = { lanes: [lane], observers: [observer], people: [person], settings: { runs: 50 } };
const queue = { arrivalsPerHour: 2, servicesPerHour: 3, servers: 1, runs: 2 };

describe('the documented example', () => {
  const page = readFileSync(fileURLToPath(new URL('../../docs/forecast.md', import.meta.url)), 'utf8');
  const blocks = [...page.matchAll(/```json\n([\s\S]*?)```/g)].map(([, text]) => JSON.parse(text!) as object);

  it('answers what the page says it answers', () => {
    const { people, moves, caution } = answered(blocks[0]);
    expect(people[1]).toEqual(blocks[1]);
    expect(page).toContain(moves[0]!.sentence);
    expect(caution).toContain('not a medical device');
  });

  it('the queue of the page is a queue', () => {
    expect(blocks[2]).toEqual({ queue: { arrivalsPerHour: 2, servicesPerHour: 3, servers: 1 } });
  });
});

describe('an answer', () => {
  it('to a queue has both figures by their names', () => {
    const answer = answered<Record<string, unknown>>({ queue });
    const figures = ['probabilityOfWait', 'meanWaitHours', 'meanQueueLength'];
    expect(Object.keys(answer)).toEqual([
      'closedForm',
      'simulated',
      'batches',
      'customersPerBatch',
      'warmUpCustomers',
      'caution',
    ]);
    expect(Object.keys(answer.closedForm as object)).toEqual(figures);
    expect(Object.keys(answer.simulated as object)).toEqual([...figures, 'halfWidth95']);
    expect(answer.closedForm).toEqual({
      probabilityOfWait: 0.6666667,
      meanWaitHours: 0.6666667,
      meanQueueLength: 1.3333333,
    });
  });

  it('to a deterministic queue of several servers has no closed form', () => {
    const answer = answered<{ closedForm: unknown }>({ queue: { ...queue, servers: 2, service: 'deterministic' } });
    expect(answer.closedForm).toBeNull();
  });

  it('is the same each time, with a byte order mark too', () => {
    const text = JSON.stringify(scenario);
    expect(forecastCommand(text)).toEqual(forecastCommand(`\uFEFF${text}`));
    expect(forecastCommand(text).exitCode).toBe(0);
  });

  it('to a unit without people is empty', () => {
    expect(answered({ lanes: [lane], observers: [], people: [] })).toMatchObject({ people: [], moves: [] });
  });
});

describe('what cannot be answered', () => {
  test.each([
    ['people.0.elapsedMinutes', { ...scenario, people: [{ ...person, elapsedMinutes: -1 }] }],
    ['people.0.elapsedMinutes', { ...scenario, people: [{ ...person, elapsedMinutes: 'long' }] }],
    ['people.0.stage', { ...scenario, people: [{ ...person, stage: 'asleep' }] }],
    ['people.0.startsInMinutes', { ...scenario, people: [{ ...person, startsInMinutes: 5 }] }],
    ['people.0.doffing', { ...scenario, people: [{ ...person, doffing: { median: 20 } }] }],
    ['settings.runs', { ...scenario, settings: { runs: 1e9 } }],
    ['settings.seed', { ...scenario, settings: { seed: 1.5 } }],
    ['settings.colour', { ...scenario, settings: { colour: 'red' } }],
    ['lanes', { observers: [], people: [] }],
    ['lanes', { ...scenario, lanes: [] }],
    ['lanes.0.turnoverMinutes', { ...scenario, lanes: [{ ...lane, turnoverMinutes: 1e6 }] }],
    ['doors', { ...scenario, doors: 2 }],
    ['queue.servers', { queue: { ...queue, servers: 0 } }],
    ['queue.servers', { queue: { ...queue, servers: 1.5 } }],
    ['queue.servers', { queue: { ...queue, servers: 501 } }],
    ['queue.arrivalsPerHour', { queue: { ...queue, arrivalsPerHour: 0 } }],
    ['queue.arrivalsPerHour', { queue: { servicesPerHour: 3, servers: 1 } }],
    ['queue.service', { queue: { ...queue, service: 'uniform' } }],
    ['queue.runs', { queue: { ...queue, runs: 1 } }],
    ['queue.patience', { queue: { ...queue, patience: 3 } }],
    ['queue', { queue: 7 }],
    ['lanes', { queue, lanes: [lane] }],
  ])('names the field %s (%#)', (field, input) => {
    const sentence = refused(input);
    expect(sentence.startsWith(`forecast: ${field}: `)).toBe(true);
    expect(sentence).toContain('(forecast/bad-field)');
  });

  test.each([
    ['people.0.observer', { ...scenario, people: [{ ...person, observer: 'nobody' }] }],
    ['people.0.guidedBy', { ...scenario, people: [{ ...person, guidedBy: 'nobody' }] }],
    ['people.0.lane', { ...scenario, people: [{ ...person, stage: 'doffing', lane: 'nowhere' }] }],
    ['people.1.id', { ...scenario, people: [person, person] }],
    ['lanes.1.id', { ...scenario, lanes: [lane, lane] }],
    ['lanes.0', { ...scenario, lanes: [{ ...lane, freeInMinutes: 3, closedForMinutes: null }] }],
    ['lanes.0.heldFor', { ...scenario, lanes: [{ ...lane, heldFor: 'p9' }] }],
    [
      'lanes.0',
      { ...scenario, lanes: [{ ...lane, freeInMinutes: 3 }], people: [{ ...person, stage: 'doffing', lane: 'l1' }] },
    ],
    [
      'observers.0.dutyEndsInMinutes',
      { ...scenario, observers: [{ ...observer, availableInMinutes: 9, dutyEndsInMinutes: 9 }] },
    ],
    [
      'people.guidedBy',
      {
        ...scenario,
        people: [
          { ...person, guidedBy: 'o1' },
          { ...person, id: 'p2', guidedBy: 'o1' },
        ],
      },
    ],
    [
      'observers.availableInMinutes',
      { ...scenario, observers: [{ ...observer, availableInMinutes: 9 }], people: [{ ...person, guidedBy: 'o1' }] },
    ],
  ])('says what does not fit together at %s (%#)', (field, input) => {
    const sentence = refused(input);
    expect(sentence.startsWith(`forecast: ${field}: `)).toBe(true);
    expect(sentence).toContain('(forecast/contradiction)');
  });

  it('a queue without a steady state is unstable', () => {
    for (const arrivalsPerHour of [3, 4])
      expect(refused({ queue: { ...queue, arrivalsPerHour } })).toContain('(forecast/unstable)');
  });

  it('too much work, or too much input, is refused before it is begun', () => {
    const people = Array.from({ length: 200 }, (_, at) => ({ ...person, id: `p${at}` }));
    expect(refused({ ...scenario, people, settings: { runs: 100_000 } })).toContain(
      'settings.runs must be at most 20000',
    );
    expect(refusedFor(' '.repeat(inputBytesMax + 1))).toContain('(forecast/too-large)');
  });

  it.each(['', '{', '[]', 'null', '7', '"x"', '{"lanes":\n'])('%j is not understood', (input) => {
    expect(refusedFor(input)).toContain('(forecast/not-understood)');
  });

  it('what is written into a field does not come out as more than one line', () => {
    refused({ ...scenario, ['a\nb\u001b[31m']: 1 });
    refused({ ...scenario, people: [{ ...person, observer: 'x'.repeat(81) }] });
  });
});

describe('the command', () => {
  const folder = mkdtempSync(join(tmpdir(), 'forecast-'));
  afterAll(() => rmSync(folder, { recursive: true }));

  async function run(argv: string[], stdin = ''): Promise<CommandOutcome> {
    let outcome: CommandOutcome | undefined;
    const streams: CommandStreams = {
      open: (path) => Readable.from([readFileSync(path)]),
      stdin: Readable.from([stdin]),
      write: (written) => (outcome = written),
    };
    const program = new Command().exitOverride();
    addForecastCommand(program, streams);
    await program.parseAsync(['forecast', ...argv], { from: 'user' });
    return outcome!;
  }

  it('reads a file or standard input, and says when it cannot', async () => {
    const file = join(folder, 'unit.json');
    writeFileSync(file, JSON.stringify(scenario));
    const expected = forecastCommand(JSON.stringify(scenario));
    expect(await run(['--input', file])).toEqual(expected);
    expect(await run(['--input', '-'], JSON.stringify(scenario))).toEqual(expected);
    const missing = await run(['--input', join(folder, 'none.json')]);
    expect(missing).toMatchObject({ exitCode: 3, stdout: '' });
    expect(missing.stderr).toContain('ENOENT');
  });
});
