import { z } from 'zod';
import { correctiveStep, correctiveStepsMost, deviationKinds } from '../procedure/corrective.ts';
import { procedure } from '../procedure/procedure.ts';
import { climate, strainMeasured, workRates } from '../unit/heat-settings.ts';
import { rotation } from '../unit/rotation.ts';
import { breachClasses, unitSettings, vitalNames } from '../unit/settings.ts';
import {
  alertId,
  breachId,
  deviationId,
  deviceId,
  entryId,
  laneId,
  personId,
  pointId,
  procedureId,
  reportId,
  roomId,
  stepId,
  unitId,
} from './ids.ts';
import { roles } from './rights.ts';

/**
 * A fact is an accepted report or a passed deadline: past tense, stamped, numbered, in the log for ever. Facts carry what
 * was decided (a limit and its reason, a rest and its end), so that folding an old log never takes a decision again.
 *
 * The shape has two parts. `data` is open and is all the fold may use. `confidential` (vital values and the like) goes only
 * to the roles that need it; its digest is in the open part, so the hash chain can be checked without seeing it.
 */
export const factVersion = 1;

/** How a program that sends readings names itself. */
export const sensorName = z.string().trim().min(1).max(60);

const instant = z.int().min(0).describe('milliseconds since 1970-01-01T00:00Z');
export const sentenceMost = 600;
const sentence = z.string().trim().min(1).max(sentenceMost);
export const actors = ['worker', 'assistant', 'observer'] as const;
export const alertKinds = [
  'limit-approaching',
  'call-out',
  'limit-reached',
  'deviation',
  'no-observer',
  'tablet-silent',
  'lane-clash',
  'breach',
  'emergency-exit',
  'vitals-out-of-bounds',
  'not-ready',
  'rest-too-short',
  'check-due',
] as const;
/** Where a limit comes from. */
export const limitKinds = [
  'rule',
  'minutes-of-the-day',
  'earlier-entries',
  'core-temperature',
  'water-loss',
  'check',
] as const;
export const priorities = ['low', 'medium', 'high'] as const;
/** Who is being told. An alert climbs from left to right until somebody answers. */
export const alertLevels = ['observer', 'coordinator', 'safety-officer', 'everyone'] as const;

const entryOf = { worker: personId, entry: entryId };

/** Going without a proof is for a person to answer for, in words that mean something later. */
export const overrideReason = z.string().trim().min(10).max(300);

const states = z.int().min(0);
/** What the proof said of a version when it was adopted. Orders are digits: there can be more than any number holds. */
export const adoptionProof = z.discriminatedUnion('verdict', [
  z.strictObject({ verdict: z.literal('proved'), states, orders: z.string().regex(/^\d{1,2000}$/) }),
  z.strictObject({ verdict: z.literal('not-proved'), states, sentence }),
  z.strictObject({ verdict: z.literal('undecided'), states, sentence }),
]);

/** What measurements after an entry leave of the next one. */
const afterEntryEffect = z.strictObject({
  /** The share of the next period that is left: 1, less after a cut. */
  nextShare: z.number().min(0).max(1),
  /** No entry before this. */
  barredUntil: instant.optional(),
  because: sentence,
  source: sentence,
});

/** Roster facts without names: what the rules need to know about a person. */
const rosterEntry = z.strictObject({
  id: personId,
  roles: unitSettings.shape.people.element.shape.roles,
  fitTestOn: z.iso.date().optional(),
  competencyOn: z.partialRecord(procedureId, z.iso.date()),
});
const unitRules = unitSettings.omit({ people: true, procedures: true, forecast: true });

