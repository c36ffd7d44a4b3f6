import type { AfterEntry } from '../../machines/heat/after-entry.ts';
import type { DayBounds } from '../../machines/heat/person.ts';
import { rectalTemperatureLimitC, type StrainPrediction } from './predicted-heat-strain.ts';
import { outsideRangeSentences, type OutsideRange } from './strain-input.ts';
import { respirators, wearTimes, wearTimeSource, type Respirator } from './wear-time.ts';

/**
 * The minutes a worker may reach, and why: the smallest of everything that limits them. Pure; what it found becomes a fact, so
 * that a later change of these formulas never changes what was decided.
 */
export type LimitKind =
  | 'unit-rule'
  | 'wear-time'
  | 'core-temperature'
  | 'water-loss'
  | 'asked-duration'
  | 'minutes-of-the-day'
  | 'entries-of-the-day'
  | 'earlier-entries';

export interface LimitCandidate {
  kind: LimitKind;
  minutes: number;
  /** A clause that completes "the limit is N min because". */
  reason: string;
  source: string;
  caution: string;
}

export interface GoverningLimit extends LimitCandidate {
  /** All the others, smallest first. */
  others: LimitCandidate[];
}

/** Of two equal ones the earlier in the list governs. There is always at least the unit's own rule. */
export function governingLimit(candidates: readonly [LimitCandidate, ...LimitCandidate[]]): GoverningLimit {
  const [smallest, ...others] = [...candidates].sort((a, b) => a.minutes - b.minutes);
  return { ...smallest!, others };
}

const deferToLocal = 'An aid, not a medical device: local rules and occupational health decide.';

export function unitRuleLimit(minutes: number, reason: string, source: string): LimitCandidate {
  return { kind: 'unit-rule', minutes, reason, source, caution: deferToLocal };
}

/** Nothing when the rule sets no limit for this device. */
export function wearTimeLimit(respirator: Respirator): LimitCandidate | undefined {
  const { wearMin } = wearTimes[respirator];
  if (wearMin === undefined) return undefined;
  const reason = `a ${respirator.replaceAll('-', ' ')} is worn for at most ${wearMin} min at a stretch`;
  return { kind: 'wear-time', minutes: wearMin, reason, source: wearTimeSource, caution: deferToLocal };
}

export const isRespirator = (name: string): name is Respirator => respirators.some((one) => one === name);

const strainSource = 'ISO 7933:2004, predicted heat strain';

/** One limit that heat sets: a candidate of an asked question and of an entry alike. */
export interface HeatLimit {
  kind: 'core-temperature' | 'water-loss';
  minutes: number;
  reason: string;
  source: string;
  caution: string;
}

/** Whole minutes from the start of the exposure; absent where a limit is not reached. */
export interface StrainReached {
  coreTemperatureMin?: number | undefined;
  waterLossMin?: number | undefined;
}

/** The heat limits that are reached: none, one or both. */
export function heatLimits(reached: StrainReached, outside: readonly OutsideRange[]): HeatLimit[] {
  const { coreTemperatureMin, waterLossMin } = reached;
  const shared = { source: strainSource, caution: strainCaution(outside) };
  const core = `the predicted rectal temperature reaches ${rectalTemperatureLimitC.toFixed(1)} °C`;
  const water = 'the predicted water loss reaches what protects 95 % of people';
  return [
    ...(coreTemperatureMin === undefined
      ? []
      : [{ kind: 'core-temperature' as const, minutes: coreTemperatureMin, reason: core, ...shared }]),
    ...(waterLossMin === undefined
      ? []
      : [{ kind: 'water-loss' as const, minutes: waterLossMin, reason: water, ...shared }]),
  ];
}

/** The two heat limits, or, where neither is reached, that nothing is known beyond the duration asked about. */
export function strainLimits(prediction: StrainPrediction, askedMin: number): LimitCandidate[] {
  const limits = heatLimits(reachedIn(prediction), prediction.outsideRange);
  if (limits.length > 0) return limits;
  const reason = `no heat limit is reached in the ${askedMin} min asked about`;
  const caution = strainCaution(prediction.outsideRange);
  return [{ kind: 'asked-duration', minutes: askedMin, reason, source: strainSource, caution }];
}

function reachedIn(prediction: StrainPrediction): StrainReached {
  return {
    ...(prediction.coreTemperatureReached && { coreTemperatureMin: prediction.limitCoreTemperatureMin }),
    ...(prediction.waterLossReached && { waterLossMin: prediction.limitWaterLoss95Min }),
  };
}

export function strainCaution(outside: readonly OutsideRange[]): string {
  const first = outside[0];
  if (!first) return 'Indicative: an average healthy person, not this one.';
  const clothing = outside.some((name) => clothingNames.has(name));
  return clothing
    ? 'Indicative: outside the validated clothing. Watch the person, not the number.'
    : `Indicative: outside the validated range. ${outsideRangeSentences[first]}`;
}

const clothingNames: ReadonlySet<OutsideRange> = new Set(['clothingInsulationClo', 'permeabilityIndex', 'ensemble']);

/** What is left of the day: minutes, and whether there is an entry left at all. */
export function dayLimits(left: DayBounds, source: string): LimitCandidate[] {
  const minutes: LimitCandidate = {
    kind: 'minutes-of-the-day',
    minutes: left.minutesInPpe,
    reason: `${Math.floor(left.minutesInPpe)} min in equipment are left of today`,
    source,
    caution: deferToLocal,
  };
  if (left.entries > 0) return [minutes];
  return [{ ...minutes, kind: 'entries-of-the-day', minutes: 0, reason: 'no entry is left of today' }, minutes];
}

/** What measurements after earlier entries leave of the period that would otherwise hold; nothing where they change nothing. */
export function earlierEntriesLimit(after: AfterEntry, periodMin: number): LimitCandidate | undefined {
  const worst = after.because[0];
  if (!worst || after.nextEntryShare >= 1) return undefined;
  const what = after.notAgainToday ? 'not again today' : 'the next period is cut by a third';
  return {
    kind: 'earlier-entries',
    minutes: periodMin * after.nextEntryShare,
    reason: `${what}, because ${worst.words}`,
    source: worst.source,
    caution: deferToLocal,
  };
}
