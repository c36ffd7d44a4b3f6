import { createReadStream } from 'node:fs';
import type { Readable } from 'node:stream';
import type { Command } from 'commander';
import { planRotation, secondsDefault, secondsMax, type RotationResult } from '../rotation/plan-rotation.ts';
import { Solver } from '../rotation/proof/solver.ts';
import { readInstance } from '../rotation/read-instance.ts';

/** Exit codes: 0 planned or infeasible, 2 not understood or refused (nothing on standard output then), 3 the input cannot be read. */
export interface RotationOutcome {
  exitCode: 0 | 2 | 3;
  stdout: string;
  stderr: string;
}

export interface RotationSettings {
  seconds: number;
  seed: number;
}

export const inputBytesMax = 5_000_000;
const seedMax = 4_294_967_295;

/** Plans one instance given as JSON: the instance itself, or an object with the key `instance`. */
export async function rotationCommand(
  input: string,
  settings: RotationSettings,
  solver?: Solver,
): Promise<RotationOutcome> {
  if (Buffer.byteLength(input) > inputBytesMax) return tooLarge;
  const parsed = parse(input);
  if ('message' in parsed) return refusedWith(parsed.message);
  const read = readInstance(instanceIn(parsed.value));
  if (!read.ok) return refusedWith(`${read.refusal.code}: ${read.refusal.message}`);
  const result = await planRotation(read.instance, {
    ...settings,
    now: () => performance.now(),
    ...(solver ? { solver } : {}),
  });
  return { exitCode: 0, stdout: `${JSON.stringify(printable(result), undefined, 2)}\n`, stderr: '' };
}

function instanceIn(value: unknown): unknown {
  const isWrapped = typeof value === 'object' && value !== null && Object.hasOwn(value, 'instance');
  return isWrapped ? (value as { instance: unknown }).instance : value;
}

/** What docs/rotation.md promises, in that order. */
function printable(result: RotationResult) {
  const { status, objective, lowerBound, gapPct, seconds, entries, breaks, uncoveredMinutes, shortOf } = result;
  return {
    status,
    objective,
    lowerBound,
    gapPct,
    seconds,
    entries,
    breaks,
    uncoveredMinutes,
    ...(shortOf ? { shortOf } : {}),
  };
}

function parse(input: string): { value: unknown } | { message: string } {
  try {
    return { value: JSON.parse(input.replace(/^\uFEFF/, '')) as unknown };
  } catch (error) {
    const because = (error as Error).message.replaceAll(/[^\x20-\x7e]+/g, ' ').slice(0, 160);
    return { message: `the input is not complete JSON (${because})` };
  }
}

const refusedWith = (message: string): RotationOutcome => ({
  exitCode: 2,
  stdout: '',
  stderr: `rotation: ${message}\n`,
});
const tooLarge = refusedWith(`the input is larger than ${inputBytesMax} bytes`);

export interface RotationStreams {
  open: (path: string) => Readable;
  stdin: Readable;
  write: (outcome: RotationOutcome) => void;
}

const realStreams: RotationStreams = {
  open: (path) => createReadStream(path),
  stdin: process.stdin,
  write: ({ stdout, stderr, exitCode }) => {
    process.stdout.write(stdout);
    process.stderr.write(stderr);
    process.exitCode = exitCode;
  },
};

/** Registers `rotation --input FILE|-`. */
export function addRotationCommand(program: Command, streams: RotationStreams = realStreams): void {
  program
    .command('rotation')
    .description('a plan of entries, lanes, observers and breaks: JSON in, JSON out (docs/rotation.md)')
    .requiredOption('--input <file>', 'a JSON file with one instance; - for standard input')
    .option('--seconds <number>', 'how long to search and prove at most', String(secondsDefault))
    .option('--seed <number>', 'another number may find another plan', '1')
    .action(async (given: { input: string; seconds: string; seed: string }) => {
      streams.write(await runRotation(given, streams));
    });
}

async function runRotation(
  given: { input: string; seconds: string; seed: string },
  streams: RotationStreams,
): Promise<RotationOutcome> {
  const seconds = numberFrom(given.seconds);
  if (!(seconds > 0 && seconds <= secondsMax))
    return refusedWith(`--seconds must be above 0 and at most ${secondsMax}`);
  const seed = numberFrom(given.seed);
  if (!(Number.isInteger(seed) && seed >= 0 && seed <= seedMax)) {
    return refusedWith(`--seed must be a whole number from 0 to ${seedMax}`);
  }
  // Started before the input is read: by the time it is wanted it is warm.
  const solver = new Solver();
  try {
    const text = await readInput(given.input, streams);
    return typeof text === 'string' ? await rotationCommand(text, { seconds, seed }, solver) : text;
  } finally {
    await solver.stop();
  }
}

const numberFrom = (text: string): number => (/^\d+(\.\d+)?$/.test(text) ? Number(text) : NaN);

/** Stops reading as soon as it is too much, so that an endless input ends. */
async function readInput(input: string, { stdin, open }: RotationStreams): Promise<string | RotationOutcome> {
  try {
    const parts: Buffer[] = [];
    let bytes = 0;
    for await (const part of input === '-' ? stdin : open(input)) {
      const buffer = Buffer.from(part as Uint8Array | string);
      bytes += buffer.length;
      if (bytes > inputBytesMax) return tooLarge;
      parts.push(buffer);
    }
    return Buffer.concat(parts).toString('utf8');
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    return { exitCode: 3, stdout: '', stderr: `rotation: cannot read ${input} (${code ?? 'unknown error'})\n` };
  }
}