export const factData = {
  'unit-opened': z.strictObject({ rules: unitRules, roster: z.array(rosterEntry), procedures: z.array(procedure) }),
  'unit-changed': z.strictObject({ rules: unitRules, roster: z.array(rosterEntry), procedures: z.array(procedure) }),

  'device-joined': z.strictObject({ device: deviceId, role: z.enum(roles), person: personId.optional() }),
  'device-silent': z.strictObject({ device: deviceId, lastHeardAt: instant }),
  'device-back': z.strictObject({ device: deviceId }),
  'device-left': z.strictObject({ device: deviceId }),

  'duty-started': z.strictObject({ observer: personId, device: deviceId }),
  'duty-ended': z.strictObject({ observer: personId }),
  'break-started': z.strictObject({ observer: personId }),
  'break-ended': z.strictObject({ observer: personId }),
  'observer-assigned': z.strictObject({ ...entryOf, observer: personId }),
  'worker-taken': z.strictObject({ ...entryOf, observer: personId, guiding: z.enum(['donning', 'doffing']) }),
  'worker-released': z.strictObject({ ...entryOf, observer: personId }),
  'observer-unreachable': z.strictObject({ observer: personId }),
  'observer-reachable': z.strictObject({ observer: personId }),

  'worker-called': z.strictObject({
    ...entryOf,
    room: roomId,
    procedure: procedureId,
    version: z.int().min(1),
    observer: personId.optional(),
    /** Given when the worker was called before the rest was over, with the reason somebody gave for it. */
    restCutShort: z.strictObject({ minutesLeft: z.number(), reason: sentence }).optional(),
  }),
  'entry-cancelled': z.strictObject({ ...entryOf, reason: sentence }),
  'screening-recorded': z.strictObject({
    ...entryOf,
    verdict: z.enum(['passed', 'vitals-out-of-bounds', 'not-ready']),
    missingPoints: z.array(pointId),
  }),
  'hold-released': z.strictObject({
    ...entryOf,
    hold: z.enum(['pre-check', 'post-check']),
    reason: sentence,
    restUntil: instant.optional(),
  }),
  'kit-item-confirmed': z.strictObject({ ...entryOf, item: pointId }),
  'step-verified': z.strictObject({ ...entryOf, step: stepId, tookSeconds: z.number().min(0).optional() }),
  'step-overridden': z.strictObject({ ...entryOf, step: stepId, reason: sentence }),
  'deviation-noted': z.strictObject({
    ...entryOf,
    deviation: deviationId,
    step: stepId,
    deviationKind: z.enum(deviationKinds),
    actor: z.enum(actors),
    critical: z.boolean(),
    doNow: sentence,
    /** What was decided to walk through, one step at a time; absent where one sentence has to do. */
    corrective: z
      .array(correctiveStep)
      .min(1)
      .max(correctiveStepsMost + 1)
      .optional(),
    note: sentence.optional(),
  }),
  'corrective-step-done': z.strictObject({
    ...entryOf,
    deviation: deviationId,
    /** From 0, in the order of the list. */
    index: z.int().min(0).max(correctiveStepsMost),
    tookSeconds: z.number().min(0).optional(),
  }),
  'deviation-corrected': z.strictObject({ ...entryOf, deviation: deviationId }),
  'inspection-passed': z.strictObject({ ...entryOf }),
  'inspection-failed': z.strictObject({ ...entryOf, steps: z.array(stepId).min(1), note: sentence.optional() }),
  'limit-set': z.strictObject({
    ...entryOf,
    minutes: z.number(),
    reason: sentence,
    source: sentence,
    limitAt: instant,
    callOutAt: instant,
    warnAt: instant,
    doffingMinutes: z.number(),
    waitMinutes: z.number(),
    marginMinutes: z.number(),
    /** Which of the limits it is, and what to bear in mind; not in logs of before heat was computed. */
    limitKind: z.enum(limitKinds).optional(),
    caution: sentence.optional(),
    /** True where the calculation was never validated for such clothing or conditions. */
    indicative: z.literal(true).optional(),
  }),
  'climate-recorded': z.strictObject({ room: roomId, climate }),
  'work-set': z.strictObject({ ...entryOf, work: z.enum(workRates) }),
  /** Over the screening limit: somebody looks after the worker at this time, and then again and again. */
  'check-set': z.strictObject({
    ...entryOf,
    dueAt: instant,
    everyMinutes: z.number(),
    reason: sentence,
    source: sentence,
  }),
  'check-recorded': z.strictObject({
    ...entryOf,
    verdict: z.enum(['within-bounds', 'over']),
    /** When the next one is due; none after one that was over: the worker comes out. */
    nextDueAt: instant.optional(),
  }),
  /** The call-out is brought forward; without a time it goes back to what the limit says. */
  'call-out-planned': z.strictObject({ ...entryOf, callOutAt: instant.optional(), reason: sentence }),
  'rotation-adopted': z.strictObject({ rotation }),
  'rotation-dropped': z.strictObject({ reason: sentence }),
  'room-entered': z.strictObject({ ...entryOf, room: roomId }),
  'called-out': z.strictObject({ ...entryOf, reason: sentence }),
  'room-left': z.strictObject({ ...entryOf }),
  'emergency-declared': z.strictObject({ ...entryOf, reason: sentence }),
  'breach-declared': z.strictObject({
    worker: personId,
    entry: entryId.optional(),
    breach: breachId,
    breachKind: z.string(),
    breachClass: z.enum(breachClasses),
    now: z.array(sentence),
    then: z.array(sentence),
    leaveRoom: z.boolean(),
    note: sentence.optional(),
  }),
  'breach-cleared': z.strictObject({ worker: personId, breach: breachId, reason: sentence }),
  'post-check-recorded': z.strictObject({
    ...entryOf,
    verdict: z.enum(['passed', 'vitals-out-of-bounds']),
    restMinutes: z.number(),
    restUntil: instant,
    restReason: sentence,
    after: afterEntryEffect.optional(),
  }),
  'rest-ended': z.strictObject({ worker: personId }),
  'stood-down': z.strictObject({ worker: personId, reason: sentence }),
  'stand-down-lifted': z.strictObject({ worker: personId, reason: sentence }),
  'again-allowed': z.strictObject({ worker: personId, reason: sentence }),

  'lane-held': z.strictObject({ lane: laneId, worker: personId }),
  'lane-hold-released': z.strictObject({ lane: laneId, worker: personId }),
  'lane-entered': z.strictObject({
    lane: laneId,
    ...entryOf,
    assistant: personId.optional(),
    confirmed: z.array(pointId),
  }),
  'lane-left': z.strictObject({ lane: laneId, ...entryOf, turnoverUntil: instant }),
  'lane-cleared': z.strictObject({ lane: laneId }),
  'lane-closed': z.strictObject({ lane: laneId, reason: sentence }),
  'lane-reopened': z.strictObject({ lane: laneId, turnoverUntil: instant }),

  'alert-raised': z.strictObject({
    alert: alertId,
    alertKind: z.enum(alertKinds),
    /** With the kind, what the alert is about; one open alert per kind and subject. */
    subject: z.string().min(1).max(80),
    priority: z.enum(priorities),
    level: z.enum(alertLevels),
    worker: personId.optional(),
    observer: personId.optional(),
    lane: laneId.optional(),
    /** What happened, without names: screens put them in. */
    because: sentence,
  }),
  'alert-told': z.strictObject({
    alert: alertId,
    device: deviceId,
    person: personId.optional(),
    over: z.enum(['screen']),
  }),
  'alert-acknowledged': z.strictObject({ alert: alertId, person: personId }),
  'alert-escalated': z.strictObject({ alert: alertId, level: z.enum(alertLevels) }),
  'alert-cleared': z.strictObject({ alert: alertId, reason: sentence }),

  'report-kept': z.strictObject({
    /** The refused report as it came, except for its confidential values. */
    message: z.string(),
    worker: personId.optional(),
    code: z.string(),
    sentence,
  }),
  'review-closed': z.strictObject({ review: z.int().min(1), reason: sentence }),

  /** The whole version, so that a replay needs no file; what the proof said of it; and why it was adopted without one. */
  'procedure-adopted': z.strictObject({
    procedure,
    proof: adoptionProof,
    overrideReason: overrideReason.optional(),
  }),
} as const;

