import type { Command } from 'commander';
import { planRotation, secondsDefault, secondsMax, type RotationResult } from '../rotation/plan-rotation.ts';
import { Solver } from '../rotation/proof/solver.ts';
import { readInstance } from '../rotation/read-instance.ts';
import { shortageText } from '../rotation/shortage-text.ts';
import {
  answeredWith,
  parseJson,
  readInput,
  realStreams,
  refusedWith,
  tooLargeMessage,
  type CommandOutcome,
  type CommandStreams,
} from './json-command.ts';

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
): Promise<CommandOutcome> {
  if (Buffer.byteLength(input) > inputBytesMax) return refuse(tooLargeMessage(inputBytesMax));
  const parsed = parseJson(input);
  if ('message' in parsed) return refuse(parsed.message);
  const read = readInstance(instanceIn(parsed.value));
  if (!read.ok) return refuse(`${read.refusal.code}: ${read.refusal.message}`);
  const result = await planRotation(read.instance, {
    ...settings,
    now: () => performance.now(),
    ...(solver ? { solver } : {}),
  });
  return answeredWith(printable(result));
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
    ...(shortOf ? { shortOf: told(shortOf) } : {}),
  };
}

function told({ reasons, ...short }: NonNullable<RotationResult['shortOf']>) {
  return { ...short, reason: shortageText(reasons) };
}

const refuse = (message: string): CommandOutcome => refusedWith('rotation', message);

/** Registers `rotation --input FILE|-`. */
export function addRotationCommand(program: Command, streams: CommandStreams = realStreams): void {
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
  streams: CommandStreams,
): Promise<CommandOutcome> {
  const seconds = numberFrom(given.seconds);
  if (!(seconds > 0 && seconds <= secondsMax)) return refuse(`--seconds must be above 0 and at most ${secondsMax}`);
  const seed = numberFrom(given.seed);
  if (!(Number.isInteger(seed) && seed >= 0 && seed <= seedMax)) {
    return refuse(`--seed must be a whole number from 0 to ${seedMax}`);
  }
  // Started before the input is read: by the time it is wanted it is warm.
  const solver = new Solver();
  try {
    const text = await readInput('rotation', given.input, streams, inputBytesMax);
    return typeof text === 'string' ? await rotationCommand(text, { seconds, seed }, solver) : text;
  } finally {
    await solver.stop();
  }
}

const numberFrom = (text: string): number => (/^\d+(\.\d+)?$/.test(text) ? Number(text) : NaN);
