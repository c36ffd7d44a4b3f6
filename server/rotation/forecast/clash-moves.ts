import { forecastFrom, tallyOf, type Forecast } from './forecast.ts';
import { possibleMoves, type Move, type PossibleMove } from './moves.ts';
import type { Scenario } from './scenario.ts';
import type { Tally } from './tally.ts';

/**
 * What the coordinator could do about waits and passed limits: moves that each were played through with the same chance as the
 * forecast itself (common random numbers), so that what differs is the move and not the luck.
 */
export interface ClashMove {
  move: Move;
  /** The move in a sentence. */
  sentence: string;
  /** Runs of before and after. */
  runs: number;
  /** For everybody whose figures the move changes by a point or a tenth of a minute. */
  people: { id: string; worker?: string; before: MoveFigures; after: MoveFigures }[];
  /** Expected minutes of waiting of all together, and people over their limit. */
  before: { waitMinutes: number; overLimit: number };
  after: { waitMinutes: number; overLimit: number };
}

export interface MoveFigures {
  chanceOfWaiting: number;
  waitMinutesAtQuantile: number;
  waitMinutesMean: number;
  chanceOverLimit?: number;
}

export interface MoveOptions {
  /** How many moves are told, best first. */
  movesMost?: number;
  /** What one person over the limit counts as, in minutes of waiting. */
  overLimitMinutes?: number;
}

const promisingMost = 12;
/** Few runs may mistake the second best for the best. */
const perSubjectMost = 2;
/** A move that helps less than this is not worth a call over the radio. Minutes of waiting. */
const helpLeast = 0.5;
/** Nobody's chance of passing their limit may rise by more than this for the sake of others. */
const riskMost = 0.01;
/** A first look at every possible move with few runs, a second at the promising ones: so that the answer comes in seconds. */
const firstLookRuns = 300;
const firstLookWork = 1_000_000;
const secondLookWork = 150_000;

export function clashMoves(scenario: Scenario, options: MoveOptions = {}): ClashMove[] {
  const overLimitMinutes = options.overLimitMinutes ?? 60;
  const moves = promising(scenario, overLimitMinutes);
  if (moves.length === 0) return [];
  const runs = Math.min(scenario.settings.runs, Math.floor(secondLookWork / scenario.people.length));
  const tally = tallyOf(withRuns(scenario, runs));
  const now = forecastFrom(scenario, tally);
  return moves
    .map(({ move, sentence, scenario: changed }) => {
      const after = tallyOf(withRuns(changed, runs));
      const { mean, error } = meanGain(tally, after, overLimitMinutes);
      return { mean, error, told: { move, sentence, runs, ...effect(now, changed, tally, after) } };
    })
    .filter(({ mean, error, told }) => mean > helpLeast && mean > 2 * error && told.people.every(isSafe))
    .sort((a, b) => byGain(a.mean, b.mean, a.told, b.told))
    .filter(({ told }, at, all) => all.findIndex((one) => subjectOf(one.told.move) === subjectOf(told.move)) === at)
    .slice(0, options.movesMost ?? 5)
    .map(({ told }) => told);
}

const placeAmongItsLike = ({ move }: PossibleMove, better: readonly PossibleMove[]): number =>
  better.filter((one) => subjectOf(one.move) === subjectOf(move)).length;

/** Of several shifts of the same person or break only the best is told. */
function subjectOf(move: Move): string {
  switch (move.kind) {
    case 'call-out':
    case 'assign-observer':
      return `${move.kind} ${move.person}`;
    case 'reopen-lane':
      return `${move.kind} ${move.lane}`;
    case 'shift-break':
      return `${move.kind} ${move.observer}`;
    case 'swap-breaks':
      return `${move.kind} ${move.observers.join(' ')}`;
    default:
      return move satisfies never;
  }
}

