import type { Procedure } from '../procedure/procedure.ts';
import type { FactData, LimitKind } from '../wire/fact.ts';
import { wornInDay, type Limit } from '../worker/worker-machine.ts';
import type { UnitRules, UnitWorker } from './state.ts';

type LimitData = Omit<FactData<'limit-set'>, 'worker' | 'entry'>;

/** One limit that applies: minutes in PPE, from the start of the clock. */
export interface LimitCandidate {
  kind: LimitKind;
  minutes: number;
  reason: string;
  source: string;
  caution?: string | undefined;
  indicative?: true | undefined;
}

/** What the server's calculations add to what the log alone says. */
export interface LimitAdvice {
  candidates: readonly LimitCandidate[];
  /** Forecast wait for a lane and an observer, whole minutes. */
  waitMinutes: number;
}

export const noAdvice: LimitAdvice = { candidates: [], waitMinutes: 0 };

/**
 * The governing limit is the smallest that applies, with its reason and source: the unit's own rule for the ensemble (a share
 * of it after a hard entry), what is left of the worker's minutes for the day, a check that found too much, and what heat and
 * other calculations advise. Call-out time = limit − expected doffing − wait for lane and observer − margin, and never before
 * the clock starts.
 *
 * @param donnedAt when the clock starts or started, milliseconds
 */
export function governingLimit(
  rules: UnitRules,
  procedure: Procedure,
  worker: UnitWorker,
  donnedAt: number,
  { candidates, waitMinutes }: LimitAdvice,
): LimitData {
  const own = ownCandidates(rules, procedure, worker, donnedAt);
  const governing = [...own, ...candidates].reduce((least, one) => (one.minutes < least.minutes ? one : least));
  const { kind, minutes, reason, source, caution, indicative } = governing;
  const doffingMinutes = worker.machine.context.entry?.ownDoffingMinutes ?? procedure.expected.doffingMinutes;
  const { marginMinutes, warnBeforeMinutes } = rules.callOut;
  const limitAt = donnedAt + minutesMs(minutes);
  const latest = limitAt - minutesMs(doffingMinutes + waitMinutes + marginMinutes);
  const wanted = Math.min(latest, worker.callOutPlan?.callOutAt ?? latest);
  const { callOutAt, warnAt } = callOutTimes(wanted, warnBeforeMinutes, donnedAt);
  return {
    ...{ minutes, reason, source, limitAt, callOutAt, warnAt, doffingMinutes, waitMinutes, marginMinutes },
    ...{ limitKind: kind, ...(caution && { caution }), ...(indicative && { indicative }) },
  };
}

/** Neither the call-out nor the warning before it is ever before the clock starts. */
function callOutTimes(wanted: number, warnBeforeMinutes: number, donnedAt: number) {
  const callOutAt = Math.max(donnedAt, wanted);
  return { callOutAt, warnAt: Math.max(donnedAt, callOutAt - minutesMs(warnBeforeMinutes)) };
}

/** The same limit with its call-out moved. */
export const withCallOut = (limit: Limit, callOutAt: number, warnBeforeMinutes: number, donnedAt: number): Limit => ({
  ...limit,
  ...callOutTimes(callOutAt, warnBeforeMinutes, donnedAt),
});

function ownCandidates(
  rules: UnitRules,
  procedure: Procedure,
  worker: UnitWorker,
  donnedAt: number,
): [LimitCandidate, ...LimitCandidate[]] {
  const left = Math.max(0, rules.perDay.minutesInPpe - wornInDay(worker.machine.context, donnedAt).minutes);
  const { minutes, reason, source } = procedure.limit;
  return [
    { kind: 'rule', minutes, reason, source },
    {
      kind: 'minutes-of-the-day',
      minutes: left,
      reason: `${Math.floor(left)} min are left of today's ${rules.perDay.minutesInPpe} min in PPE`,
      source: rules.perDay.source,
    },
    ...afterEarlierEntry(worker, minutes),
    ...afterCheck(rules, worker, donnedAt),
  ];
}

function afterEarlierEntry({ after }: UnitWorker, ruleMinutes: number): LimitCandidate[] {
  if (!after || after.nextShare >= 1) return [];
  const minutes = Math.floor(ruleMinutes * after.nextShare);
  return [{ kind: 'earlier-entries', minutes, reason: after.because, source: after.source }];
}

/** Somebody who was found over a bound is at their limit from that moment. */
function afterCheck(rules: UnitRules, { overSince }: UnitWorker, donnedAt: number): LimitCandidate[] {
  if (overSince === undefined || !rules.heat) return [];
  const minutes = Math.max(0, (overSince - donnedAt) / 60_000);
  const reason = 'the check inside found more than the unit allows';
  return [{ kind: 'check', minutes, reason, source: rules.heat.check.source }];
}

/** Differences below this are noise to whoever reads the board; the fact would say the same again. */
const noticedMs = 60_000;

/** Whether a limit says something else than the one in force. The wait in it is a forecast, and moves by more before it counts. */
export function isAnotherLimit(now: Limit | undefined, next: LimitData): boolean {
  if (!now) return true;
  const moved = (one: number, other: number, by: number) => Math.abs(one - other) >= by;
  return (
    now.reason !== next.reason ||
    moved(now.limitAt, next.limitAt, noticedMs) ||
    moved(now.callOutAt, next.callOutAt, 2 * noticedMs)
  );
}

/** Settings may say 7.5 or 0.3333 minutes; a time in a fact is a whole number of milliseconds. */
export const minutesMs = (minutes: number): number => Math.round(minutes * 60_000);
