import { at, type UnitState } from '../../machines/unit/state.ts';
import type { LaneId, PersonId } from '../../machines/wire/ids.ts';
import type { ReportData, ReportKind } from '../../machines/wire/report.ts';
import { wallClock } from '../board/clock.ts';
import type { FloorNames } from '../board/floor-names.ts';
import { words } from '../words/words.ts';
import { percent, wholeMinutes } from './figures.ts';
import type { ForecastMove, MoveFigures } from './forecast.ts';

/** A move as it is said, and the one report that does it. Breaks are taken on the tablets: those moves can only be said. */
export type Order = { [K in ReportKind]: { kind: K; data: ReportData<K> } }[ReportKind];

export function orderOf(move: ForecastMove): Order | undefined {
  switch (move.kind) {
    case 'call-out': {
      const { worker, callOutAt } = move;
      return { kind: 'plan-call-out', data: { worker, callOutAt, reason: words.forecast.move.reason } };
    }
    case 'reopen-lane':
      return { kind: 'reopen-lane', data: { lane: move.lane } };
    case 'assign-observer': {
      const { worker, observer } = move;
      return observer === undefined ? undefined : { kind: 'assign-observer', data: { worker, observer } };
    }
    case 'shift-break':
    case 'swap-breaks':
      return undefined;
    default:
      return move satisfies never;
  }
}

/** Whether the unit is already as this move would have it: the forecast that proposed it is older than the press. */
export function isDone(move: ForecastMove, state: UnitState): boolean {
  switch (move.kind) {
    case 'call-out': {
      const limit = at(state.workers, move.worker)?.machine.context.entry?.limit;
      return !limit || (move.minutes < 0 ? limit.callOutAt <= move.callOutAt : limit.callOutAt >= move.callOutAt);
    }
    case 'reopen-lane':
      return at(state.lanes, move.lane)?.value !== 'closed';
    case 'assign-observer':
      return at(state.workers, move.worker)?.observer === move.observer;
    case 'shift-break':
    case 'swap-breaks':
      return false;
    default:
      return move satisfies never;
  }
}

export const movesLeft = (moves: readonly ForecastMove[], state: UnitState): ForecastMove[] =>
  moves.filter((move) => !isDone(move, state));

/** Names one move among others, whatever its figures are now. */
export function keyOf(move: ForecastMove): string {
  const { kind } = move;
  if (kind === 'reopen-lane') return `${kind} ${move.lane}`;
  if (kind === 'swap-breaks') return `${kind} ${move.observers.join(' ')}`;
  return kind === 'shift-break' ? `${kind} ${move.observer}` : `${kind} ${move.worker}`;
}

export function moveWords(move: ForecastMove, names: FloorNames): string {
  const said = words.forecast.move;
  const person = (id: PersonId) => names.person(id);
  switch (move.kind) {
    case 'call-out':
      return said.callOut(person(move.worker), Math.round(move.minutes), wallClock(move.callOutAt));
    case 'reopen-lane':
      return said.reopen(names.lane(move.lane as LaneId));
    case 'assign-observer':
      return move.observer === undefined
        ? said.assignAny(person(move.worker))
        : said.assign(person(move.worker), person(move.observer));
    case 'shift-break':
      return said.shiftBreak(person(move.observer), Math.round(move.minutes));
    case 'swap-breaks':
      return said.swapBreaks(person(move.observers[0]), person(move.observers[1]));
    default:
      return move satisfies never;
  }
}

/** What it comes to: all together, then those whom it changes most, and whose limit it touches. */
export function effectWords({ before, after, people }: ForecastMove, names: FloorNames): string[] {
  const said = words.forecast.move;
  const [wait, less] = [wholeMinutes(before.waitMinutes), wholeMinutes(after.waitMinutes)];
  const told = mostChanged(people, waitChange, waitNoticed).map((one) =>
    said.person(names.person(one.worker), chances(one), waits(one)),
  );
  const limits = mostChanged(people, limitChange, limitNoticed).map(({ worker, ...one }) =>
    said.limit(names.person(worker), percent(one.before.chanceOverLimit ?? 0), percent(one.after.chanceOverLimit ?? 0)),
  );
  const waiting = [...(wait === less ? [] : [said.together(wait, less)]), ...told];
  // What a move is for comes first: some lengthen a wait so that nobody passes their limit.
  return less < wait ? [...waiting, ...limits] : [...limits, ...waiting];
}

interface Changed {
  worker: PersonId;
  before: MoveFigures;
  after: MoveFigures;
}

const peopleMost = 2;

const waitNoticed = 0.5;
const limitNoticed = 0.05;

const waitChange = ({ before, after }: Changed): number => Math.abs(before.waitMinutesMean - after.waitMinutesMean);
const limitChange = ({ before, after }: Changed): number =>
  Math.abs((before.chanceOverLimit ?? 0) - (after.chanceOverLimit ?? 0));

const mostChanged = (people: readonly Changed[], change: (one: Changed) => number, least: number): Changed[] =>
  people
    .filter((one) => change(one) >= least)
    .sort((one, other) => change(other) - change(one))
    .slice(0, peopleMost);

const chances = ({ before, after }: Changed): [string, string] => [
  percent(before.chanceOfWaiting),
  percent(after.chanceOfWaiting),
];

const waits = ({ before, after }: Changed): [number, number] => [
  wholeMinutes(before.waitMinutesAtQuantile),
  wholeMinutes(after.waitMinutesAtQuantile),
];
