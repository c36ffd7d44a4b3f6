import type { ProcedureId, StepId } from '../wire/ids.ts';
import { hotSpotOf, type HotSpot } from './hot-spots.ts';
import type { DeviationLearned, StepLearned, VersionLearned } from './learning.ts';
import { enoughEntries, expectedTimes, medianOf, ninetiethOf, type ExpectedTime } from './own-times.ts';
import type { Phase, Procedure, Step } from './procedure.ts';

/** What there is to say about one version, ready for a page: counts, times, and which steps deserve training. */
export interface Lessons {
  procedure: ProcedureId;
  version: number;
  entries: number;
  /** False below `enoughEntries`: then counts are shown and nothing is concluded. */
  enough: boolean;
  donning: TimeSummary;
  doffing: TimeSummary;
  expected: { donning: ExpectedTime; doffing: ExpectedTime };
  steps: StepLesson[];
  /** Steps that deserve training, the worst first; empty while there are too few entries. */
  train: StepId[];
}

export interface TimeSummary {
  n: number;
  median: number | null;
  ninetieth: number | null;
}

export interface StepLesson {
  step: StepId;
  phase: Phase;
  words: string;
  critical: boolean;
  verified: number;
  missed: number;
  overridden: number;
  corrected: number;
  deviations: number;
  byKind: Record<string, number>;
  byActor: Record<string, number>;
  /** In entries that came as far as this step: how many in a hundred deviated. */
  perHundred: number | null;
  seconds: TimeSummary & { measured: 'contact-time' | 'since-step-before' | null };
  months: MonthLesson[];
  hotSpot: HotSpot | null;
}

export interface MonthLesson {
  month: string;
  deviations: number;
  medianSeconds: number | null;
}

/** A step with at least so many deviations, in at least so many of a hundred, is worth an hour of training: our own threshold. */
const trainFrom = { deviations: 3, perHundred: 10 };

export function lessonsOf(procedure: Procedure, learned: VersionLearned): Lessons {
  const steps = procedure.steps.map((step) => stepLesson(procedure, step, learned.steps[step.id]));
  const enough = learned.entries >= enoughEntries;
  return {
    procedure: learned.procedure,
    version: learned.version,
    entries: learned.entries,
    enough,
    donning: summaryOf(learned.donningMinutes),
    doffing: summaryOf(learned.doffingMinutes),
    expected: expectedTimes(procedure, learned),
    steps,
    train: enough
      ? steps
          .filter(deservesTraining)
          .sort(worstFirst)
          .map((one) => one.step)
      : [],
  };
}

const deservesTraining = ({ deviations, perHundred }: StepLesson): boolean =>
  deviations >= trainFrom.deviations && (perHundred ?? 0) >= trainFrom.perHundred;

const worstFirst = (one: StepLesson, other: StepLesson): number =>
  Number(other.critical) - Number(one.critical) || (other.perHundred ?? 0) - (one.perHundred ?? 0);

function stepLesson(procedure: Procedure, step: Step, learned: StepLearned | undefined): StepLesson {
  const { verified = 0, overridden = 0, corrected = 0, deviations = [], seconds = [] } = learned ?? {};
  const reached = verified + overridden;
  return {
    step: step.id,
    phase: step.phase,
    words: step.words,
    critical: step.critical,
    verified,
    missed: deviations.filter(({ kind }) => kind === 'missed').length,
    overridden,
    corrected,
    deviations: deviations.length,
    byKind: countBy(deviations, 'kind'),
    byActor: countBy(deviations, 'actor'),
    perHundred: reached === 0 ? null : Math.round((1000 * deviations.length) / reached) / 10,
    seconds: { ...summaryOf(seconds.map((one) => one.seconds)), measured: seconds.at(-1)?.measured ?? null },
    months: monthsOf(deviations, seconds),
    hotSpot: hotSpotOf(procedure, step) ?? null,
  };
}

function countBy(deviations: readonly DeviationLearned[], key: 'kind' | 'actor'): Record<string, number> {
  const counts = new Map<string, number>();
  for (const one of deviations) counts.set(one[key], (counts.get(one[key]) ?? 0) + 1);
  return Object.fromEntries(counts);
}

function monthsOf(deviations: readonly DeviationLearned[], seconds: StepLearned['seconds']): MonthLesson[] {
  const months = [...new Set([...deviations, ...seconds].map((one) => one.month))].sort();
  return months.map((month) => ({
    month,
    deviations: deviations.filter((one) => one.month === month).length,
    medianSeconds: medianOf(seconds.filter((one) => one.month === month).map((one) => one.seconds)) ?? null,
  }));
}

const summaryOf = (values: readonly number[]): TimeSummary => ({
  n: values.length,
  median: medianOf(values) ?? null,
  ninetieth: ninetiethOf(values) ?? null,
});
