import { stepsBefore } from '../procedure/order.ts';
import type { Step } from '../procedure/procedure.ts';
import type { DraftFact } from '../wire/fact.ts';
import type { PersonId, StepId } from '../wire/ids.ts';
import type { Entry } from '../worker/worker-machine.ts';
import {
  accept,
  draft,
  elsewhere,
  guiding,
  refuse,
  withEntry,
  type Case,
  type Decider,
  type Decision,
} from './decision.ts';
import { turnoverMs } from './decide-lanes.ts';
import { governingLimit, noAdvice } from './limit.ts';
import { isAt, phaseOf, procedureOf } from './questions.ts';
import type { UnitWorker } from './state.ts';

/** Reports about steps: verified, overridden; and the inspection that starts the clock. What goes wrong is in decide-deviations. */

export const verifyStep: Decider<'verify-step'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) =>
    guiding(one, one.report.data.worker, () =>
      withOpenStep(one, worker, entry, one.report.data.step, (step) => {
        const { worker: id, tookSeconds } = one.report.data;
        if (
          isAt(worker.machine, 'doffing', 'corrective') ||
          (isAt(worker.machine, 'pre-check') && entry.deviations.length > 0)
        )
          return refuse(
            'step/correct-first',
            'A deviation is open. Put it right, or note what was done about it, before the next step.',
          );
        if (step.hygiene && (tookSeconds ?? 0) < step.hygiene.contactSeconds)
          return refuse(
            'step/contact-time-short',
            `${step.hygiene.agent}: ${step.hygiene.contactSeconds} s are needed, ${Math.floor(tookSeconds ?? 0)} s were given. Keep going, or note the deviation "too short".`,
          );
        const data = { worker: id, entry: entry.id, step: step.id, ...(tookSeconds !== undefined && { tookSeconds }) };
        return accept(draft(one, 'step-verified', data), ...afterLastStep(one, worker, entry, step.id));
      }),
    ),
  );

/** The safety officer lets a step count as done, with a reason: the only way past a step that cannot be verified. */
export const overrideStep: Decider<'override-step'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) => {
    const { worker: id, step: stepId, reason } = one.report.data;
    if (isAt(worker.machine, 'pre-check'))
      return refuse(
        'worker/elsewhere',
        'No donning step is ever overridden: without it nobody goes in. Cancel the entry instead.',
      );
    if (isAt(worker.machine, 'doffing', 'corrective'))
      return refuse('step/correct-first', 'A deviation is open. The observer puts it right first.');
    return withOpenStep(one, worker, entry, stepId, (step) =>
      accept(
        draft(one, 'step-overridden', { worker: id, entry: entry.id, step: step.id, reason }),
        ...afterLastStep(one, worker, entry, step.id),
      ),
    );
  });

/** The last doffing step stops the clock and frees the lane for its turnover. */
function afterLastStep(one: Case, worker: UnitWorker, entry: Entry, step: StepId): DraftFact[] {
  const last =
    isAt(worker.machine, 'doffing') && entry.outstanding.doffing.length === 1 && entry.outstanding.doffing[0] === step;
  if (!last || !entry.lane) return [];
  const id = (one.report.data as { worker: PersonId }).worker;
  return [
    draft(one, 'lane-left', {
      lane: entry.lane,
      worker: id,
      entry: entry.id,
      turnoverUntil: one.at + turnoverMs(one.state, entry.lane),
    }),
  ];
}

/** A step of this entry's procedure, in the phase the worker is in, not done yet, with everything before it done. */
function withOpenStep(
  one: Case,
  worker: UnitWorker,
  entry: Entry,
  id: StepId,
  then: (step: Step) => Decision,
): Decision {
  const procedure = procedureOf(one.state, entry);
  const step = procedure.steps.find((one) => one.id === id);
  if (!step) return unknownStep(one, procedure.title, id);
  const phase = phaseOf(worker.machine);
  if (phase !== step.phase) return elsewhere(worker, `at the ${step.phase} steps`);
  if (!entry.outstanding[phase].includes(id))
    return refuse('step/done-already', `Step "${id}" is done already. The next one is on the screen.`);
  const before = stepsBefore(procedure, step, entry.outstanding[phase]);
  if (before[0])
    return refuse(
      'step/out-of-order',
      `"${before[0].words}" comes first. If it was really done out of order, note that deviation.`,
    );
  return then(step);
}

export function unknownStep(one: Case, title: string, id: StepId): Decision {
  const elsewhere = Object.values(one.state.procedures).find((other) => other.steps.some((step) => step.id === id));
  return elsewhere
    ? refuse('step/other-procedure', `Step "${id}" belongs to "${elsewhere.title}"; this entry follows "${title}".`)
    : refuse(
        'step/unknown',
        `No step is called "${id}" in "${title}". Reload the page to get the steps of this entry.`,
      );
}

/** The final inspection starts the clock, and with it the limit that governs this entry. */
export const passInspection: Decider<'pass-inspection'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) =>
    guiding(one, one.report.data.worker, () => {
      const id = one.report.data.worker;
      if (!isAt(worker.machine, 'pre-check', 'inspection')) return elsewhere(worker, 'at the final inspection');
      const about = { worker: id, entry: entry.id };
      const limit = governingLimit(one.state.rules, procedureOf(one.state, entry), worker, one.at, noAdvice);
      return accept(draft(one, 'inspection-passed', about), draft(one, 'limit-set', { ...about, ...limit }));
    }),
  );

export const failInspection: Decider<'fail-inspection'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) =>
    guiding(one, one.report.data.worker, () => {
      const { worker: id, steps, note } = one.report.data;
      if (!isAt(worker.machine, 'pre-check', 'inspection')) return elsewhere(worker, 'at the final inspection');
      const procedure = procedureOf(one.state, entry);
      const stray = steps.find(
        (step) => !procedure.steps.some((known) => known.id === step && known.phase === 'donning'),
      );
      if (stray && procedure.steps.some((known) => known.id === stray))
        return refuse(
          'step/unknown',
          `"${stray}" is no donning step. The inspection sends back to donning steps only.`,
        );
      if (stray) return unknownStep(one, procedure.title, stray);
      const again = [...new Set(steps)];
      return accept(
        draft(one, 'inspection-failed', { worker: id, entry: entry.id, steps: again, ...(note && { note }) }),
      );
    }),
  );
