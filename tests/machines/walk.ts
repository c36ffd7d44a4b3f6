import { entriesOf } from '../../machines/unit/state.ts';
import { heatOpening } from '../support/heat-fixture.ts';
import { openedUnit, type Outcome, type World } from '../support/unit-fixture.ts';
import { checks, checksAtTheEnd, dearChecks, neverThrows, type Check, type CheckName } from './invariants.ts';
import { deedOf, movesOf, type Move } from './random-moves.ts';

/** Random walks over a unit, every check after every move, and the shortest list of moves that breaks one. */
export interface Violation {
  check: CheckName;
  said: string;
  /** What was done up to there, in words. */
  story: string[];
}

export interface Seen {
  reports: number;
  accepted: number;
  facts: Map<string, number>;
  refusals: Map<string, number>;
  places: Set<string>;
}

export const nothingSeen = (): Seen => ({
  reports: 0,
  accepted: 0,
  facts: new Map(),
  refusals: new Map(),
  places: new Set(),
});

/** Walks until something is wrong. With `only`, looks at nothing else. */
export function walk(moves: readonly Move[], seen: Seen, only?: CheckName): Violation | undefined {
  const asked = (all: Record<string, Check>) =>
    (Object.entries(all) as [CheckName, Check][]).filter(([name]) => only === undefined || only === name);
  const each = asked(checks);
  const dear = asked(dearChecks);
  const story: string[] = [];
  let world: World = openedUnit(heatOpening);
  let last: Outcome | undefined;
  for (const [index, move] of moves.entries()) {
    const deed = deedOf(world, move);
    story.push(deed.words);
    try {
      last = deed.act(world);
      const isDear = only !== undefined || index % 3 === 0;
      const broken = firstBroken(each, last, story) ?? (isDear ? firstBroken(dear, last, story) : undefined);
      if (broken) return broken;
    } catch (error) {
      return { check: neverThrows, said: String(error), story };
    }
    world = last.world;
    note(seen, last, deed.isReport);
  }
  return last && firstBroken(asked(checksAtTheEnd), last, story);
}

function firstBroken(asked: [CheckName, Check][], outcome: Outcome, story: string[]): Violation | undefined {
  for (const [check, look] of asked) {
    const said = look(outcome);
    if (said) return { check, said, story };
  }
  return undefined;
}

function note(seen: Seen, { facts, refusal, world }: Outcome, isReport: boolean): void {
  if (isReport) seen.reports += 1;
  if (isReport && !refusal) seen.accepted += 1;
  if (refusal) seen.refusals.set(refusal.code, (seen.refusals.get(refusal.code) ?? 0) + 1);
  for (const fact of facts) seen.facts.set(fact.kind, (seen.facts.get(fact.kind) ?? 0) + 1);
  for (const [, worker] of entriesOf(world.state.workers)) seen.places.add(JSON.stringify(worker.machine.value));
}

/** Leaves out moves, the largest stretches first, as long as the same check still breaks. */
export function shortest(moves: readonly Move[], check: CheckName): Violation {
  const breaks = (some: readonly Move[]) => {
    const found = walk(some, nothingSeen(), check);
    return found?.check === check ? found : undefined;
  };
  let left = moves;
  for (let size = Math.ceil(moves.length / 2); size >= 1; size = size === 1 ? 0 : Math.ceil(size / 2))
    for (let from = 0; from < left.length;) {
      const fewer = [...left.slice(0, from), ...left.slice(from + size)];
      if (breaks(fewer)) left = fewer;
      else from += size;
    }
  const found = breaks(left);
  if (!found) throw new Error(`"${check}" broke once and not again: a walk is not what its moves say`);
  return found;
}

export { movesOf };
