import type { UnitId } from '../../machines/wire/ids.ts';
import { LogError } from '../../server/log/log-error.ts';
import type { LogHead } from '../../server/log/log.ts';
import { openSqliteLog } from '../../server/log/sqlite-log.ts';
import { screened, sealAfter, stoodDown } from '../support/facts.ts';

/**
 * A program for the tests of SQLite: appends to several units at once without end, and says on a line of its own each number
 * that was acknowledged, until it is killed or an append is refused.
 *
 *   append-until-killed.ts DIRECTORY UNIT...
 */
const [directory = '', ...units] = process.argv.slice(2);
const log = await openSqliteLog(directory);
process.stdout.write('open\n');

async function appendForEver(unit: UnitId): Promise<never> {
  let head: LogHead = await log.head(unit);
  for (;;) {
    const id = `${unit}-${head.number}`;
    const facts = sealAfter(head, unit, [screened(id), stoodDown(id, 'x'.repeat(head.number % 300) + '.')]);
    const { outcome } = await log.append(unit, head.number, facts);
    if (outcome !== 'appended') throw new Error(`alone on this log, and yet: ${outcome}`);
    head = facts.at(-1) ?? head;
    // Written to a pipe at once, before anything else can happen in this process.
    process.stdout.write(`acknowledged ${unit} ${head.number}\n`);
  }
}

try {
  await Promise.all(units.map((unit) => appendForEver(unit as UnitId)));
} catch (error) {
  const code = error instanceof LogError ? error.code : 'unexpected';
  process.stdout.write(`refused ${code} ${String(error)}\n`);
  // The log must still answer: the head is asked again before anything is decided.
  for (const unit of units) process.stdout.write(`head ${unit} ${(await log.head(unit as UnitId)).number}\n`);
  process.exit(0);
}
