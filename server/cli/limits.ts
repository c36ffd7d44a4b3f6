import { createReadStream } from 'node:fs';
import type { Readable } from 'node:stream';
import type { Command } from 'commander';
import { adjustmentSets, type AdjustmentSet } from '../heat/clothing.ts';
import type { HeatRefusal } from '../../machines/heat/heat-refusal.ts';
import { readLimitsInput } from '../heat/limits-input.ts';
import { limitsOf } from '../heat/limits.ts';
import { printableLimits, type PrintedLimits } from '../heat/printed-limits.ts';

/** Exit codes: 0 answered, 2 not understood or refused (nothing on standard output then), 3 the input cannot be read. */
export interface CommandOutcome {
  exitCode: 0 | 2 | 3;
  stdout: string;
  stderr: string;
}

export const inputBytesMax = 5_000_000;
export const questionsMax = 10_000;

/** Answers one question, or an array of them all together or not at all. */
export function limitsCommand(
  input: string,
  adjustments: AdjustmentSet = adjustmentSets['niosh-2016-106'],
): CommandOutcome {
  if (Buffer.byteLength(input) > inputBytesMax) return tooLarge;
  const parsed = parse(input);
  if ('message' in parsed) return refusedWith(parsed.message);
  if (!Array.isArray(parsed.value)) return answerOne(parsed.value, adjustments);
  return answerAll(parsed.value as unknown[], adjustments);
}

function answerOne(value: unknown, adjustments: AdjustmentSet): CommandOutcome {
  const answer = answerTo(value, adjustments);
  return 'refusal' in answer ? refusedWith(answer.refusal.message) : answeredWith(answer.printed);
}

function answerAll(values: readonly unknown[], adjustments: AdjustmentSet): CommandOutcome {
  if (values.length > questionsMax)
    return refusedWith(`at most ${questionsMax} questions at a time, not ${values.length}`);
  const printed: PrintedLimits[] = [];
  for (const [index, value] of values.entries()) {
    const answer = answerTo(value, adjustments);
    if ('refusal' in answer) return refusedWith(`question ${index + 1}: ${answer.refusal.message}`);
    printed.push(answer.printed);
  }
  return answeredWith(printed);
}

function answerTo(value: unknown, adjustments: AdjustmentSet): { printed: PrintedLimits } | { refusal: HeatRefusal } {
  const question = readLimitsInput(value, adjustments);
  if (!question.ok) return question;
  const limits = limitsOf(question.value);
  return limits.ok ? { printed: printableLimits(limits.value, question.value) } : limits;
}

function parse(input: string): { value: unknown } | { message: string } {
  try {
    return { value: JSON.parse(input.replace(/^\uFEFF/, '')) as unknown };
  } catch (error) {
    const because = (error as Error).message.replaceAll(/[^\x20-\x7e]+/g, ' ').slice(0, 160);
    return { message: `the input is not complete JSON (${because})` };
  }
}

const refusedWith = (message: string): CommandOutcome => ({ exitCode: 2, stdout: '', stderr: `limits: ${message}\n` });
const answeredWith = (printed: unknown): CommandOutcome => ({
  exitCode: 0,
  stdout: `${JSON.stringify(printed, undefined, 2)}\n`,
  stderr: '',
});
const tooLarge = refusedWith(`the input is larger than ${inputBytesMax} bytes`);

export interface LimitsStreams {
  open: (path: string) => Readable;
  stdin: Readable;
  write: (outcome: CommandOutcome) => void;
}

const realStreams: LimitsStreams = {
  open: (path) => createReadStream(path),
  stdin: process.stdin,
  write: ({ stdout, stderr, exitCode }) => {
    process.stdout.write(stdout);
    process.stderr.write(stderr);
    process.exitCode = exitCode;
  },
};

/** Registers `limits --input FILE|-`. */
export function addLimits(program: Command, streams: LimitsStreams = realStreams): void {
  program
    .command('limits')
    .description('minutes in equipment from climate, work and clothing: JSON in, JSON out (docs/limits.md)')
    .requiredOption('--input <file>', 'a JSON file with one question or an array of them; - for standard input')
    .option('--adjustments <table>', `clothing table: ${Object.keys(adjustmentSets).join(' or ')}`, 'niosh-2016-106')
    .action(async ({ input, adjustments }: { input: string; adjustments: string }) => {
      streams.write(await runLimits(input, adjustments, streams));
    });
}

async function runLimits(input: string, adjustments: string, streams: LimitsStreams): Promise<CommandOutcome> {
  if (!isAdjustmentSet(adjustments)) {
    return refusedWith(`--adjustments must be ${Object.keys(adjustmentSets).join(' or ')}`);
  }
  try {
    const text = await readAll(input === '-' ? streams.stdin : streams.open(input));
    return text === undefined ? tooLarge : limitsCommand(text, adjustmentSets[adjustments]);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    return { exitCode: 3, stdout: '', stderr: `limits: cannot read ${input} (${code ?? 'unknown error'})\n` };
  }
}

const isAdjustmentSet = (name: string): name is keyof typeof adjustmentSets => Object.hasOwn(adjustmentSets, name);

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
