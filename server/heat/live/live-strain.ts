import type { EntryId } from '../../../machines/wire/ids.ts';
import type { StrainReached } from '../governing-limit.ts';
import { advance, startStrain, type StrainPoint, type StrainState } from '../predicted-heat-strain.ts';
import { prepareConditions, type PreparedConditions } from '../strain-conditions.ts';
import type { Exposure, Span } from './exposure.ts';

/** The equations, as a part: a test counts what they are asked. */
export interface StrainMethod {
  prepareConditions: typeof prepareConditions;
  advance: typeof advance;
}

const predictedHeatStrain: StrainMethod = { prepareConditions, advance };

/** One body in an open entry: where it stands now, and what is ahead if conditions stay as they are. */
export interface Body {
  exposure: Exposure;
  state: StrainState;
  ahead: StrainReached;
}

type Bodies = ReadonlyMap<EntryId, Body>;
type Prepared = ReadonlyMap<string, PreparedConditions>;

/**
 * The bodies of one unit, kept from look to look. A minute that has passed costs one step; a look ahead is made when conditions
 * change; what is prepared per set of conditions is shared by everybody under them. When the past itself has changed (a late
 * reading, a corrected work rate) that entry is run again from its start, so the outcome is always that of the state alone: what
 * is kept here only saves work, and a restart loses nothing.
 */
export class LiveStrain {
  private readonly method: StrainMethod;
  private bodies: Bodies = new Map();
  private prepared: Prepared = new Map();

  constructor(method: StrainMethod = predictedHeatStrain) {
    this.method = method;
  }

  /** Brings every entry up to its exposure; entries that are not among these are forgotten. */
  follow(exposures: readonly Exposure[]): readonly Body[] {
    const conditions = new Preparations(this.method, this.prepared);
    const bodies = exposures.map((one) => this.followOne(one, conditions));
    this.bodies = new Map(bodies.map((body) => [body.exposure.entry, body]));
    this.prepared = conditions.used;
    return bodies;
  }

  private followOne(exposure: Exposure, conditions: Preparations): Body {
    const known = this.bodies.get(exposure.entry);
    const from = known && isSamePast(known, exposure) ? known.state : startStrain();
    const state = this.run(from, exposure, exposure.minutesPassed, conditions);
    const isSameFuture = known && areSame(known.exposure.spans, exposure.spans) && isSameHorizon(known, exposure);
    return { exposure, state, ahead: isSameFuture ? known.ahead : this.lookAhead(state, exposure, conditions) };
  }

  private lookAhead(from: StrainState, exposure: Exposure, conditions: Preparations): StrainReached {
    const end = this.run(from, exposure, exposure.horizonMinutes, conditions);
    return { coreTemperatureMin: end.coreTemperatureReachedMin, waterLossMin: end.waterLoss95ReachedMin };
  }

  private run(from: StrainState, { spans, person }: Exposure, until: number, conditions: Preparations): StrainState {
    return spans.reduce((state, span, index) => {
      const end = Math.min(until, (spans[index + 1]?.fromMinute ?? Infinity) - 1);
      if (end <= state.minute) return state;
      return this.method.advance(state, conditions.of(span, person), end - state.minute);
    }, from);
  }
}

/** What is prepared once per set of conditions: taken over from the look before where it is still used. */
class Preparations {
  readonly used = new Map<string, PreparedConditions>();
  private readonly method: StrainMethod;
  private readonly before: Prepared;

  constructor(method: StrainMethod, before: Prepared) {
    this.method = method;
    this.before = before;
  }

  of({ key, conditions }: Span, person: Exposure['person']): PreparedConditions {
    const known = this.used.get(key) ?? this.before.get(key) ?? this.method.prepareConditions(person, conditions);
    this.used.set(key, known);
    return known;
  }
}

function isSamePast({ exposure, state }: Body, next: Exposure): boolean {
  if (state.minute > next.minutesPassed) return false;
  if (exposure.spans === next.spans) return true;
  const past = (spans: readonly Span[]) => spans.filter((span) => span.fromMinute <= state.minute);
  return areSame(past(exposure.spans), past(next.spans));
}

function areSame(some: readonly Span[], others: readonly Span[]): boolean {
  if (some === others) return true;
  if (some.length !== others.length) return false;
  return some.every((one, index) => one.fromMinute === others[index]?.fromMinute && one.key === others[index].key);
}

const isSameHorizon = (known: Body, next: Exposure): boolean => known.exposure.horizonMinutes === next.horizonMinutes;

/** The whole entry for a plot, past and ahead: one point every `everyMin` minutes from the start to the horizon. */
export function strainPoints({ spans, person, horizonMinutes }: Exposure, everyMin: number): StrainPoint[] {
  const prepared = spans.map((span) => prepareConditions(person, span.conditions));
  const points: StrainPoint[] = [];
  let state = startStrain();
  for (let minute = 0; minute <= horizonMinutes; minute += 1) {
    const span = spans.findLastIndex(({ fromMinute }) => fromMinute <= minute);
    if (minute > 0) state = advance(state, prepared[span]!, 1);
    const { rectalTemperatureC, waterLossG } = state;
    if (minute % everyMin === 0) points.push({ minute, rectalTemperatureC, waterLossG });
  }
  return points;
}
