import { InvalidArgumentError, type Command } from 'commander';
import type { Fact } from '../../machines/wire/fact.ts';
import { verifyChain } from '../log/hash-chain.ts';
import { LogFileError, readLogFile } from '../log/read-log-file.ts';
import { StartError } from '../start-error.ts';
import { ReplayedLog, type ReplayResult } from './replayed-log.ts';
import { replayText } from './replay-text.ts';

export function addReplay(program: Command): void {
  program
    .command('replay')
    .description('print the state and the alerts that a log (.jsonl, one fact a line) leads to')
    .argument('<file>', 'the log')
    .option('--until <number>', 'stop after the fact with this number', numberOf)
    .option('--json', 'as one JSON object')
    .action(async (file: string, { until, json }: { until?: number; json?: true }) => {
      const result = await replayFile(file, until);
      process.stdout.write(json ? `${JSON.stringify(result, undefined, 2)}\n` : replayText(result));
    });
}

function numberOf(text: string): number {
  if (/^[1-9]\d{0,14}$/.test(text)) return Number(text);
  throw new InvalidArgumentError('It is the number of a fact: a whole number from 1.');
}

/** Folds a log file as far as `until`. Each fact is folded only after its place in the hash chain was checked. */
export async function replayFile(file: string, until = Infinity): Promise<ReplayResult> {
  const replayed = new ReplayedLog();
  const chain = await readable(file, () => verifyChain(folding(readLogFile(file), replayed, until)));
  if (!chain.ok) throw new StartError(`${file}: the log is broken at fact ${chain.number}: ${chain.reason}.`);
  const result = replayed.result();
  if (!result) throw new StartError(`${file} holds no facts.`);
  if (until !== Infinity && result.number < until)
    throw new StartError(`${file} ends at fact ${result.number}; there is no fact ${until}.`);
  return result;
}

/** Passes facts on to be checked; when the next one is asked for, the one before it was found good. */
async function* folding(facts: AsyncIterable<Fact>, replayed: ReplayedLog, until: number): AsyncGenerator<Fact> {
  for await (const fact of facts) {
    yield fact;
    replayed.take(fact);
    if (fact.number >= until) return;
  }
}

async function readable<Result>(file: string, read: () => Promise<Result>): Promise<Result> {
  try {
    return await read();
  } catch (error) {
    if (error instanceof LogFileError) throw new StartError(`${file}, ${error.message}.`);
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT') throw new StartError(`There is no file ${file}.`);
    if (code === 'EISDIR') throw new StartError(`${file} is a directory; replay takes a .jsonl file.`);
    if (code) throw new StartError(`${file} can't be read (${code}).`);
    throw error;
  }
}
