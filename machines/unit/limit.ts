import type { Procedure } from '../procedure/procedure.ts';
import type { FactData } from '../wire/fact.ts';
import { wornInDay, type WorkerContext } from '../worker/worker-machine.ts';
import type { UnitRules } from './state.ts';

type LimitData = Omit<FactData<'limit-set'>, 'worker' | 'entry'>;

/**
 * The governing limit is the smallest that applies, with its reason and source: here the unit's own rule for the ensemble and
 * what is left of the worker's minutes for the day. Call-out time = limit − expected doffing − wait for a lane − margin, and
 * never before the clock starts.
 *
 * @param donnedAt when the clock starts, milliseconds
 * @param waitMinutes forecast wait for lane and observer
 */
export function governingLimit(
  rules: UnitRules,
  procedure: Procedure,
  context: WorkerContext,
  donnedAt: number,
  waitMinutes: number,
): LimitData {
  const left = Math.max(0, rules.perDay.minutesInPpe - wornInDay(context, donnedAt).minutes);
  const candidates = [
    { minutes: procedure.limit.minutes, reason: procedure.limit.reason, source: procedure.limit.source },
    {
      minutes: left,
      reason: `${Math.floor(left)} min are left of today's ${rules.perDay.minutesInPpe} min in PPE`,
      source: rules.perDay.source,
    },
  ];
  const governing = candidates.reduce((least, one) => (one.minutes < least.minutes ? one : least));
  const doffingMinutes = procedure.expected.doffingMinutes;
  const { marginMinutes, warnBeforeMinutes } = rules.callOut;
  const limitAt = donnedAt + minutesMs(governing.minutes);
  const callOutAt = Math.max(donnedAt, limitAt - minutesMs(doffingMinutes + waitMinutes + marginMinutes));
  const warnAt = Math.max(donnedAt, callOutAt - minutesMs(warnBeforeMinutes));
  return { ...governing, limitAt, callOutAt, warnAt, doffingMinutes, waitMinutes, marginMinutes };
}

/** Settings may say 7.5 or 0.3333 minutes; a time in a fact is a whole number of milliseconds. */
export const minutesMs = (minutes: number): number => Math.round(minutes * 60_000);
