import { stepById } from '../../machines/procedure/order.ts';
import type { Phase, Procedure, Step } from '../../machines/procedure/procedure.ts';
import type { EntryId, StepId } from '../../machines/wire/ids.ts';
import type { Entry } from '../../machines/worker/worker-machine.ts';

/**
 * After an interruption the memory of the last step is the least to be trusted. The plain rule: what was verified before this page
 * began to guide this worker (it was opened anew, or another observer has taken over) is looked at again, from one step before the
 * last one on, and only then the reading goes on.
 */
const lookedAtAgain = 2;

/** @param before steps that were done when this page began to guide; @param answered those of them that were asked about since */
export function doubtedStep(
  procedure: Procedure,
  entry: Entry,
  phase: Phase,
  before: readonly StepId[],
  answered: readonly StepId[],
): Step | undefined {
  if (entry.outstanding[phase].length === 0) return undefined;
  return before
    .filter((id) => entry.done.includes(id) && !entry.overridden.includes(id))
    .flatMap((id) => stepById(procedure, id) ?? [])
    .filter((step) => step.phase === phase)
    .slice(-lookedAtAgain)
    .find((step) => !answered.includes(step.id));
}

const nothing: readonly StepId[] = [];

/** Remembers, for one page, what was done when it began to guide the worker it guides now, without a break since. */
export class Stretch {
  private begun: { entry: EntryId; before: readonly StepId[] } | undefined;

  /** @param entry of the worker being guided at this moment; nobody being guided ends the stretch */
  before(entry: Entry | undefined): readonly StepId[] {
    if (!entry) this.begun = undefined;
    else if (this.begun?.entry !== entry.id) this.begun = { entry: entry.id, before: [...entry.done] };
    return this.begun?.before ?? nothing;
  }
}
