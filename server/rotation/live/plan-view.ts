import type { Rotation } from '../../../machines/unit/rotation.ts';
import { closedFormBound } from '../proof/closed-form.ts';
import { slottedOf } from '../proof/slotted.ts';
import type { RotationResult } from '../plan-rotation.ts';
import { shortageText } from '../shortage-text.ts';
import { firstCoverOf, withoutFirst } from './first-cover.ts';
import { rotationOf, slotMinutes } from './instance-of.ts';
import type { KeptPlan } from './rotation-service.ts';

/** A planning as it is told: the unit's own ids and times. */
export function planView(plan: KeptPlan, now: number) {
  const { id, ask, status, askedAt, endedAt, notKept } = plan;
  return {
    ...{ id, status, askedAt, slotMinutes, seconds: ask.seconds, ask, notKept },
    // Once it is over: without the time the thread took to start.
    secondsSoFar: Number(
      (plan.result && endedAt !== undefined ? plan.result.seconds : ((endedAt ?? now) - askedAt) / 1000).toFixed(1),
    ),
    whatIf: isWhatIf(plan),
    ...(status === 'failed' && failed),
    ...foundIn(plan),
  };
}

const failed = {
  code: 'rotation/planner-failed',
  sentence: 'The plan could not be made; the server has noted why. Plan again.',
};

/** What would be in another unit than this one is: not for adopting. */
const isWhatIf = ({ ask: { whatIf = {} } }: KeptPlan): boolean => Object.values(whatIf).some((value) => value > 0);

function foundIn(plan: KeptPlan) {
  const { result, around, problem, state, ask } = plan;
  const best = problem.keep.length > 0 ? around && ofAround(plan) : result;
  if (!best) return {};
  const { uncoveredMinutes, ...quality } = withoutFirst(best, problem.instance);
  const rotation: Rotation = { ...rotationOf(state, problem, best, ask.locked), quality };
  const { fromMinute } = firstCoverOf(problem.instance);
  return {
    ...{ rotation, ...quality, uncoveredMinutes },
    ...(fromMinute !== undefined && { coveredFrom: problem.frame.startAt + fromMinute * 60_000 }),
    ...(result && { boundSource: result.boundSource }),
    // A proof about a unit with nobody inside is only that donning takes its time.
    ...(result?.status === 'infeasible' && fromMinute === undefined && shortageOf(result, problem.frame.startAt)),
  };
}

/** A screen makes its own sentences of the reasons; the text is for whoever has no screen. */
function shortageOf({ shortOf }: RotationResult, startAt: number) {
  const infeasible = true as const;
  if (!shortOf) return { infeasible };
  const { reasons, ...short } = shortOf;
  return { infeasible, shortOf: { ...short, reason: shortageText(reasons), startAt, reasons } };
}

/** A bound of the free problem is one of the problem with locked trips too. */
function ofAround({ result, around, problem: { instance } }: KeptPlan) {
  const { plan, cost } = around!;
  const proven = result?.lowerBound ?? Math.max(0, closedFormBound(slottedOf(instance)));
  const lowerBound = Math.min(proven, cost.objective);
  return {
    ...{ ...plan, objective: cost.objective, lowerBound },
    gapPct: cost.objective === 0 ? 0 : (100 * (cost.objective - lowerBound)) / cost.objective,
    uncoveredMinutes: cost.uncoveredSlots * instance.slotMinutes,
  };
}
