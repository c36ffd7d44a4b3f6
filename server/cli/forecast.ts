import { createReadStream } from 'node:fs';
import type { Readable } from 'node:stream';
import type { Command } from 'commander';
import { clashMoves, type ClashMove } from '../rotation/forecast/clash-moves.ts';
import { forecast, type Forecast } from '../rotation/forecast/forecast.ts';
import { readQueue } from '../rotation/forecast/queue-input.ts';
import { answerQueue, type QueueAnswer } from '../rotation/forecast/queue.ts';
import { answered, refused, type ForecastAnswer, type ForecastRefusal } from '../rotation/forecast/refusal.ts';
import { readScenario } from '../rotation/forecast/scenario.ts';

/** Exit codes: 0 answered, 2 not understood or refused (nothing on standard output then), 3 the input cannot be read. */
export interface CommandOutcome {
  exitCode: 0 | 2 | 3;
  stdout: string;
  stderr: string;
}

export const inputBytesMax = 2_000_000;

/** Answers one question: a queue, or a scenario with the moves that would help. */
export function forecastCommand(input: string): CommandOutcome {
  if (Buffer.byteLength(input) > inputBytesMax) return tooLarge;
  const parsed = parse(input);
  const printed = parsed.ok ? answerTo(parsed.value) : parsed;
  if (!printed.ok) return refusedWith(printed.refusal);
  return { exitCode: 0, stdout: `${JSON.stringify(printed.value, undefined, 2)}\n`, stderr: '' };
}

function parse(input: string): ForecastAnswer<object> {
  try {
    const value = JSON.parse(input.replace(/^\uFEFF/, '')) as unknown;
    if (typeof value === 'object' && value !== null && !Array.isArray(value)) return answered(value);
    return refused('forecast/not-understood', 'the input must be an object: a queue or a scenario');
  } catch (error) {
    const because = (error as Error).message.replaceAll(/[^\x20-\x7e]+/g, ' ').slice(0, 160);
    return refused('forecast/not-understood', `the input is not complete JSON (${because})`);
  }
}

function answerTo(value: object): ForecastAnswer<object> {
  if ('queue' in value) {
    const question = readQueue(value);
    return question.ok ? answered(printableQueue(answerQueue(question.value))) : question;
  }
  const scenario = readScenario(value);
  if (!scenario.ok) return scenario;
  return answered(printableForecast(forecast(scenario.value), clashMoves(scenario.value)));
}

const refusedWith = ({ code, message }: ForecastRefusal): CommandOutcome => ({
  exitCode: 2,
  stdout: '',
  stderr: `forecast: ${message} (${code})\n`,
});
const tooLarge = refusedWith({
  code: 'forecast/too-large',
  message: `the input is larger than ${inputBytesMax} bytes`,
});

const caution =
  'An aid, not a medical device. Chances from figures that are expected, not certain; the unit’s own rules and the people at the door decide.';

/** Chances to a thousandth, minutes to a tenth: what is worth reading; the full figures stay in the program. */
function printableForecast(found: Forecast, moves: readonly ClashMove[]): object {
  return rounded({ ...found, moves, caution }, placesOf) as object;
}

/** Seven places: a closed form is compared with. */
const printableQueue = (answer: QueueAnswer): object => rounded({ ...answer, caution }, () => 7) as object;

function placesOf(field: string): number {
  if (field === 'halfWidth95') return 2;
  return /^chance|^(lane|observer|either|overLimit|laneClashes|observerClashes|waitQuantile)$/i.test(field) ? 3 : 1;
}

function rounded(value: unknown, places: (field: string) => number, field = ''): unknown {
  if (typeof value === 'number') return Number(value.toFixed(places(field)));
  if (Array.isArray(value)) return value.map((one) => rounded(one, places, field));
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([name, one]) => [name, rounded(one, places, name)]));
}

export interface ForecastStreams {
  open: (path: string) => Readable;
  stdin: Readable;
  write: (outcome: CommandOutcome) => void;
}

const realStreams: ForecastStreams = {
  open: (path) => createReadStream(path),
  stdin: process.stdin,
  write: ({ stdout, stderr, exitCode }) => {
    process.stdout.write(stdout);
    process.stderr.write(stderr);
    process.exitCode = exitCode;
  },
};

/** Registers `forecast --input FILE|-`. */
export function addForecastCommand(program: Command, streams: ForecastStreams = realStreams): void {
  program
    .command('forecast')
    .description('waits at lanes and observers in the next hours: JSON in, JSON out (docs/forecast.md)')
    .requiredOption('--input <file>', 'a JSON file with a scenario or a queue; - for standard input')
    .action(async ({ input }: { input: string }) => {
      streams.write(await runForecast(input, streams));
    });
}

async function runForecast(input: string, streams: ForecastStreams): Promise<CommandOutcome> {
  try {
    const text = await readAll(input === '-' ? streams.stdin : streams.open(input));
    return text === undefined ? tooLarge : forecastCommand(text);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    return { exitCode: 3, stdout: '', stderr: `forecast: cannot read ${input} (${code ?? 'unknown error'})\n` };
  }
}

/** Stops reading as soon as it is too much, so that an endless input ends. */
async function readAll(stream: Readable): Promise<string | undefined> {
  const parts: Buffer[] = [];
  let bytes = 0;
  for await (const part of stream) {
    const buffer = Buffer.from(part as Uint8Array | string);
    bytes += buffer.length;
    if (bytes > inputBytesMax) return undefined;
    parts.push(buffer);
  }
  return Buffer.concat(parts).toString('utf8');
}
