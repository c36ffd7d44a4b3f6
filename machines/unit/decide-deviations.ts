import { correctiveFor } from '../procedure/corrective.ts';
import { nextCorrective, type Deviation, type Entry } from '../worker/worker-machine.ts';
import type { DeviationId } from '../wire/ids.ts';
import { accept, draft, elsewhere, guiding, refuse, withEntry, type Decider, type Decision } from './decision.ts';
import { unknownStep } from './decide-steps.ts';
import { phaseOf, procedureOf } from './questions.ts';
import { deviationIdOf } from './report-ids.ts';

/** Reports about what went wrong at a step: noted, walked through one corrective step at a time, put right. */

export const noteDeviation: Decider<'note-deviation'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) =>
    guiding(one, one.report.data.worker, () => {
      const { worker: id, step: stepId, deviationKind, actor, note } = one.report.data;
      const procedure = procedureOf(one.state, entry);
      const step = procedure.steps.find((one) => one.id === stepId);
      if (!step) return unknownStep(one, procedure.title, stepId);
      if (!phaseOf(worker.machine)) return elsewhere(worker, 'at any step');
      const corrective = correctiveFor(step, deviationKind, one.state.rules.deviations?.steps);
      return accept(
        draft(one, 'deviation-noted', {
          worker: id,
          entry: entry.id,
          deviation: deviationIdOf(one.report.id),
          step: stepId,
          deviationKind,
          actor,
          critical: step.critical,
          doNow: step.whenWrong ?? corrective?.[0]?.words ?? defaultCorrection,
          ...(corrective && { corrective }),
          ...(note && { note }),
        }),
      );
    }),
  );

// Common practice, no source: stop, clean the gloves, look, and only then go on.
const defaultCorrection =
  'Stop. Hands away from the face. Disinfect the gloves. Look for tears and soil. Then do the step again.';

/** One corrective step, in its turn; contact time is held to like that of a step. */
export const verifyCorrective: Decider<'verify-corrective'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) =>
    guiding(one, one.report.data.worker, () =>
      withDeviation(entry, one.report.data.deviation, (deviation) => {
        const { worker: id, index, tookSeconds } = one.report.data;
        if (!phaseOf(worker.machine)) return elsewhere(worker, 'at any step');
        const refused = whyNotNext(deviation, index, tookSeconds ?? 0);
        if (refused) return refused;
        const about = { worker: id, entry: entry.id, deviation: deviation.id, index };
        return accept(
          draft(one, 'corrective-step-done', { ...about, ...(tookSeconds !== undefined && { tookSeconds }) }),
        );
      }),
    ),
  );

function whyNotNext(deviation: Deviation, index: number, tookSeconds: number): Decision | undefined {
  const steps = deviation.corrective ?? [];
  const step = steps[index];
  if (!step)
    return refuse(
      'deviation/no-such-step',
      `This deviation has ${steps.length} corrective steps. Reload the page to get them.`,
    );
  const next = nextCorrective(deviation);
  if (next === undefined || index < next)
    return refuse('step/done-already', 'This corrective step is done already. The next one is on the screen.');
  if (index > next) return refuse('step/out-of-order', `"${steps[next]?.words ?? ''}" comes first.`);
  if (step.contactSeconds !== undefined && tookSeconds < step.contactSeconds)
    return refuse(
      'step/contact-time-short',
      `${step.contactSeconds} s are needed, ${Math.floor(tookSeconds)} s were given. Keep going until the time is served, then confirm it.`,
    );
  return undefined;
}

export const correctDeviation: Decider<'correct-deviation'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) =>
    guiding(one, one.report.data.worker, () =>
      withDeviation(entry, one.report.data.deviation, (deviation) => {
        if (!phaseOf(worker.machine)) return elsewhere(worker, 'at any step');
        const next = nextCorrective(deviation);
        // In an emergency nothing holds the worker up: what was left out is in the record all the same.
        if (next !== undefined && !entry.emergency)
          return refuse(
            'deviation/steps-open',
            `Corrective steps are open. "${deviation.corrective?.[next]?.words ?? ''}" comes next.`,
          );
        const { worker: id } = one.report.data;
        return accept(draft(one, 'deviation-corrected', { worker: id, entry: entry.id, deviation: deviation.id }));
      }),
    ),
  );

function withDeviation(entry: Entry, id: DeviationId, then: (deviation: Deviation) => Decision): Decision {
  const deviation = entry.deviations.find((one) => one.id === id);
  return deviation
    ? then(deviation)
    : refuse('deviation/unknown', 'This deviation is not open. It may have been put right already.');
}
