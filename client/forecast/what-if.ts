import { z } from 'zod';
import type { UnitState } from '../../machines/unit/state.ts';
import { personId, type PersonId, type UnitId } from '../../machines/wire/ids.ts';
import type { FloorNames } from '../board/floor-names.ts';
import { observerViews } from '../board/observer-view.ts';
import { ask, type Asked, type Fetch } from '../heat/ask.ts';
import { words } from '../words/words.ts';
import { percent, wholeMinutes } from './figures.ts';

/** What would be with an observer less, more lanes or slower doffing: played by the server, recorded and adopted by nobody. */
const figures = z.object({
  entry: z.string(),
  worker: personId,
  chanceOfWaiting: z.number(),
  waitMinutesAtQuantile: z.number(),
  waitMinutesMean: z.number(),
  chanceOverLimit: z.number().optional(),
});
const side = z.object({ waitMinutes: z.number(), overLimit: z.number(), people: z.array(figures) });
const whatIfAnswer = z.object({
  at: z.number(),
  horizonMinutes: z.number(),
  runs: z.number(),
  waitQuantile: z.number(),
  chanceHalfWidth95: z.number(),
  before: side,
  after: side,
});
export type WhatIfAnswer = z.infer<typeof whatIfAnswer>;

export interface WhatIfQuestion {
  losesObserver?: PersonId;
  addsLanes?: number;
  doffingLongerPct?: number;
}

/** What is chosen on the screen. */
export interface WhatIfChosen {
  observer: PersonId | undefined;
  lanes: number;
  longerPct: number;
}
export const nothingChosen: WhatIfChosen = { observer: undefined, lanes: 0, longerPct: 0 };
export const lanesMost = 5;
export const longerSteps = [0, 10, 25, 50, 100] as const;

/** Undefined while nothing would be otherwise. */
export function questionOf({ observer, lanes, longerPct }: WhatIfChosen): WhatIfQuestion | undefined {
  if (observer === undefined && lanes === 0 && longerPct === 0) return undefined;
  return {
    ...(observer !== undefined && { losesObserver: observer }),
    ...(lanes > 0 && { addsLanes: lanes }),
    ...(longerPct > 0 && { doffingLongerPct: longerPct }),
  };
}

export const askForecastWhatIf = (unit: UnitId, question: WhatIfQuestion, fetched?: Fetch) =>
  ask(
    whatIfAnswer,
    `/api/units/${unit}/forecast/what-if`,
    { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(question) },
    fetched,
  ) satisfies Promise<Asked<WhatIfAnswer>>;

/** Whom the forecast counts on: losing anybody else would change nothing. */
export const observersToLose = (state: UnitState): PersonId[] =>
  observerViews(state)
    .filter(({ is }) => is !== 'off' && is !== 'silent')
    .map(({ id }) => id);

/** The question in words, for above its answer: what stands below belongs to it and to no later choice. */
export function questionWords(
  { losesObserver, addsLanes, doffingLongerPct }: WhatIfQuestion,
  names: FloorNames,
): string {
  const text = words.forecast.whatIf;
  const parts = [
    ...(losesObserver === undefined ? [] : [text.without(names.person(losesObserver))]),
    ...(addsLanes === undefined ? [] : [text.lanes(addsLanes)]),
    ...(doffingLongerPct === undefined ? [] : [text.longer(doffingLongerPct)]),
  ];
  return parts.join(', ');
}

/** A figure before and after, as it is written. */
export interface Pair {
  before: string;
  after: string;
  isSame: boolean;
}

const pair = (before: string, after: string): Pair => ({ before, after, isSame: before === after });

export interface WhatIfRow {
  entry: string;
  name: string;
  waits: Pair;
  wait: Pair;
  /** Undefined where no limit is known. */
  overLimit: Pair | undefined;
}

/** Everybody on both sides, whom it changes most on top. Somebody's later entries are told apart from the first. */
export function whatIfRows({ before, after }: WhatIfAnswer, names: FloorNames): WhatIfRow[] {
  const then = new Map(after.people.map((one) => [one.entry, one]));
  const seen = new Set<PersonId>();
  const both = before.people.flatMap((one) => {
    const other = then.get(one.entry);
    const isLater = seen.has(one.worker);
    seen.add(one.worker);
    return other ? [{ one, other, isLater, change: Math.abs(other.waitMinutesMean - one.waitMinutesMean) }] : [];
  });
  return both
    .sort((a, b) => b.change - a.change)
    .map(({ one, other, isLater }) => ({
      entry: one.entry,
      name: isLater ? words.forecast.whatIf.laterEntry(names.person(one.worker)) : names.person(one.worker),
      waits: pair(percent(one.chanceOfWaiting), percent(other.chanceOfWaiting)),
      wait: pair(minutesOf(one.waitMinutesAtQuantile), minutesOf(other.waitMinutesAtQuantile)),
      overLimit:
        one.chanceOverLimit === undefined || other.chanceOverLimit === undefined
          ? undefined
          : pair(percent(one.chanceOverLimit), percent(other.chanceOverLimit)),
    }));
}

const minutesOf = (minutes: number): string => words.minutes(wholeMinutes(minutes));

/** All together: expected waiting, and how many are expected to pass their limit. */
export const whatIfTogether = ({ before, after }: WhatIfAnswer): { wait: Pair; overLimit: Pair } => ({
  wait: pair(minutesOf(before.waitMinutes), minutesOf(after.waitMinutes)),
  overLimit: pair(before.overLimit.toFixed(1), after.overLimit.toFixed(1)),
});