export type FactKind = keyof typeof factData;
export type FactData<K extends FactKind> = z.infer<(typeof factData)[K]>;
export const factKinds = Object.keys(factData) as FactKind[];

/** Who made it so: a person at a device; the watch (a deadline, a consequence) or the server itself (opening a unit); a sensor. */
export const factAuthor = z.union([
  z.strictObject({ device: deviceId, role: z.enum(roles), person: personId.optional() }),
  z.strictObject({ watch: z.literal(true) }),
  z.strictObject({ sensor: sensorName }),
]);

export const confidentialPart = z.strictObject({
  /** Keeps the digest in the open part from being guessed back: a pulse has only some hundred values. */
  salt: z.string().min(16).max(64),
  vitals: z.partialRecord(z.enum(vitalNames), z.number()).optional(),
  findings: z.array(sentence).optional(),
  strain: strainMeasured.optional(),
});

const stamp = {
  v: z.literal(factVersion),
  /** Place in the unit's log, from 1 without gaps. */
  number: z.int().min(1),
  unit: unitId,
  /** When it counts from: the observed time, bounded by the previous fact of the same worker and by its receipt. */
  at: instant,
  receivedAt: instant,
  /** What the device claimed, kept where it differs from `at`. */
  claimedAt: instant.optional(),
  by: factAuthor,
  /** The report this came from. Several facts may come from one report; all are appended together or not at all. */
  report: z
    .strictObject({
      id: reportId,
      sequence: z.int().min(1),
      basedOn: z.int().min(0).optional(),
      clockErrorMs: z.number().optional(),
      /** It came so long after it was seen that somebody must look at it. */
      late: z.literal(true).optional(),
    })
    .optional(),
  confidentialDigest: z.string().length(64).optional(),
  confidential: confidentialPart.optional(),
  previousHash: z.string().length(64),
  hash: z.string().length(64),
};

