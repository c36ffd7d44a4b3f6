import { z } from 'zod';
import { personId } from '../../../machines/wire/ids.ts';
import type { Forecast } from '../forecast/forecast.ts';
import { lanesMost, type Scenario, type ScenarioLane, type ScenarioPerson } from '../forecast/scenario.ts';
import type { Spread } from '../forecast/spread.ts';

/** What would be with an observer less, more lanes, or slower doffing. Changes nothing. */
export const forecastQuestion = z
  .strictObject({
    losesObserver: personId.optional(),
    addsLanes: z.int().min(1).max(5).optional(),
    doffingLongerPct: z.number().min(-50).max(200).optional(),
  })
  .refine((one) => Object.values(one).some((value) => value !== undefined), 'ask at least one thing');
export type ForecastQuestion = z.infer<typeof forecastQuestion>;

export type ChangedScenario =
  | { ok: true; scenario: Scenario }
  | { ok: false; code: 'forecast/no-such-observer' | 'forecast/too-large'; sentence: string; field: string };

export function changedScenario(scenario: Scenario, question: ForecastQuestion): ChangedScenario {
  const { losesObserver, addsLanes = 0, doffingLongerPct = 0 } = question;
  if (losesObserver !== undefined && !scenario.observers.some(({ id }) => id === losesObserver))
    return {
      ok: false,
      code: 'forecast/no-such-observer',
      sentence: `"${losesObserver}" is not an observer who can be counted on now, so nothing would change.`,
      field: 'losesObserver',
    };
  if (scenario.lanes.length + addsLanes > lanesMost)
    return {
      ok: false,
      code: 'forecast/too-large',
      sentence: `At most ${lanesMost} lanes are forecast. Ask for fewer.`,
      field: 'addsLanes',
    };
  const fewer = losesObserver === undefined ? scenario : withoutObserver(scenario, losesObserver);
  const slower = withDoffing(fewer, 1 + doffingLongerPct / 100);
  return { ok: true, scenario: { ...slower, lanes: [...slower.lanes, ...addedLanes(slower.lanes, addsLanes)] } };
}

function withoutObserver(scenario: Scenario, observer: string): Scenario {
  return {
    ...scenario,
    observers: scenario.observers.filter(({ id }) => id !== observer),
    people: scenario.people.map((one) => without(one, observer)),
  };
}

function without(one: ScenarioPerson, observer: string): ScenarioPerson {
  const { observer: assigned, ...rest } = one;
  const unassigned = assigned === observer ? rest : one;
  if (!('guidedBy' in unassigned) || unassigned.guidedBy !== observer) return unassigned;
  const { guidedBy: _guide, ...unguided } = unassigned;
  return unguided;
}

const withDoffing = (scenario: Scenario, factor: number): Scenario => ({
  ...scenario,
  settings: { ...scenario.settings, doffing: longer(scenario.settings.doffing, factor) },
  people: scenario.people.map((one) => (one.doffing ? { ...one, doffing: longer(one.doffing, factor) } : one)),
});

/** All times of a spread by the same factor: its shape, and so its sigma, stays. */
function longer(spread: Spread, factor: number): Spread {
  const by = (minutes: number) => Math.min(1440, minutes * factor);
  return {
    ...spread,
    ...(spread.median !== undefined && { median: by(spread.median) }),
    ...(spread.mean !== undefined && { mean: by(spread.mean) }),
    ...(spread.p90 !== undefined && { p90: by(spread.p90) }),
  };
}

/** Free now, and cleaned as long as the slowest of those there are. */
function addedLanes(lanes: readonly ScenarioLane[], count: number): ScenarioLane[] {
  const turnoverMinutes = Math.max(...lanes.map((lane) => lane.turnoverMinutes));
  return Array.from({ length: count }, (_, at) => ({ id: `added lane ${at + 1}`, turnoverMinutes }));
}

/** One side of the answer: all together, and everybody. */
export function whatIfFigures({ people }: Forecast) {
  return {
    waitMinutes: people.reduce((sum, one) => sum + one.waitMinutes.mean, 0),
    overLimit: people.reduce((sum, one) => sum + (one.chanceOverLimit ?? 0), 0),
    people: people.map(({ id, worker = id, chanceOfWaiting, waitMinutes, chanceOverLimit }) => ({
      ...{ entry: id, worker, chanceOfWaiting: chanceOfWaiting.either },
      ...{ waitMinutesAtQuantile: waitMinutes.atQuantile, waitMinutesMean: waitMinutes.mean },
      ...(chanceOverLimit !== undefined && { chanceOverLimit }),
    })),
  };
}
