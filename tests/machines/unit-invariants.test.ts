import { beforeAll, describe, expect, it } from 'vitest';
import { factKinds } from '../../machines/wire/fact.ts';
import { checkNames, checks, neverThrows, type CheckName } from './invariants.ts';
import { movesOf } from './random-moves.ts';
import { nothingSeen, shortest, walk, type Violation } from './walk.ts';

/**
 * What must hold whatever happens: some hundred walks of random reports, mostly plausible, from everybody at every device, late
 * and early, with tablets that fall silent, files that change and hours that pass. Every check looks after every move.
 *
 * The seeds are fixed, so a run is the same everywhere. Other walks: WALK_SEED=7000 npx vitest run tests/machines/unit-invariants.test.ts
 */
const firstSeed = Number(process.env['WALK_SEED'] ?? 1);
const walks = 300;
const movesEach = 98;

const seen = nothingSeen();
const broken = new Map<CheckName, { seed: number; violation: Violation }>();

beforeAll(() => {
  for (let seed = firstSeed; seed < firstSeed + walks; seed += 1) {
    const violation = walk(movesOf(seed, movesEach), seen);
    if (violation && !broken.has(violation.check)) broken.set(violation.check, { seed, violation });
  }
  // Some seconds on a quiet machine; a busy one may take its time.
}, 240_000);

function report(name: CheckName): string | undefined {
  const found = broken.get(name);
  if (!found) return undefined;
  const { said, story } = shortest(movesOf(found.seed, movesEach).slice(0, found.violation.story.length), name);
  return `seed ${found.seed}: ${said}\n${story.map((words, index) => `  ${index + 1}. ${words}`).join('\n')}`;
}

describe(`${walks} random walks`, () => {
  it.each<CheckName>([...checkNames, neverThrows])('%s', (name) => {
    const found = report(name);
    if (found) expect.fail(found);
  });
});

describe('the walks are not idle', () => {
  it('send at least 300 × 80 reports, of which many are accepted and many are not', () => {
    expect(seen.reports).toBeGreaterThanOrEqual(300 * 80);
    expect(seen.accepted).toBeGreaterThan(seen.reports / 3);
    expect(seen.accepted).toBeLessThan((seen.reports * 9) / 10);
  });

  it('lead workers through every place there is', () => {
    expect([...seen.places].sort()).toEqual(
      [
        { rest: 'ready' },
        { rest: 'recovering' },
        { rest: 'stood-down' },
        { 'pre-check': 'screening' },
        { 'pre-check': 'held' },
        { 'pre-check': 'kit' },
        { 'pre-check': 'donning' },
        { 'pre-check': 'inspection' },
        'donned',
        { inside: 'working' },
        { inside: 'leaving' },
        { doffing: 'at-threshold' },
        { doffing: 'stepping' },
        { doffing: 'corrective' },
        { 'post-check': 'measuring' },
        { 'post-check': 'held' },
      ]
        .map((place) => JSON.stringify(place))
        .sort(),
    );
  });

  it('write every kind of fact there is, but the one that opens a unit', () => {
    const never = factKinds.filter((kind) => !seen.facts.has(kind));
    expect(never).toEqual(['unit-opened']);
  });

  it('meet many kinds of refusal', () => {
    expect([...seen.refusals.keys()].length).toBeGreaterThan(30);
  });
});

describe('the checks can fail', () => {
  // A walk that is told to look for something false must find it, say it, and shorten it.
  it('a walk that breaks a check is shortened to the moves that matter', () => {
    const name = 'promise 4: no path leaves a worker in doffing without either an observer or a high alert';
    const all = checks as Record<string, (typeof checks)[typeof name]>;
    const real = all[name]!;
    all[name] = ({ facts }) =>
      facts.some((fact) => fact.kind === 'duty-started') ? 'somebody started duty' : undefined;
    try {
      const found = walk(movesOf(1, movesEach), nothingSeen(), name);
      expect(found?.said).toBe('somebody started duty');
      const short = shortest(movesOf(1, movesEach).slice(0, found!.story.length), name);
      expect(short.story.length).toBeLessThan(found!.story.length);
      expect(short.story.at(-1)).toMatch(/start-duty/);
    } finally {
      all[name] = real;
    }
  });
});