function factOfKind<K extends FactKind>(kind: K) {
  return z.strictObject({ ...stamp, kind: z.literal(kind), data: factData[kind] });
}

export const fact = z.discriminatedUnion(
  'kind',
  factKinds.map((kind) => factOfKind(kind)) as unknown as [ReturnType<typeof factOfKind>],
) as unknown as z.ZodType<Fact>;

interface FactStamp {
  v: typeof factVersion;
  number: number;
  unit: z.infer<typeof unitId>;
  at: number;
  receivedAt: number;
  claimedAt?: number;
  by: z.infer<typeof factAuthor>;
  report?: { id: z.infer<typeof reportId>; sequence: number; basedOn?: number; clockErrorMs?: number; late?: true };
  confidentialDigest?: string;
  confidential?: Confidential;
  previousHash: string;
  hash: string;
}

export type Confidential = z.infer<typeof confidentialPart>;
export type FactOf<K extends FactKind> = { [P in K]: FactStamp & { kind: P; data: FactData<P> } }[K];
export type Fact = FactOf<FactKind>;
export type FactAuthor = z.infer<typeof factAuthor>;
export type LimitKind = (typeof limitKinds)[number];
export type AfterEntryEffect = z.infer<typeof afterEntryEffect>;
export type AdoptionProof = z.infer<typeof adoptionProof>;
export type AlertKind = (typeof alertKinds)[number];
export type AlertLevel = (typeof alertLevels)[number];
export type Priority = (typeof priorities)[number];

type SealFields = 'number' | 'hash' | 'previousHash' | 'confidentialDigest' | 'v' | 'unit';
/** A fact before it has a number and a place in the hash chain. */
export type DraftFact = { [K in FactKind]: Omit<FactOf<K>, SealFields> }[FactKind];
/** A fact whose number is known, before it is hashed: what the fold may be tried on. */
export type NumberedFact = {
  [K in FactKind]: Omit<FactOf<K>, 'hash' | 'previousHash' | 'confidentialDigest'>;
}[FactKind];
