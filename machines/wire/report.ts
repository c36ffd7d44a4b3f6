import { z } from 'zod';
import { correctiveStepsMost, deviationKinds } from '../procedure/corrective.ts';
import { procedure } from '../procedure/procedure.ts';
import { actors, overrideReason } from './fact.ts';
import {
  alertId,
  breachId,
  deviationId,
  deviceId,
  laneId,
  personId,
  pointId,
  procedureId,
  reportId,
  roomId,
  stepId,
  unitId,
} from './ids.ts';
import { climate, strainMeasured, workRates } from '../unit/heat-settings.ts';
import { rotation } from '../unit/rotation.ts';
import { vitalNames } from '../unit/settings.ts';

/**
 * A report is what a device tells the server: a claim that something happened, or an order that something shall. The server
 * answers every one: accepted with the numbers of its facts, or refused with a stable code and a sentence.
 */
export const wireVersion = 2;

const sentence = z.string().trim().min(1).max(300);
const vitals = z.partialRecord(z.enum(vitalNames), z.number().min(0).max(400));
const worker = { worker: personId };

export const reportData = {
  'start-duty': z.strictObject({}),
  'end-duty': z.strictObject({}),
  'start-break': z.strictObject({}),
  'end-break': z.strictObject({}),
  'take-worker': z.strictObject(worker),
  'release-worker': z.strictObject(worker),

  'call-worker': z.strictObject({
    ...worker,
    room: roomId,
    procedure: procedureId,
    observer: personId.optional(),
    /** Calls a worker whose rest is not over; the reason goes to the safety officer. */
    despiteRest: sentence.optional(),
  }),
  'cancel-entry': z.strictObject({ ...worker, reason: sentence }),
  'assign-observer': z.strictObject({ ...worker, observer: personId }),
  'record-screening': z.strictObject({ ...worker, points: z.array(pointId).max(60), vitals }),
  'release-hold': z.strictObject({ ...worker, reason: sentence }),
  'confirm-kit-item': z.strictObject({ ...worker, item: pointId }),
  'verify-step': z.strictObject({ ...worker, step: stepId, tookSeconds: z.number().min(0).max(86_400).optional() }),
  'override-step': z.strictObject({ ...worker, step: stepId, reason: sentence }),
  'note-deviation': z.strictObject({
    ...worker,
    step: stepId,
    deviationKind: z.enum(deviationKinds),
    actor: z.enum(actors).default('worker'),
    note: sentence.optional(),
  }),
  'verify-corrective': z.strictObject({
    ...worker,
    deviation: deviationId,
    index: z.int().min(0).max(correctiveStepsMost),
    tookSeconds: z.number().min(0).max(86_400).optional(),
  }),
  'correct-deviation': z.strictObject({ ...worker, deviation: deviationId }),
  'pass-inspection': z.strictObject(worker),
  'fail-inspection': z.strictObject({ ...worker, steps: z.array(stepId).min(1).max(100), note: sentence.optional() }),
  'enter-room': z.strictObject(worker),
  'call-out': z.strictObject({ ...worker, reason: sentence.optional() }),
  'plan-call-out': z.strictObject({ ...worker, callOutAt: z.int().min(0).optional(), reason: sentence }),
  'adopt-rotation': z.strictObject({ rotation }),
  'drop-rotation': z.strictObject({ reason: sentence }),
  'leave-room': z.strictObject(worker),
  'enter-lane': z.strictObject({
    ...worker,
    lane: laneId,
    assistant: personId.optional(),
    confirmed: z.array(pointId).max(60),
  }),
  'declare-emergency': z.strictObject({ ...worker, reason: sentence.optional() }),
  'declare-breach': z.strictObject({ ...worker, breachKind: z.string().min(1).max(40), note: sentence.optional() }),
  'clear-breach': z.strictObject({ ...worker, breach: breachId, reason: sentence }),
  'record-climate': z.strictObject({ room: roomId, climate }),
  'set-work': z.strictObject({ ...worker, work: z.enum(workRates) }),
  'record-check': z.strictObject({ ...worker, vitals, strain: strainMeasured.optional() }),
  'record-post-check': z.strictObject({ ...worker, vitals, strain: strainMeasured.optional() }),
  'stand-down': z.strictObject({ ...worker, reason: sentence }),
  'lift-stand-down': z.strictObject({ ...worker, reason: sentence }),
  'allow-again': z.strictObject({ ...worker, reason: sentence }),

  'hold-lane': z.strictObject({ lane: laneId, ...worker }),
  'release-lane-hold': z.strictObject({ lane: laneId }),
  'clear-lane': z.strictObject({ lane: laneId }),
  'close-lane': z.strictObject({ lane: laneId, reason: sentence }),
  'reopen-lane': z.strictObject({ lane: laneId }),

  'tell-alert': z.strictObject({ alert: alertId }),
  'acknowledge-alert': z.strictObject({ alert: alertId }),
  'clear-alert': z.strictObject({ alert: alertId, reason: sentence }),
  'close-review': z.strictObject({ review: z.int().min(1), reason: sentence }),

  /** A new entry gets this version from now on. Without a proof it takes a reason for going without. */
  'adopt-procedure': z.strictObject({ procedure, override: overrideReason.optional() }),
} as const;

export type ReportKind = keyof typeof reportData;
export type ReportData<K extends ReportKind> = z.output<(typeof reportData)[K]>;
export const reportKinds = Object.keys(reportData) as ReportKind[];

const envelope = {
  v: z.literal(wireVersion),
  id: reportId,
  unit: unitId,
  device: deviceId,
  /** Counts the reports of one device, from 1; never used twice. */
  sequence: z.int().min(1),
  person: personId,
  /** When it was seen to happen, in server time as the device reckons it (milliseconds). */
  observedAt: z.int().min(0),
  clockErrorMs: z.number().min(0).optional(),
  /** The number of the last fact about this worker that the device had seen. */
  basedOn: z.int().min(0).optional(),
};

/** The envelope alone, to answer (and count) a report whose kind or data is not understood. */
export const reportEnvelope = z.object({ ...envelope, kind: z.string().max(80), data: z.unknown() });

function reportOfKind<K extends ReportKind>(kind: K) {
  return z.strictObject({ ...envelope, kind: z.literal(kind), data: reportData[kind] });
}
export const reportSchemas = Object.fromEntries(reportKinds.map((kind) => [kind, reportOfKind(kind)])) as {
  [K in ReportKind]: ReturnType<typeof reportOfKind<K>>;
};

interface ReportEnvelope {
  v: typeof wireVersion;
  id: z.infer<typeof reportId>;
  unit: z.infer<typeof unitId>;
  device: z.infer<typeof deviceId>;
  sequence: number;
  person: z.infer<typeof personId>;
  observedAt: number;
  clockErrorMs?: number;
  basedOn?: number;
}

export type ReportOf<K extends ReportKind> = { [P in K]: ReportEnvelope & { kind: P; data: ReportData<P> } }[K];
export type Report = ReportOf<ReportKind>;
