import { minutesMs } from '../../../machines/unit/limit.ts';
import { isCallable } from '../../../machines/unit/questions.ts';
import { at as entryAt, type UnitState } from '../../../machines/unit/state.ts';
import type { PersonId } from '../../../machines/wire/ids.ts';
import type { ClashMove, MoveFigures } from '../forecast/clash-moves.ts';
import type { Forecast, PersonForecast, UseForecast } from '../forecast/forecast.ts';
import type { Scenario, ScenarioPerson } from '../forecast/scenario.ts';
import { meanTimes, type ForecastClash } from './clashes.ts';

/**
 * A forecast as it is told: times are milliseconds since 1970 instead of minutes from now, people are workers' ids, and a move says
 * what to report for it. Nothing is rounded but times; words are the screens' own.
 */
export interface ForecastSource {
  number: number;
  /** The moment that its minutes count from, milliseconds. */
  at: number;
  state: UnitState;
  scenario: Scenario;
  forecast: Forecast;
  clashes: readonly ForecastClash[];
  moves: readonly ClashMove[];
}

const movesShown = 5;

export function forecastView({ number, at, state, scenario, forecast, clashes, moves }: ForecastSource) {
  const timeOf = (minutes: number): number => Math.round(at + minutes * 60_000);
  const workerOf = (id: string): string => scenario.people.find((one) => one.id === id)?.worker ?? id;
  const use = ({ person, chance, startMinute, endMinute }: UseForecast) => ({
    ...{ entry: person, worker: workerOf(person), chance },
    ...{ from: timeOf(startMinute), to: timeOf(endMinute) },
  });
  return {
    ...{ number, at },
    horizonMinutes: forecast.horizonMinutes,
    runs: forecast.runs,
    waitQuantile: forecast.waitQuantile,
    chanceHalfWidth95: forecast.chanceHalfWidth95,
    people: forecast.people.map((one, index) => ({
      ...personView(one, scenario.people[index]!, timeOf),
      ...comesAt(one, forecast, timeOf),
    })),
    lanes: forecast.lanes.map(({ id, uses, chanceBusy }) => ({ id, uses: uses.map(use), chanceBusy })),
    observers: forecast.observers.map(({ id, uses, chanceBusy }) => ({
      ...{ id, chanceBusy },
      uses: uses.map((one) => ({ ...use(one), guiding: one.guiding })),
    })),
    clashes: clashes.map(({ fromMinute, toMinute, people, ...clash }) => ({
      ...{ from: timeOf(fromMinute), to: timeOf(toMinute), ...clash },
      workers: people.map(workerOf),
    })),
    quarters: forecast.quarters.map(({ fromMinute, ...clashes }) => ({ from: timeOf(fromMinute), ...clashes })),
    moves: moves.flatMap((move) => moveView(move, state, scenario) ?? []).slice(0, movesShown),
  };
}

export type ForecastView = ReturnType<typeof forecastView>;

/** Nobody is in an entry: nothing was played, and there is nothing to wait for. */
export const nothingAhead = (number: number, at: number): ForecastView => ({
  ...{ number, at, horizonMinutes: 0, runs: 0, waitQuantile: 0.9, chanceHalfWidth95: 0 },
  ...{ people: [], lanes: [], observers: [], clashes: [], quarters: [], moves: [] },
});

function personView(one: PersonForecast, { stage }: ScenarioPerson, timeOf: (minutes: number) => number) {
  const { id, worker = id, chanceOfWaiting, waitMinutes, donningDelayMinutes, chanceOverLimit, chanceNotOut } = one;
  const out = one.outInMinutes;
  return {
    ...{ entry: id, worker, stage, chanceOfWaiting, waitMinutes, donningDelayMinutes, chanceNotOut },
    ...(chanceOverLimit !== undefined && { chanceOverLimit }),
    ...(out && { outAt: { mean: timeOf(out.mean), atQuantile: timeOf(Math.min(out.atQuantile, 10_080)) } }),
  };
}

function comesAt(one: PersonForecast, forecast: Forecast, timeOf: (minutes: number) => number) {
  const times = meanTimes(one, forecast);
  return times ? { comesAt: timeOf(times.comes), laneAt: timeOf(times.lane) } : {};
}

function moveView(one: ClashMove, state: UnitState, scenario: Scenario) {
  const told = toldMove(one.move, state, scenario);
  if (!told) return undefined;
  const figures = ({ chanceOfWaiting, waitMinutesAtQuantile, waitMinutesMean, chanceOverLimit }: MoveFigures) => ({
    ...{ chanceOfWaiting, waitMinutesAtQuantile, waitMinutesMean },
    ...(chanceOverLimit !== undefined && { chanceOverLimit }),
  });
  const people = one.people.map(({ id, worker = id, before, after }) => ({
    ...{ entry: id, worker },
    ...{ before: figures(before), after: figures(after) },
  }));
  return { ...told, runs: one.runs, before: one.before, after: one.after, people };
}

/** The move with what it takes to do it; undefined for what the unit would not accept. */
function toldMove(move: ClashMove['move'], state: UnitState, { people }: Scenario) {
  const workerOf = (id: string): string => people.find((one) => one.id === id)?.worker ?? id;
  switch (move.kind) {
    case 'call-out':
      return callOutMove(state, workerOf(move.person) as PersonId, move.minutes);
    case 'assign-observer': {
      const { kind, observer } = move;
      return { kind, worker: workerOf(move.person), ...(observer !== null && { observer }) };
    }
    case 'reopen-lane':
    case 'shift-break':
    case 'swap-breaks':
      return move;
    default:
      return move satisfies never;
  }
}

/** Later than the limit allows is no move, and somebody who is not in equipment yet has no call-out to move. */
function callOutMove(state: UnitState, worker: PersonId, minutes: number) {
  const machine = entryAt(state.workers, worker)?.machine;
  const limit = machine?.context.entry?.limit;
  if (!machine || !limit || !isCallable(machine)) return undefined;
  const { doffingMinutes = 0, waitMinutes = 0, marginMinutes = 0 } = limit;
  const callOutAt = limit.callOutAt + minutesMs(minutes);
  const latest = limit.limitAt - minutesMs(doffingMinutes + waitMinutes + marginMinutes);
  return callOutAt > latest ? undefined : { kind: 'call-out' as const, worker, minutes, callOutAt };
}
