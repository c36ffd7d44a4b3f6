import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import type { Command } from 'commander';
import type { Fact } from '../../machines/wire/fact.ts';
import { factLine } from '../log/read-log-file.ts';
import { SqliteReader } from '../log/sqlite-reader.ts';
import { openPart } from '../sockets/confidential.ts';
import { StartError } from '../start-error.ts';

interface LogFlags {
  unit?: string;
  confidential?: true;
}

export function addLog(program: Command): void {
  program
    .command('log')
    .description("print a unit's log from a data directory, one fact a line (.jsonl), also while its server runs")
    .argument('<dir>', 'the data directory')
    .option('--unit <id>', 'which unit, when there are several')
    .option('--confidential', 'with vital values and findings; without, the hash chain still holds')
    .action(printLog);
}

async function printLog(directory: string, { unit, confidential }: LogFlags): Promise<void> {
  const file = join(directory, 'anteroom.db');
  if (!existsSync(file)) throw new StartError(`There is no log in ${directory}.`);
  const reader = new SqliteReader(file);
  try {
    const facts = factsOf(reader, chooseUnit(reader.units(), unit, directory), confidential ?? false);
    await pipeline(Readable.from(facts), process.stdout, { end: false });
  } catch (error) {
    // Whoever read along has seen enough (`| head`).
    if ((error as NodeJS.ErrnoException).code !== 'EPIPE') throw error;
  } finally {
    reader.close();
  }
}

function chooseUnit(units: readonly string[], wanted: string | undefined, directory: string): string {
  const [only, ...others] = units;
  if (wanted === undefined && only !== undefined && others.length === 0) return only;
  if (wanted !== undefined && units.includes(wanted)) return wanted;
  const there = only === undefined ? 'none' : units.join(', ');
  throw new StartError(
    wanted === undefined
      ? `Say which unit with --unit. ${directory} holds: ${there}.`
      : `${directory} holds no unit ${wanted}, but: ${there}.`,
  );
}

function* factsOf(reader: SqliteReader, unit: string, confidential: boolean): Generator<string> {
  for (const row of reader.rows(unit)) {
    const fact = JSON.parse(row.fact) as Fact;
    for (const one of confidential ? [fact] : openPart([fact])) yield factLine(one);
  }
}
