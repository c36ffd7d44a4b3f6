import { compile } from './compile.ts';
import { drawRun } from './draws.ts';
import { newPlay } from './floor.ts';
import { playRun } from './play.ts';
import type { Scenario, ScenarioPerson } from './scenario.ts';
import { addRun, newTally, type Tally, type Uses } from './tally.ts';

/**
 * The next hours, played many times. All times are minutes from now, all chances from 0 to 1. The same scenario (with its seed
 * and number of runs) always gives the same answer.
 */
export interface Forecast {
  horizonMinutes: number;
  runs: number;
  seed: number;
  waitQuantile: number;
  /** What chance alone may have done to a chance near one half, 95 %: half-width. Smaller for chances near 0 or 1. */
  chanceHalfWidth95: number;
  people: PersonForecast[];
  lanes: LaneForecast[];
  observers: ObserverForecast[];
  quarters: { fromMinute: number; laneClashes: number; observerClashes: number }[];
}

export interface PersonForecast {
  id: string;
  worker?: string;
  chanceOfWaiting: { lane: number; observer: number; either: number };
  /** Still to come, from the threshold (or from now) to the lane. */
  waitMinutes: { mean: number; halfWidth95: number; atQuantile: number };
  /** Expected lateness of donning, because no observer was free. */
  donningDelayMinutes: number;
  /** Absent: no limit is known. */
  chanceOverLimit?: number;
  /** The last doffing step. Absent when they come out in no run. */
  outInMinutes?: { mean: number; atQuantile: number };
  /** No lane or no observer is left for them, in this share of the runs. */
  chanceNotOut: number;
}

/** One person's use of a lane or an observer, in the share of runs where it happens. */
export interface UseForecast {
  person: string;
  chance: number;
  startMinute: number;
  endMinute: number;
}

export interface LaneForecast {
  id: string;
  uses: UseForecast[];
  /** Per quarter hour: the chance that at a moment in it nobody else may have the lane (held, occupied or turnover). */
  chanceBusy: number[];
}

export interface ObserverForecast {
  id: string;
  uses: (UseForecast & { guiding: 'donning' | 'doffing' })[];
  /** Per quarter hour: the chance of guiding somebody at a moment in it. */
  chanceBusy: number[];
}

export function forecast(scenario: Scenario): Forecast {
  return forecastFrom(scenario, tallyOf(scenario));
}

/** Plays all the runs. */
export function tallyOf(scenario: Scenario): Tally {
  const { floor, draws } = compile(scenario);
  const { runs, horizonMinutes } = scenario.settings;
  const play = newPlay(floor);
  const tally = newTally(floor, runs, horizonMinutes);
  for (let run = 0; run < runs; run += 1) {
    drawRun(draws, play, run);
    playRun(play);
    addRun(tally, play, run);
  }
  return tally;
}

export function forecastFrom(scenario: Scenario, tally: Tally): Forecast {
  const { settings, people, lanes, observers } = scenario;
  return {
    horizonMinutes: settings.horizonMinutes,
    runs: tally.runs,
    seed: settings.seed,
    waitQuantile: settings.waitQuantile,
    chanceHalfWidth95: (1.96 * 0.5) / Math.sqrt(tally.runs),
    people: people.map((one, at) => personForecast(one, at, tally, settings.waitQuantile)),
    lanes: lanes.map(({ id }, at) => ({
      id,
      uses: usesOf(tally, tally.laneUses, at, people),
      chanceBusy: busyOf(tally, tally.laneBusy, at),
    })),
    observers: observers.map(({ id }, at) => ({
      id,
      uses: observerUses(tally, at, people),
      chanceBusy: busyOf(tally, tally.observerBusy, at),
    })),
    quarters: Array.from({ length: tally.quarters }, (_, quarter) => ({
      fromMinute: quarter * tally.quarterMinutes,
      laneClashes: tally.laneClashes[quarter]! / tally.runs,
      observerClashes: tally.observerClashes[quarter]! / tally.runs,
    })),
  };
}

function personForecast(one: ScenarioPerson, at: number, tally: Tally, quantile: number): PersonForecast {
  const { runs } = tally;
  const share = (sums: Float64Array) => sums[at]! / runs;
  const mean = share(tally.waitSum);
  const variance = Math.max(0, share(tally.waitSquares) - mean * mean);
  const out = tally.out[at]!;
  const hasLimit = 'limitInMinutes' in one ? one.limitInMinutes : 'limitAfterMinutes' in one && one.limitAfterMinutes;
  return {
    id: one.id,
    ...(one.worker !== undefined && { worker: one.worker }),
    chanceOfWaiting: {
      lane: share(tally.waitedForLane),
      observer: share(tally.waitedForObserver),
      either: share(tally.waitedAtAll),
    },
    waitMinutes: {
      mean,
      halfWidth95: 1.96 * Math.sqrt(variance / runs),
      atQuantile: quantileOf(tally.waits, at, runs, quantile),
    },
    donningDelayMinutes: share(tally.donningDelaySum),
    ...(typeof hasLimit === 'number' && { chanceOverLimit: share(tally.overLimit) }),
    ...(out > 0 && {
      outInMinutes: { mean: tally.outSum[at]! / out, atQuantile: quantileOf(tally.outs, at, runs, quantile) },
    }),
    chanceNotOut: 1 - out / runs,
  };
}

/** The least value that at least this share of the runs does not exceed. */
function quantileOf(values: Float32Array, at: number, runs: number, quantile: number): number {
  const sorted = values.slice(at * runs, (at + 1) * runs).sort();
  return sorted[Math.max(0, Math.ceil(quantile * runs - 1e-9) - 1)]!;
}

/** What happens in less than one run of twenty is left out. */
const chanceLeast = 0.05;

function usesOf(tally: Tally, uses: Uses, number: number, people: readonly ScenarioPerson[]): UseForecast[] {
  return people
    .map(({ id }, person) => {
      const at = number * people.length + person;
      const count = uses.count[at]!;
      return {
        person: id,
        chance: count / tally.runs,
        startMinute: uses.start[at]! / count,
        endMinute: uses.end[at]! / count,
      };
    })
    .filter((use) => use.chance >= chanceLeast)
    .sort((a, b) => a.startMinute - b.startMinute);
}

function observerUses(tally: Tally, at: number, people: readonly ScenarioPerson[]): ObserverForecast['uses'] {
  const donning = usesOf(tally, tally.donningUses, at, people).map((use) => ({ ...use, guiding: 'donning' as const }));
  const doffing = usesOf(tally, tally.doffingUses, at, people).map((use) => ({ ...use, guiding: 'doffing' as const }));
  return [...donning, ...doffing].sort((a, b) => a.startMinute - b.startMinute);
}

/** The last quarter may be cut off by the horizon; it is played through all the same. */
function busyOf(tally: Tally, busy: Float64Array, number: number): number[] {
  const { quarters, quarterMinutes, runs } = tally;
  const chances = busy.subarray(number * quarters, (number + 1) * quarters);
  return Array.from(chances, (minutes) => Math.min(1, Math.max(0, minutes / (quarterMinutes * runs))));
}

/**
 * The wait for lane and observer to leave room for when this person is called out: what is not exceeded with the chance the
 * scenario set as `waitQuantile` (nine of ten unless set otherwise).
 *
 * @param person the id of the entry, or of the worker; of several entries of a worker the first
 * @returns minutes; undefined when the forecast has nobody of this name
 */
export function waitForExit({ people }: Forecast, person: string): number | undefined {
  const found = people.find(({ id }) => id === person) ?? people.find(({ worker }) => worker === person);
  return found?.waitMinutes.atQuantile;
}
