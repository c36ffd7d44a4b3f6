import { z } from 'zod';

/**
 * What the contamination proof has to be told and cannot guess. All of it is optional: without it a procedure can still be
 * followed, but not proved, and the proof says what is missing. docs/procedures.md explains every field for the person who writes it.
 */
export const itemName = z.string().regex(/^[a-z][a-z0-9-]{0,39}$/, 'item: lower-case letters, digits and dashes');
const agentName = z.string().trim().min(1).max(80);
const placeName = z.string().trim().min(1).max(80);

export const assumptionNames = [
  'barriers-hold',
  'kit-starts-clean',
  'lane-starts-clean',
  'steps-done-as-read',
  'rear-straps-clean',
  'covered-parts-clean',
  'glove-peel-clean',
  'disinfected-gloves-near-face',
] as const;
export type AssumptionName = (typeof assumptionNames)[number];

/** What is not named here is not assumed. */
export const assumptions = z.strictObject({
  'barriers-hold': z.boolean().optional(),
  'kit-starts-clean': z.boolean().optional(),
  'lane-starts-clean': z.boolean().optional(),
  'steps-done-as-read': z.boolean().optional(),
  'rear-straps-clean': z.boolean().optional(),
  'covered-parts-clean': z.boolean().optional(),
  'glove-peel-clean': z.boolean().optional(),
  'disinfected-gloves-near-face': z.boolean().optional(),
} satisfies Record<AssumptionName, z.ZodOptional<z.ZodBoolean>>);

/** A place on a piece that counts as clean after the stay in the room, as long as the named assumption holds. */
const part = z.strictObject({ id: itemName, cleanIf: z.enum(['rear-straps-clean', 'covered-parts-clean']) });

/** How a piece lies among the others. */
export const layer = z.strictObject({
  item: itemName,
  wornOn: z.enum(['hands', 'arms', 'head', 'body', 'feet']),
  /** What lies wholly under it and is kept clean by it: body surfaces, or pieces. */
  covers: z.array(itemName).max(20).optional(),
  /** Pieces it overlaps: they go on before it and come off after it. */
  over: z.array(itemName).max(20).optional(),
  /** An inner layer that is relied on as clean until it is itself the outermost one. */
  keepClean: z.boolean().optional(),
  /** Once it lies open in doffing it is looked at before anything else comes off. */
  lookFirst: z.boolean().optional(),
  /** It counts as worn rightly only once a step has sealed, closed, tied or tested it (secures). */
  secured: z.boolean().optional(),
  /** It can come off only once a step has opened it (opens). */
  opened: z.boolean().optional(),
  /** Pieces that may come off only after it, for a reason that is not contamination. */
  offBefore: z.array(itemName).max(20).optional(),
  parts: z.array(part).max(10).optional(),
});
export type Layer = z.infer<typeof layer>;

export const comingOff = ['inside-out', 'lifted', 'pulled'] as const;
export type ComingOff = (typeof comingOff)[number];

export const stepProofFields = {
  /** Where on a piece the hands touch it: names of its parts, `outside` or `inside`. Left out: its outside. */
  touchesAt: z.record(itemName, z.array(itemName).min(1).max(10)).optional(),
  /** What the hands come so close to that contaminated ones would count as touching it. */
  near: z.array(itemName).max(20).optional(),
  /** Surfaces that come together in this step otherwise than by hand. */
  meets: z
    .array(z.tuple([itemName, itemName]))
    .max(20)
    .optional(),
  sitsOn: itemName.optional(),
  /** How what is taken off leaves the body. Left out: pulled, so that its outside brushes what it lay over. */
  comesOff: z.enum(comingOff).optional(),
  /** Pieces that are sealed, closed, tied or tested here; opened here. */
  secures: z.array(itemName).max(20).optional(),
  opens: z.array(itemName).max(20).optional(),
  /** Pieces that are rolled inside out here and stay on the worker for now. */
  turns: z.array(itemName).max(20).optional(),
  /** Pieces that are looked at, or `everything` worn, or the `body`. */
  looksAt: z.array(itemName).max(40).optional(),
  /** Who is at their place and attending from this step on. */
  engages: z.array(z.enum(['observer', 'assistant'])).optional(),
  /** The worker steps into the lane; out of it to the clean side. */
  entersLane: z.boolean().optional(),
  leaves: z.boolean().optional(),
};

/** What an agent is good for. `skin-before-gloves`: it leaves bare hands dry and ready for the next pair. */
export const agentUses = ['skin', 'skin-before-gloves', 'gloves', 'surfaces'] as const;
export type AgentUse = (typeof agentUses)[number];

export const procedureProofFields = {
  agents: z
    .array(
      z.strictObject({
        name: agentName,
        /** The least contact time, drying included, below which it clears nothing. */
        contactSeconds: z.int().min(1).max(3600),
        suits: z.array(z.enum(agentUses)).min(1),
        source: z.string().trim().min(1).max(300),
      }),
    )
    .max(40)
    .optional(),
  places: z
    .array(z.strictObject({ name: placeName, takesContaminated: z.boolean() }))
    .max(40)
    .optional(),
  assumptions: assumptions.optional(),
};
