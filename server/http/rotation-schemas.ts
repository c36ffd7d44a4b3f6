import { z } from 'zod';
import { plannedTrip, rotation } from '../../machines/unit/rotation.ts';
import { shortageReason } from '../../machines/unit/shortage.ts';
import { laneId, personId } from '../../machines/wire/ids.ts';
import { changeKinds } from '../rotation/live/changes.ts';
import { planAsk } from '../rotation/live/plan-ask.ts';

/** What the rotation is answered with. Times are milliseconds since 1970-01-01T00:00Z. */
const instant = z.int().min(0);
const planId = z.string().min(1).max(60);
const status = z.enum(['planning', 'finished', 'cancelled', 'failed']);
const ofTrip = { trip: z.string(), worker: personId };

const departure = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('late').describe('not called, though it is time'), ...ofTrip }),
  z.strictObject({ kind: z.literal('over-time').describe('still inside past the planned end'), ...ofTrip }),
  z.strictObject({ kind: z.literal('out-early'), ...ofTrip, minutes: z.int() }),
  z.strictObject({ kind: z.literal('out-late'), ...ofTrip, minutes: z.int() }),
  z.strictObject({ kind: z.literal('not-available'), worker: personId }),
  z.strictObject({ kind: z.literal('lane-closed'), lane: laneId }),
  z.strictObject({ kind: z.literal('lane-reopened'), lane: laneId }),
  z.strictObject({ kind: z.literal('observer-off'), observer: personId }),
]);

export const rotationSchemas = {
  PlanAsk: planAsk,
  PlanStarted: z.strictObject({ id: planId }),
  Plan: z.strictObject({
    id: planId,
    status,
    askedAt: instant,
    slotMinutes: z.int(),
    seconds: z.int().describe('its budget'),
    secondsSoFar: z.number(),
    ask: planAsk,
    whatIf: z.boolean().describe('true: of another unit than this one is, so not for adopting'),
    notKept: z.array(z.string()).describe('locked trips that had begun already'),
    rotation: rotation.optional().describe('the best so far; absent while there is none'),
    objective: z.number().optional(),
    lowerBound: z.number().optional().describe('proven: no plan costs less'),
    gapPct: z.number().optional().describe('0: proven best'),
    boundSource: z.string().optional(),
    uncoveredMinutes: z.number().optional().describe('minutes × people missing'),
    coveredFrom: instant
      .optional()
      .describe(
        'somebody is missing inside now: all rooms can be covered only from here on, and what is before counts for nothing',
      ),
    infeasible: z.literal(true).optional().describe('proven: no plan covers everything'),
    shortOf: z
      .looseObject({
        resource: z.string(),
        atLeast: z.number().optional(),
        enough: z.number().optional(),
        reason: z.string().describe('the reasons as a text, in minutes from startAt and by ids'),
        startAt: instant.describe('minute 0 of the reasons'),
        reasons: z.array(shortageReason),
      })
      .optional(),
    code: z.string().optional(),
    sentence: z.string().optional(),
  }),
  Plans: z.strictObject({ plans: z.array(z.strictObject({ id: planId, status, askedAt: instant })) }),
  Repair: z.strictObject({
    needed: z.boolean().describe('reality has left the adopted rotation'),
    ready: z.boolean(),
    forNumber: z.int().min(0).describe('number of the last fact it knows'),
    departures: z.array(departure),
    changes: z.array(
      z.strictObject({
        trip: z.string(),
        what: z.enum(changeKinds),
        before: plannedTrip.nullable(),
        after: plannedTrip.nullable(),
      }),
    ),
    rotation: rotation.optional(),
    uncoveredMinutes: z.number().optional(),
    betterMayFollow: z.boolean(),
  }),
} as const;