/** The moves that help at a first look, best first. */
function promising(scenario: Scenario, overLimitMinutes: number): PossibleMove[] {
  const brief = withRuns(scenario, Math.min(scenario.settings.runs, firstLookRuns));
  const moves = possibleMoves(scenario, forecastFrom(brief, tallyOf(brief)));
  const affordable = Math.floor(firstLookWork / Math.max(1, moves.length * scenario.people.length));
  const runs = Math.min(brief.settings.runs, Math.max(60, affordable));
  const before = tallyOf(withRuns(scenario, runs));
  return moves
    .map((one) => ({ one, gain: meanGain(before, tallyOf(withRuns(one.scenario, runs)), overLimitMinutes).mean }))
    .filter(({ gain }) => gain > helpLeast / 2)
    .sort((a, b) => byGain(a.gain, b.gain, a.one, b.one))
    .map(({ one }) => one)
    .filter((one, at, all) => placeAmongItsLike(one, all.slice(0, at)) < perSubjectMost)
    .slice(0, promisingMost);
}

const withRuns = (scenario: Scenario, runs: number): Scenario => ({
  ...scenario,
  settings: { ...scenario.settings, runs },
});

/** Best first; of equals the one whose sentence comes first, so that the order is always the same. */
function byGain(gain: number, otherGain: number, one: { sentence: string }, other: { sentence: string }): number {
  return otherGain - gain || (one.sentence < other.sentence ? -1 : 1);
}

/** Minutes of waiting saved per run, and the standard error of that mean: run by run, because the runs share their chance. */
function meanGain(before: Tally, after: Tally, overLimitMinutes: number): { mean: number; error: number } {
  const { runs } = before;
  const gains = before.runWait.map(
    (wait, run) => wait - after.runWait[run]! + overLimitMinutes * (before.runOver[run]! - after.runOver[run]!),
  );
  const mean = gains.reduce((sum, one) => sum + one, 0) / runs;
  const squares = gains.reduce((sum, one) => sum + (one - mean) ** 2, 0);
  return { mean, error: Math.sqrt(squares / (runs - 1) / runs) };
}

function effect(
  now: Forecast,
  changed: Scenario,
  tally: Tally,
  after: Tally,
): Pick<ClashMove, 'people' | 'before' | 'after'> {
  const then = forecastFrom(changed, after);
  const people = now.people
    .map(({ id, worker }, at) => ({
      id,
      ...(worker !== undefined && { worker }),
      before: figuresOf(now, at),
      after: figuresOf(then, at),
    }))
    .filter((one) => isChanged(one.before, one.after));
  return { people, before: totals(tally), after: totals(after) };
}

function figuresOf({ people }: Forecast, at: number): MoveFigures {
  const { chanceOfWaiting, waitMinutes, chanceOverLimit } = people[at]!;
  return {
    chanceOfWaiting: chanceOfWaiting.either,
    waitMinutesAtQuantile: waitMinutes.atQuantile,
    waitMinutesMean: waitMinutes.mean,
    ...(chanceOverLimit !== undefined && { chanceOverLimit }),
  };
}

const isChanged = (before: MoveFigures, after: MoveFigures): boolean =>
  Math.abs(before.chanceOfWaiting - after.chanceOfWaiting) >= 0.01 ||
  Math.abs(before.waitMinutesMean - after.waitMinutesMean) >= 0.1 ||
  Math.abs((before.chanceOverLimit ?? 0) - (after.chanceOverLimit ?? 0)) >= 0.01;

const isSafe = ({ before, after }: { before: MoveFigures; after: MoveFigures }): boolean =>
  (after.chanceOverLimit ?? 0) <= (before.chanceOverLimit ?? 0) + riskMost;

function totals({ runWait, runOver, runs }: Tally): { waitMinutes: number; overLimit: number } {
  const mean = (values: Float64Array) => values.reduce((sum, one) => sum + one, 0) / runs;
  return { waitMinutes: mean(runWait), overLimit: mean(runOver) };
}
