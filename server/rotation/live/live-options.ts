import { enoughEntries } from '../../../machines/procedure/own-times.ts';
import type { ForecastSettings } from '../../../machines/unit/forecast-settings.ts';
import { entriesOf, type UnitState } from '../../../machines/unit/state.ts';
import type { ScenarioOptions } from '../forecast/scenario-options.ts';
import type { Spread } from '../forecast/spread.ts';

const sigmaMost = 2;

/** What the forecast of a running unit knows beyond its state: the unit's settings, its own record, and its adopted plan. */
export function liveOptions(state: UnitState, settings: ForecastSettings | undefined): ScenarioOptions {
  const { source: _source, ...given } = settings ?? {};
  return { ...defined(given), history: historyOf(state), ...planOf(state) };
}

function defined(given: Omit<ForecastSettings, 'source'>): ScenarioOptions {
  const entries = Object.entries(given).filter(([, value]) => value !== undefined);
  return Object.fromEntries(entries) as ScenarioOptions;
}

function historyOf({ donnings, doffings }: UnitState): NonNullable<ScenarioOptions['history']> {
  const ids = new Set([...entriesOf(donnings), ...entriesOf(doffings)].map(([id]) => id));
  const known = [...ids].map((id) => {
    const [donning, doffing] = [spreadFrom(donnings[id] ?? []), spreadFrom(doffings[id] ?? [])];
    return [id, { ...(donning && { donning }), ...(doffing && { doffing }) }] as const;
  });
  return Object.fromEntries(known);
}

/** The log-normal spread of times that were measured, by the mean and deviation of their logarithms. */
export function spreadFrom(minutes: readonly number[]): Spread | undefined {
  const logs = minutes.filter((one) => one > 0).map(Math.log);
  if (logs.length < enoughEntries) return undefined;
  const mean = logs.reduce((sum, one) => sum + one, 0) / logs.length;
  const variance = logs.reduce((sum, one) => sum + (one - mean) ** 2, 0) / (logs.length - 1);
  return { median: Math.min(1440, Math.exp(mean)), sigma: Math.min(sigmaMost, Math.sqrt(variance)) };
}

/** All trips, those that have begun too: the scenario knows an entry that has begun by its nearest trip. */
function planOf({ rotation }: UnitState): Pick<ScenarioOptions, 'plan' | 'plannedBreaks'> {
  if (!rotation) return {};
  return {
    plan: rotation.trips.map(({ worker, room, donningAt, insideMinutes }) => ({
      ...{ worker, room, insideMinutes },
      donningStartAt: donningAt,
    })),
    plannedBreaks: rotation.breaks.map(({ observer, at, minutes }) => ({ observer, startAt: at, minutes })),
  };
}
