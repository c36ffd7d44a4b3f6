import type { Procedure } from '../../../machines/procedure/procedure.ts';
import type { DrawnStage } from './draws.ts';
import { defaultRuns } from './scenario.ts';
import type { Spread } from './spread.ts';

/**
 * What the forecast needs to know beyond the state. Everything has a default; the minutes and sigmas among them are our own
 * choice (common practice, no source), to be replaced by the unit's own history.
 */
export interface ScenarioOptions {
  horizonMinutes?: number;
  runs?: number;
  seed?: number;
  waitQuantile?: number;
  /** How long things took here, by procedure; what is missing comes from the procedure and from `sigma`. */
  history?: Readonly<Record<string, Partial<Record<DrawnStage, Spread>>>>;
  /** The spread of a stage of which only the expected minutes are known. */
  sigma?: Partial<Record<DrawnStage, number>>;
  /** The adopted plan; entries that have begun are taken from the state instead. */
  plan?: readonly PlanEntry[];
  plannedBreaks?: readonly { observer: string; startAt: number; minutes: number }[];
  breakMinutes?: number;
  preCheckMinutes?: number;
  postCheckMinutes?: number;
  assignedObserverWaitMinutes?: number;
  /** From the end of a lane's turnover time until somebody says that it is clear. */
  clearingMinutes?: number;
}

/** Times are milliseconds since 1970, as everywhere in a state. */
export interface PlanEntry {
  worker: string;
  room: string;
  donningStartAt: number;
  insideMinutes: number;
}

export type FilledOptions = Required<ScenarioOptions>;

export const optionDefaults: FilledOptions = {
  horizonMinutes: 240,
  runs: defaultRuns,
  seed: 1,
  waitQuantile: 0.9,
  history: {},
  sigma: {},
  plan: [],
  plannedBreaks: [],
  breakMinutes: 30,
  preCheckMinutes: 10,
  postCheckMinutes: 5,
  assignedObserverWaitMinutes: 10,
  clearingMinutes: 1,
};

const defaultSigma: Record<DrawnStage, number> = { donning: 0.23, inside: 0.17, leaving: 0.44, doffing: 0.22 };

export const minutesBetween = (from: number, to: number): number => Math.min(1440, Math.max(0, (to - from) / 60_000));

/** Minutes of the procedure, unless the unit's history knows better. */
export function spreadOf(options: FilledOptions, procedure: Procedure, stage: DrawnStage, median: number): Spread {
  const known = options.history[procedure.id]?.[stage];
  return known ?? { median, sigma: options.sigma[stage] ?? defaultSigma[stage] };
}
