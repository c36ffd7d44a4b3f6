import { z } from 'zod';

/**
 * Why a rotation cannot cover everything, as figures and without words: what a planner finds, and whoever tells it makes the
 * sentence, with the times and names that its reader knows. Fields that end in `Minute` are moments, counted from the start of
 * the plan; those that end in `Minutes` are lengths of time.
 */
const moment = z.number().describe('minutes from the start of the plan');
const length = z.number().min(0).describe('minutes');
const count = z.int().min(0);
/** As the instance names it: a file's own names are wider than the ids of a unit. */
const id = z.string().min(1).max(80);

const scarceResource = z.enum(['lanes', 'observers', 'workers']);
export type ScarceResource = z.infer<typeof scarceResource>;

/** What makes a resource too small for covering everything, by counting it alone. */
const scarcityCause = z.discriminatedUnion('kind', [
  z
    .strictObject({ kind: z.literal('exits'), withinMinutes: length, people: count, heldMinutes: length })
    .describe('so many leave within any such time, and each holds a lane for so long'),
  z
    .strictObject({
      kind: z.literal('watching'),
      withinMinutes: length,
      watchingMinutes: length,
      breakMinutes: length,
      everyMinutes: length,
    })
    .describe('donnings and doffings take so much watching; every observer has a break in every such period'),
  z.strictObject({ kind: z.literal('entries'), needed: count, allowed: count }),
  z.strictObject({ kind: z.literal('time-in-equipment') }),
  z.strictObject({ kind: z.literal('time') }).describe('changing, rooms, doffing and rest take more than there is'),
]);
export type ScarcityCause = z.infer<typeof scarcityCause>;

export const shortageReason = z.discriminatedUnion('kind', [
  z
    .strictObject({
      kind: z.literal('too-few'),
      resource: scarceResource,
      has: count,
      atLeast: count.describe('so many more'),
      cause: scarcityCause.optional(),
    })
    .describe('not enough to keep every room staffed'),
  z.strictObject({ kind: z.literal('too-few-as-well'), resource: scarceResource, cause: scarcityCause }),
  z
    .strictObject({
      kind: z.literal('tightest'),
      resource: scarceResource,
      fromMinute: moment,
      toMinute: moment,
      dueOut: count.describe('so many of those inside now are due out then; 0: that is not why'),
    })
    .describe('where there is least to spare'),
  z.strictObject({ kind: z.literal('tight-mostly'), resource: scarceResource, ofMinutes: length }),
  z
    .strictObject({ kind: z.literal('instead'), resource: scarceResource, atLeast: count })
    .describe('so many more of these would be needed where the others stay as they are'),
  z.strictObject({ kind: z.literal('no-help'), resources: z.array(scarceResource).min(1) }),
  z
    .strictObject({
      kind: z.literal('together'),
      resources: z.array(scarceResource),
      atLeast: count.describe('in all'),
      most: scarceResource,
      has: count.describe('of those that are missing most'),
    })
    .describe('no single resource is enough'),
  z.strictObject({ kind: z.literal('nothing-helps'), leastToSpare: scarceResource.describe('not proven') }),
  z
    .strictObject({ kind: z.literal('not-found-out'), leastToSpare: scarceResource.describe('not proven') })
    .describe('something is proven to be short, and there was no time to find out what'),
  z.strictObject({ kind: z.literal('no-way-out'), resource: z.enum(['lanes', 'observers']) }).describe('there is none'),
  z
    .strictObject({
      kind: z.literal('late-exits'),
      resource: z.enum(['lanes', 'observers']),
      has: count,
      heldMinutes: length.describe('each exit holds one for so long'),
      people: count.describe('so many of those inside now, the last of them too late'),
      fromMinute: moment.optional().describe('the first exit; absent where only the end matters'),
      byMinute: moment,
      reliefMinute: moment.optional().describe('nobody can relieve them earlier'),
      overrunIncluded: z.boolean(),
    })
    .describe('those inside now cannot all be out in time'),
  z
    .strictObject({
      kind: z.literal('room-empty'),
      room: id,
      staffInside: count,
      there: count,
      atMinute: moment,
      newcomersMinute: moment.describe('whoever starts donning now covers from then on at the earliest'),
    })
    .describe('until the first newcomers cover, only those inside do'),
  z
    .strictObject({
      kind: z.literal('duties-apart'),
      endMinute: moment.describe('of the duty before'),
      startMinute: moment.describe('of the duty after'),
      overlapMinutes: z.number().describe('negative: so long between them'),
      neededMinutes: length,
      fromMinute: moment.describe('from here on so few can be covering'),
      toMinute: moment,
      able: count,
    })
    .describe('one duty has to be out before the next can cover'),
  z
    .strictObject({
      kind: z.literal('too-few-on-duty'),
      atMinute: moment,
      wanted: count,
      able: count,
    })
    .describe('so many must be inside, and so many can'),
  z.strictObject({ kind: z.literal('left-out'), workers: z.array(id).min(1) }).describe('out too late by any plan'),
]);
export type ShortageReason = z.infer<typeof shortageReason>;
