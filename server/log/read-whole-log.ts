import type { Fact } from '../../machines/wire/fact.ts';
import type { UnitId } from '../../machines/wire/ids.ts';
import type { Log } from './log.ts';

/** All facts of a unit after a number, a page at a time, so that a long log neither fills the memory nor blocks its writers. */
export async function* readWholeLog(log: Log, unit: UnitId, after = 0): AsyncGenerator<Fact> {
  const page = 500;
  let facts = await log.read(unit, after, page);
  while (facts.length > 0) {
    yield* facts;
    facts = await log.read(unit, facts.at(-1)?.number ?? after, page);
  }
}
