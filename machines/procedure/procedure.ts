import { z } from 'zod';
import { ensembleHeat } from '../unit/heat-settings.ts';
import { pointId, procedureId, stepId } from '../wire/ids.ts';
import { correctiveByKind } from './corrective.ts';
import { itemName, layer, procedureProofFields, stepProofFields } from './proof-fields.ts';

/**
 * A procedure is data: the ensemble, what must be ready, and the steps of donning, of leaving the room and of doffing,
 * with the order they must keep. `after` is a partial order, not a list: any order that respects it is allowed.
 * Sources sit beside the values they justify, because a unit will ask "who says so?" of every one of them.
 */
export const phases = ['donning', 'exit', 'doffing'] as const;
export type Phase = (typeof phases)[number];

const words = z.string().trim().min(1).max(600);
const source = z.string().trim().min(1).max(300);

export const readinessPoint = z.strictObject({ id: pointId, words });

export const hygiene = z.strictObject({
  agent: z.string().trim().min(1).max(80),
  /** Seconds the agent must stay wet and dry off, drying included. */
  contactSeconds: z.int().min(1).max(3600),
  covers: z.array(itemName).min(1),
});

export const step = z.strictObject({
  id: stepId,
  phase: z.enum(phases),
  /** The words the observer reads out. */
  words,
  by: z.enum(['worker', 'observer', 'assistant']).default('worker'),
  verifiedBy: z.enum(['observer', 'assistant']).default('observer'),
  after: z.array(stepId).default([]),
  putsOn: z.array(itemName).default([]),
  takesOff: z.array(itemName).default([]),
  touches: z.array(itemName).default([]),
  hygiene: hygiene.optional(),
  goesTo: z.string().trim().min(1).max(80).optional(),
  /** A critical step that goes wrong raises a high alert, another a medium one. */
  critical: z.boolean().default(false),
  /** What to do when it goes wrong, in words the observer can read out at once. */
  whenWrong: words.optional(),
  /** What to do when it goes wrong, by kind, step by step. A kind that is not here: `whenWrong`, then the unit's list. */
  corrective: correctiveByKind.optional(),
  uses: z.array(z.string().trim().min(1).max(80)).default([]),
  source: source.optional(),
  ...stepProofFields,
});

/**
 * How helpers get somebody out of the equipment who cannot walk through the steps: read out one at a time, beside the ordinary way
 * and never instead of it. Nothing of it is proved, and no step of the procedure counts as done by it.
 */
export const emergencyDoffing = z.strictObject({
  caution: words,
  source,
  steps: z
    .array(
      z.strictObject({
        words,
        by: z.enum(['worker', 'observer', 'assistant']),
        contactSeconds: z.int().min(1).max(3600).optional(),
      }),
    )
    .min(1)
    .max(30),
});

export const procedure = z.strictObject({
  id: procedureId,
  version: z.int().min(1),
  title: z.string().trim().min(1).max(120),
  ensemble: z.strictObject({
    name: z.string().trim().min(1).max(120),
    respirator: z.enum(['tight-fitting', 'powered-loose-fitting']),
    garment: z.enum(['gown', 'coverall']),
    items: z.array(z.strictObject({ id: itemName, name: z.string().trim().min(1).max(120) })).min(1),
    /** For the proof: how the pieces lie over each other. */
    layers: z.array(layer).max(60).optional(),
  }),
  /** The unit's own rule for the ensemble: minutes in PPE, from `donned` to the last doffing step. */
  limit: z.strictObject({ minutes: z.number().min(1).max(720), reason: words, source }),
  /** For the heat calculation; left out: heat sets no limit with this ensemble. */
  heat: ensembleHeat.optional(),
  expected: z.strictObject({
    donningMinutes: z.number().min(0).max(180),
    doffingMinutes: z.number().min(0).max(180),
    source,
  }),
  /** Powered respirators and coveralls come off with a second pair of hands: a doffing assistant. */
  doffingAssistant: z.boolean(),
  readiness: z.array(readinessPoint).min(1),
  kit: z.array(readinessPoint).min(1),
  /** What the observer confirms before the worker may step into the lane. */
  laneReadiness: z.array(readinessPoint).min(1),
  steps: z.array(step).min(2).max(400),
  emergencyDoffing: emergencyDoffing.optional(),
  cautions: z.array(words).min(1),
  ...procedureProofFields,
});

export type ReadinessPoint = z.infer<typeof readinessPoint>;
export type Step = z.infer<typeof step>;
export type EmergencyDoffing = z.infer<typeof emergencyDoffing>;
export type Procedure = z.infer<typeof procedure>;
