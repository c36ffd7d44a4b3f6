import type { Command } from 'commander';
import { adjustmentSets, type AdjustmentSet } from '../heat/clothing.ts';
import type { HeatRefusal } from '../../machines/heat/heat-refusal.ts';
import { readLimitsInput } from '../heat/limits-input.ts';
import { limitsOf } from '../heat/limits.ts';
import { printableLimits, type PrintedLimits } from '../heat/printed-limits.ts';
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

export const inputBytesMax = 5_000_000;
export const questionsMax = 10_000;

/** Answers one question, or an array of them all together or not at all. */
export function limitsCommand(
  input: string,
  adjustments: AdjustmentSet = adjustmentSets['niosh-2016-106'],
): CommandOutcome {
  if (Buffer.byteLength(input) > inputBytesMax) return refuse(tooLargeMessage(inputBytesMax));
  const parsed = parseJson(input);
  if ('message' in parsed) return refuse(parsed.message);
  if (!Array.isArray(parsed.value)) return answerOne(parsed.value, adjustments);
  return answerAll(parsed.value as unknown[], adjustments);
}

function answerOne(value: unknown, adjustments: AdjustmentSet): CommandOutcome {
  const answer = answerTo(value, adjustments);
  return 'refusal' in answer ? refuse(answer.refusal.message) : answeredWith(answer.printed);
}

function answerAll(values: readonly unknown[], adjustments: AdjustmentSet): CommandOutcome {
  if (values.length > questionsMax) return refuse(`at most ${questionsMax} questions at a time, not ${values.length}`);
  const printed: PrintedLimits[] = [];
  for (const [index, value] of values.entries()) {
    const answer = answerTo(value, adjustments);
    if ('refusal' in answer) return refuse(`question ${index + 1}: ${answer.refusal.message}`);
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

const refuse = (message: string): CommandOutcome => refusedWith('limits', message);

/** Registers `limits --input FILE|-`. */
export function addLimits(program: Command, streams: CommandStreams = realStreams): void {
  program
    .command('limits')
    .description('minutes in equipment from climate, work and clothing: JSON in, JSON out (docs/limits.md)')
    .requiredOption('--input <file>', 'a JSON file with one question or an array of them; - for standard input')
    .option('--adjustments <table>', `clothing table: ${Object.keys(adjustmentSets).join(' or ')}`, 'niosh-2016-106')
    .action(async ({ input, adjustments }: { input: string; adjustments: string }) => {
      streams.write(await runLimits(input, adjustments, streams));
    });
}

async function runLimits(input: string, adjustments: string, streams: CommandStreams): Promise<CommandOutcome> {
  if (!isAdjustmentSet(adjustments)) {
    return refuse(`--adjustments must be ${Object.keys(adjustmentSets).join(' or ')}`);
  }
  const text = await readInput('limits', input, streams, inputBytesMax);
  return typeof text === 'string' ? limitsCommand(text, adjustmentSets[adjustments]) : text;
}

const isAdjustmentSet = (name: string): name is keyof typeof adjustmentSets => Object.hasOwn(adjustmentSets, name);
