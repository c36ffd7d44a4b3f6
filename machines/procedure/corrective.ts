import { z } from 'zod';

/**
 * What to do when a step went wrong, as steps of its own: read out, done and confirmed one at a time. A step of a procedure may
 * have its own list for a kind of deviation; the unit has one for each kind; where neither says anything, one sentence has to do.
 */
export const deviationKinds = ['missed', 'out-of-order', 'too-short', 'touched', 'torn', 'wrong-person'] as const;
export type DeviationKind = (typeof deviationKinds)[number];

const words = z.string().trim().min(1).max(600);
export const correctiveStepsMost = 20;

export const correctiveStep = z.strictObject({
  /** The words the observer reads out. */
  words,
  /** Seconds this must take at least, drying included; enforced like the contact time of a step. */
  contactSeconds: z.int().min(1).max(3600).optional(),
});
const correctiveSteps = z.array(correctiveStep).min(1).max(correctiveStepsMost);
export const correctiveByKind = z.partialRecord(z.enum(deviationKinds), correctiveSteps);

/** unit.yaml, `deviations`: the unit's own lists, for every step that has none for that kind. */
export const unitDeviations = z.strictObject({ caution: words, source: words, steps: correctiveByKind });

export type CorrectiveStep = z.infer<typeof correctiveStep>;
export type CorrectiveByKind = z.infer<typeof correctiveByKind>;

/**
 * The steps to walk through for a deviation; undefined where nobody has written any. What the step itself says comes before the
 * unit's general list: it knows what the hands hold at that moment.
 */
export function correctiveFor(
  step: { corrective?: CorrectiveByKind | undefined; whenWrong?: string | undefined },
  kind: DeviationKind,
  unit: CorrectiveByKind | undefined,
): CorrectiveStep[] | undefined {
  const own = step.corrective?.[kind];
  if (own) return own;
  const general = unit?.[kind];
  return general && [...(step.whenWrong ? [{ words: step.whenWrong }] : []), ...general];
}
