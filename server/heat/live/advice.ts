import type { Advice } from '../../../machines/unit/advise.ts';
import type { HeatSettings } from '../../../machines/unit/heat-settings.ts';
import type { LimitCandidate } from '../../../machines/unit/limit.ts';
import { isInPpe } from '../../../machines/unit/questions.ts';
import { entriesOf, type UnitState } from '../../../machines/unit/state.ts';
import type { PersonId } from '../../../machines/wire/ids.ts';
import { globeFromRadiantC } from '../climate.ts';
import { adjustmentSets, findEnsemble, type AdjustmentSet, type Ensemble } from '../clothing.ts';
import { heatLimits } from '../governing-limit.ts';
import { barrierOf } from '../limits.ts';
import { screen, timeWeightedAverage, type Screening } from '../screening.ts';
import { bodySurfaceM2 } from '../strain-conditions.ts';
import { outsideRange, type OutsideRange } from '../strain-input.ts';
import { exposures, type Exposure } from './exposure.ts';
import type { Body, LiveStrain } from './live-strain.ts';

/**
 * What the heat calculation advises for everybody in equipment whose unit and procedure say what it needs: the heat limits, and
 * how often somebody is to look after the worker. It depends on the state and on whole minutes, so that two servers say the same.
 *
 * @param waitOf forecast wait for a lane and an observer, whole minutes
 */
export function adviceFor(
  state: UnitState,
  now: number,
  strain: LiveStrain,
  waitOf: (worker: PersonId) => number = () => 0,
): Advice[] {
  const bodies = strain.follow(exposures(state, now));
  return [...bodies.map((body) => adviceOf(body, waitOf)), ...noLongerHeat(state, bodies, waitOf)];
}

function adviceOf(body: Body, waitOf: (worker: PersonId) => number): Advice {
  const { worker, entry } = body.exposure;
  const check = checkOf(body.exposure);
  return { worker, entry, candidates: candidatesOf(body), waitMinutes: waitOf(worker), ...(check && { check }) };
}

function candidatesOf({ exposure, ahead }: Body): LimitCandidate[] {
  const outside = outsideRangeOf(exposure);
  return heatLimits(ahead, outside).map((limit) => ({ ...limit, ...(outside.length > 0 && { indicative: true }) }));
}

/** Somebody whose limit came from heat, in a unit that has given up its heat section: nothing holds that limit up any more. */
function noLongerHeat(state: UnitState, bodies: readonly Body[], waitOf: (worker: PersonId) => number): Advice[] {
  const followed = new Set(bodies.map((body) => body.exposure.worker));
  return entriesOf(state.workers).flatMap(([worker, { machine }]) => {
    const { entry } = machine.context;
    const isByHeat = entry?.limit?.kind === 'core-temperature' || entry?.limit?.kind === 'water-loss';
    if (!entry || !isByHeat || !isInPpe(machine) || followed.has(worker)) return [];
    return [{ worker, entry: entry.id, candidates: [], waitMinutes: waitOf(worker) }];
  });
}

/** Both are kept with the stretches they were found for: most minutes ask the same again. */
const knownOutside = new WeakMap<Exposure['spans'], readonly OutsideRange[]>();
const knownScreening = new WeakMap<Exposure['spans'], { rateWm2: number; screening: Screening }>();

/** By name, what in the whole entry is outside the validated ranges. */
export function outsideRangeOf(exposure: Exposure): readonly OutsideRange[] {
  const known = knownOutside.get(exposure.spans) ?? findOutside(exposure);
  knownOutside.set(exposure.spans, known);
  return known;
}

function findOutside({ spans, person, horizonMinutes, ...rest }: Exposure): OutsideRange[] {
  const impermeableEnsemble = ensembleOf(rest).ensemble?.barrier === 'impermeable';
  const all = spans.flatMap(({ conditions }) =>
    outsideRange({ ...person, ...conditions, durationMin: horizonMinutes, impermeableEnsemble }),
  );
  return [...new Set(all)];
}

export function ensembleOf({ heat, clothing }: Pick<Exposure, 'heat' | 'clothing'>): {
  adjustments: AdjustmentSet;
  ensemble?: Ensemble;
} {
  const adjustments = adjustmentSets[heat.screening];
  const ensemble = clothing.adjustment === undefined ? undefined : findEnsemble(adjustments, clothing.adjustment);
  return { adjustments, ...(ensemble && { ensemble }) };
}

/** When somebody is to look after the worker, by the screening of where they are now. */
function checkOf(exposure: Exposure): Advice['check'] {
  const screening = screeningOf(exposure);
  const { adjustments } = ensembleOf(exposure);
  if (screening.firstCheckMin === undefined) return undefined;
  return {
    everyMinutes: screening.firstCheckMin,
    reason: checkReason(screening, exposure.heat),
    source: `NIOSH 2016-106 section 8.1 for the limit, ${adjustments.source} for the clothing, NIOSH/OSHA/USCG/EPA 85-115 for the interval`,
  };
}

/** In words only: a number in it would make another fact of every tenth of a degree. */
function checkReason({ over }: Screening, { person }: HeatSettings): string {
  if (!over) return 'clothing that holds vapour in is checked at such an interval in this air, over the limit or not';
  return `over the screening limit for people who are ${person.acclimatised ? '' : 'not '}acclimatised`;
}

function screeningOf(exposure: Exposure): Screening {
  const rateWm2 = hourlyRateWm2(exposure);
  const known = knownScreening.get(exposure.spans);
  if (known?.rateWm2 === rateWm2) return known.screening;
  const screening = screenAt(exposure, rateWm2);
  knownScreening.set(exposure.spans, { rateWm2, screening });
  return screening;
}

/** @param rateWm2 averaged over the last hour */
function screenAt(exposure: Exposure, rateWm2: number): Screening {
  const { conditions, climate } = exposure.spans[exposure.spans.length - 1]!;
  const { airTemperatureC, radiantTemperatureC, airSpeedMs, vapourPressureKPa } = conditions;
  return screen({
    ...{ airTemperatureC, airSpeedMs, vapourPressureKPa },
    globeTemperatureC: climate.globeTemperatureC ?? globeFromRadiantC(radiantTemperatureC, airTemperatureC, airSpeedMs),
    metabolicRateW: rateWm2 * bodySurfaceM2(exposure.person),
    acclimatised: exposure.person.acclimatised,
    ...ensembleOf(exposure),
    barrier: barrierOf(conditions.permeabilityIndex),
  });
}

/**
 * The work rate averaged over the last hour in equipment. What came before the entry is not known and not counted as rest: the
 * careful side.
 */
function hourlyRateWm2({ spans, minutesPassed }: Exposure): number {
  const since = Math.max(0, minutesPassed - 60);
  const parts = spans.map(({ fromMinute, conditions }, index) => {
    const until = Math.min(minutesPassed, (spans[index + 1]?.fromMinute ?? Infinity) - 1);
    return { value: conditions.metabolicRateWm2, minutes: Math.max(0, until - Math.max(since, fromMinute - 1)) };
  });
  return timeWeightedAverage(parts) ?? spans[spans.length - 1]!.conditions.metabolicRateWm2;
}
