import { Command, CommanderError } from 'commander';
import { FoldError } from '../../machines/unit/fold-parts.ts';
import { LogError } from '../log/log-error.ts';
import { StartError } from '../start-error.ts';
import { UnitRecordError } from '../unit/unit-record.ts';
import { addForecastCommand } from './forecast.ts';
import { addLimits } from './limits.ts';
import { addLog } from './log.ts';
import { addProve } from './prove.ts';
import { addReplay } from './replay.ts';
import { addRotationCommand } from './rotation.ts';
import { addServe } from './serve.ts';
import { addVerify } from './verify.ts';

/** Exit codes: 0 done, 1 it could not be done (one line on stderr says why), 2 the command was not understood. */
export async function run(argv: readonly string[]): Promise<void> {
  try {
    await program().parseAsync([...argv]);
  } catch (error) {
    const code = report(error);
    // A command that has failed is over, whatever a half-opened connection would still wait for.
    if (code === 1) process.exit(code);
    process.exitCode = code;
  }
}

function program(): Command {
  const anteroom = new Command('anteroom')
    .description('Coordinates a high-level isolation unit. An aid, not a medical device; local rules come first.')
    .exitOverride()
    .configureOutput({ outputError: (text, write) => write(`anteroom: ${oneLine(text)}\n`) });
  addServe(anteroom);
  addReplay(anteroom);
  addVerify(anteroom);
  addLog(anteroom);
  addForecastCommand(anteroom);
  addLimits(anteroom);
  addProve(anteroom);
  addRotationCommand(anteroom);
  return anteroom;
}

/** Commander's messages start with a word of their own and may go on to a second line. */
const oneLine = (text: string): string =>
  text
    .trim()
    .replace(/^error: /, '')
    .replaceAll('\n', ' ');

function report(error: unknown): number {
  // Commander has said already what it did not understand.
  if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : 2;
  process.stderr.write(`anteroom: ${sentenceOf(error)}\n`);
  return 1;
}

function sentenceOf(error: unknown): string {
  const expected = [StartError, LogError, UnitRecordError, FoldError].some((kind) => error instanceof kind);
  const message = error instanceof Error ? error.message : String(error);
  if (expected) return message.replaceAll('\n', ' ');
  return `This is a mistake in the program, please report it: ${message.replaceAll('\n', ' ')}`;
}
