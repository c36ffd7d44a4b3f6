import { openSteps, stepById, stepsBefore, stepsOf } from '../../machines/procedure/order.ts';
import type { Phase, Procedure, Step } from '../../machines/procedure/procedure.ts';
import type { StepId } from '../../machines/wire/ids.ts';
import type { Report } from '../../machines/wire/report.ts';
import type { CorrectiveStep } from '../../machines/procedure/corrective.ts';
import { nextCorrective, type Deviation, type Entry } from '../../machines/worker/worker-machine.ts';

/** One step to read out, and how far along the phase it is. */
export interface StepView {
  phase: Phase;
  step: Step;
  /** This step is number `number` of `total`, counted by what is done, whatever the order. */
  number: number;
  total: number;
  /** Other steps that the partial order allows now. */
  others: Step[];
  watchFor: WatchFor;
  /** Given when the reading was interrupted: the step to say was the last. */
  resumeAfter?: Step;
  /** An answer about the step before is still on its way. */
  unsent: boolean;
}

/** @param chosen the open step the observer picked; without one, or when it is no longer open, the first is offered */
export function stepView(
  procedure: Procedure,
  entry: Entry,
  phase: Phase,
  chosen: StepId | undefined,
): Omit<StepView, 'resumeAfter' | 'unsent'> | undefined {
  const open = openSteps(procedure, phase, entry.outstanding[phase]);
  const step = open.find((one) => one.id === chosen) ?? open[0];
  if (!step) return undefined;
  const total = stepsOf(procedure, phase).length;
  return {
    phase,
    step,
    number: total - entry.outstanding[phase].length + 1,
    total,
    others: open.filter((one) => one !== step),
    watchFor: watchFor(step),
  };
}

/** What the observer's eyes are for in this step. */
export interface WatchFor {
  /** Nothing else may be touched. */
  touches: string[];
  goesTo?: string;
  by: Step['by'];
  calledBy: Step['verifiedBy'];
  critical: boolean;
}

export function watchFor(step: Step): WatchFor {
  return {
    touches: touchedIn(step).map(itemWords),
    ...(step.goesTo && { goesTo: step.goesTo }),
    by: step.by,
    calledBy: step.verifiedBy,
    critical: step.critical,
  };
}

/** Hands that touch themselves, or what they are just disinfecting, are nothing to watch for. */
const touchedIn = (step: Step): string[] =>
  step.touches.filter((item) => item !== 'hands' && !step.hygiene?.covers.includes(item));

/** `outer-gloves` as it is said: the full name of an item, with model and size, is too long to hear between two steps. */
export const itemWords = (id: string): string => id.replaceAll('-', ' ');

export const interruptedAfterMs = 120_000;

/**
 * The step to name as the last one when the reading was interrupted: the page was opened anew, another observer took over, the
 * tablet was silent in between, or nothing was verified for two minutes. Nothing to say before the first step of a phase.
 */
export function resumeAfter(
  procedure: Procedure,
  entry: Entry,
  phase: Phase,
  when: { lastAt: number; takenAt: number; openedAt: number; now: number },
): Step | undefined {
  const last = entry.done.map((id) => stepById(procedure, id)).findLast((step) => step?.phase === phase);
  const anew = Math.max(when.openedAt, when.takenAt) >= when.lastAt;
  return anew || when.now - when.lastAt > interruptedAfterMs ? last : undefined;
}

export type StepStage = 'done' | 'now' | 'open' | 'later';
export interface StepRow {
  step: Step;
  stage: StepStage;
  /** What must come first. */
  waitsFor: Step[];
  unsent: boolean;
}

/** Every step of the phase, in the order of the file, for looking back and for choosing another open one. */
export function stepRows(
  procedure: Procedure,
  entry: Entry,
  phase: Phase,
  now: StepId | undefined,
  unsent: readonly Report[],
): StepRow[] {
  const outstanding = entry.outstanding[phase];
  const open = openSteps(procedure, phase, outstanding);
  return stepsOf(procedure, phase).map((step) => ({
    step,
    stage: !outstanding.includes(step.id) ? 'done' : step.id === now ? 'now' : open.includes(step) ? 'open' : 'later',
    waitsFor: stepsBefore(procedure, step, outstanding),
    unsent: unsent.some((report) => 'step' in report.data && report.data.step === step.id),
  }));
}

/** One sentence; or the corrective step whose turn it is; or all of them are done, and somebody says that it is right again. */
export type CorrectiveNow =
  { is: 'sentence' } | { is: 'step'; step: CorrectiveStep; index: number; total: number } | { is: 'walked' };

export function correctiveNow(deviation: Deviation): CorrectiveNow {
  const steps = deviation.corrective ?? [];
  const index = nextCorrective(deviation);
  const step = index === undefined ? undefined : steps[index];
  if (index !== undefined && step) return { is: 'step', step, index, total: steps.length };
  return { is: steps.length > 0 ? 'walked' : 'sentence' };
}

/** What went wrong, what to do now, and where it will go on. */
export interface CorrectiveView {
  deviation: Deviation;
  now: CorrectiveNow;
  step: Step | undefined;
  /** Deviations that are open beside this one. */
  more: number;
  unsent: boolean;
}

export function correctiveView(
  procedure: Procedure,
  entry: Entry,
  unsent: readonly Report[],
): CorrectiveView | undefined {
  const deviation = entry.deviations[0];
  if (!deviation) return undefined;
  return {
    deviation,
    now: correctiveNow(deviation),
    step: stepById(procedure, deviation.step),
    more: entry.deviations.length - 1,
    unsent: unsent.some((report) => report.kind === 'note-deviation'),
  };
}
