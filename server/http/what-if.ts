import { z } from 'zod';
import type { HeatRefusal } from '../../machines/heat/heat-refusal.ts';
import { climate, workRates, type HeatSettings } from '../../machines/unit/heat-settings.ts';
import { at, procedureKey, type UnitState } from '../../machines/unit/state.ts';
import type { Procedure } from '../../machines/procedure/procedure.ts';
import { procedureId } from '../../machines/wire/ids.ts';
import { adjustmentSets } from '../heat/clothing.ts';
import { dayLimits, unitRuleLimit, type LimitCandidate } from '../heat/governing-limit.ts';
import { readLimitsInput } from '../heat/limits-input.ts';
import { limitsOf } from '../heat/limits.ts';
import { printableLimits, type PrintedLimits } from '../heat/printed-limits.ts';

/** What would govern in such air, with such work: asked of a unit, with its own person, clothing and rules. Changes nothing. */
export const whatIfQuestion = z.strictObject({
  procedure: procedureId,
  climate: climate.optional().describe("left out: the unit's default"),
  work: z.enum(workRates).optional().describe("left out: the unit's usual"),
  minutesSoFar: z.number().min(0).max(1440).optional().describe('in equipment in the last 24 hours, before this entry'),
});
export type WhatIfQuestion = z.infer<typeof whatIfQuestion>;

export type WhatIfAnswer =
  | { ok: true; limits: PrintedLimits }
  | { ok: false; code: 'what-if/unknown-procedure' | 'what-if/no-heat' | HeatRefusal['code']; sentence: string };

export function whatIf(state: UnitState, question: WhatIfQuestion): WhatIfAnswer {
  const { heat } = state.rules;
  if (!heat) return refused('what-if/no-heat', "This unit's settings have no heat section, so nothing is computed.");
  const version = at(state.adopted, question.procedure);
  const procedure = version === undefined ? undefined : state.procedures[procedureKey(question.procedure, version)];
  if (!procedure)
    return refused('what-if/unknown-procedure', `This unit has no procedure called "${question.procedure}".`);
  if (!procedure.heat)
    return refused('what-if/no-heat', `The procedure "${procedure.id}" says nothing about its clothing (heat).`);
  return answer(state, heat, procedure, procedure.heat, question);
}

const refused = (code: (WhatIfAnswer & { ok: false })['code'], sentence: string): WhatIfAnswer => ({
  ok: false,
  code,
  sentence,
});

function answer(
  state: UnitState,
  heat: HeatSettings,
  procedure: Procedure,
  clothing: NonNullable<Procedure['heat']>,
  { climate: air = heat.climate, work = heat.work.usual, minutesSoFar }: WhatIfQuestion,
): WhatIfAnswer {
  const input = {
    ...{ airSpeedMs: heat.airSpeedMs, ...air, ...heat.person },
    metabolicRateWm2: heat.work.ratesWm2[work],
    clothingInsulationClo: clothing.clothingInsulationClo,
    permeabilityIndex: clothing.permeabilityIndex,
    posture: 'standing',
    durationMin: heat.horizonMinutes,
    ...(clothing.adjustment !== undefined && { ensemble: clothing.adjustment }),
  };
  const read = readLimitsInput(input, adjustmentSets[heat.screening]);
  if (!read.ok) return refused(read.refusal.code, `${read.refusal.message}.`);
  const limits = limitsOf(read.value, furtherLimits(state, procedure, minutesSoFar));
  return limits.ok
    ? { ok: true, limits: printableLimits(limits.value, read.value) }
    : refused(limits.refusal.code, `${limits.refusal.message}.`);
}

function furtherLimits({ rules }: UnitState, { limit }: Procedure, minutesSoFar = 0): LimitCandidate[] {
  const { minutesInPpe, entries, source } = rules.perDay;
  const left = { minutesInPpe: Math.max(0, minutesInPpe - minutesSoFar), entries };
  return [unitRuleLimit(limit.minutes, limit.reason, limit.source), ...dayLimits(left, source)];
}
