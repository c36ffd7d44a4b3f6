import { z } from 'zod';
import type { Climate, WorkRate } from '../../machines/unit/heat-settings.ts';
import { at, procedureKey, type UnitState } from '../../machines/unit/state.ts';
import type { PersonId, ProcedureId, RoomId, UnitId } from '../../machines/wire/ids.ts';
import { wornInDay } from '../../machines/worker/worker-machine.ts';
import { words } from '../words/words.ts';
import { airOf, climateWords } from './air.ts';
import { ask, type Asked, type Fetch } from './ask.ts';
import { workOf } from './work.ts';

/** What a limit would be in other air, at other work, by another procedure. It is computed, never recorded. */
const whatIfAnswer = z.object({
  governing: z.object({
    minutes: z.number(),
    reason: z.string(),
    source: z.string(),
    caution: z.string().optional(),
  }),
  predictedHeatStrain: z
    .object({ rectalTemperatureC: z.number(), waterLossG: z.number(), outsideRange: z.array(z.string()).default([]) })
    .optional(),
  screening: z
    .object({
      wbgtC: z.number(),
      effectiveWbgtC: z.number(),
      ralC: z.number(),
      relC: z.number(),
      over: z.boolean(),
      firstCheckMin: z.number().optional(),
      caution: z.string().optional(),
    })
    .optional(),
  caution: z.string().optional(),
});
export type WhatIfAnswer = z.infer<typeof whatIfAnswer>;

export interface WhatIf {
  procedure: ProcedureId;
  climate: Climate;
  work: WorkRate;
  /** In equipment in the last 24 hours, before this entry. */
  minutesSoFar?: number;
}

export const askWhatIf = (unit: UnitId, question: WhatIf, signal?: AbortSignal, fetched?: Fetch) =>
  ask(
    whatIfAnswer,
    `/api/units/${unit}/what-if`,
    {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify(question),
      ...(signal && { signal }),
    },
    fetched,
  ) satisfies Promise<Asked<WhatIfAnswer>>;

/**
 * What is compared with: somebody as they are now, or somebody who goes in now with the unit's first procedure, usual work and
 * the air of a room. Undefined where the unit computes nothing about heat, or has no procedure.
 */
export function whatIfNow(
  state: UnitState,
  about: { worker?: PersonId | undefined; room?: RoomId | undefined },
  now: number,
): WhatIf | undefined {
  const { heat } = state.rules;
  const context = about.worker && at(state.workers, about.worker)?.machine.context;
  const entry = context ? context.entry : undefined;
  const procedure = entry?.procedure ?? (Object.keys(state.adopted)[0] as ProcedureId | undefined);
  if (!heat || procedure === undefined) return undefined;
  const room = about.room ?? entry?.room;
  const air = room && airOf(state, room, now);
  const worn = context ? Math.round(wornInDay(context, context.entry?.donnedAt ?? now).minutes) : 0;
  const work = about.worker && workOf(state, about.worker)?.rate;
  return {
    procedure,
    climate: air?.is === 'read' ? air.climate : heat.climate,
    work: work ?? heat.work.usual,
    ...(worn > 0 && { minutesSoFar: worn }),
  };
}

export function procedureTitle(state: UnitState, id: ProcedureId): string {
  const version = at(state.adopted, id);
  return (version !== undefined && state.procedures[procedureKey(id, version)]?.title) || id;
}

export const questionWords = (state: UnitState, { procedure, climate, work }: WhatIf): string =>
  words.heat.whatIf.nowMore(
    procedureTitle(state, procedure),
    climateWords(climate),
    words.heat.workRates[work].name.toLowerCase(),
  );

/** How an answer compares with the one for now, in whole minutes. */
export function comparedWords(now: WhatIfAnswer, then: WhatIfAnswer): string {
  const { longer, shorter, same } = words.heat.whatIf;
  const difference = Math.round(then.governing.minutes) - Math.round(now.governing.minutes);
  if (difference === 0) return same;
  return difference > 0 ? longer(difference) : shorter(-difference);
}

/** Everything to bear in mind about an answer, each sentence once. */
export const cautionsOf = ({ governing, screening, caution }: WhatIfAnswer): string[] =>
  [
    ...new Set([governing.caution, screening?.caution, caution].filter((one) => one !== undefined && one !== '')),
  ] as string[];

export function screeningWords({ screening }: WhatIfAnswer, acclimatised: boolean): string[] {
  if (!screening) return [];
  const text = words.heat.whatIf;
  const degrees = (value: number) => value.toFixed(1);
  const limit = acclimatised ? screening.relC : screening.ralC;
  return [
    `${text.screeningIs(degrees(screening.wbgtC), degrees(screening.effectiveWbgtC), degrees(limit))}.`,
    screening.over ? text.over : text.under,
    ...(screening.firstCheckMin === undefined ? [] : [text.firstCheck(Math.round(screening.firstCheckMin))]),
  ];
}
