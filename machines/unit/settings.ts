import { z } from 'zod';
import { forecastSettings } from './forecast-settings.ts';
import { heatSettings } from './heat-settings.ts';
import { rotationSettings } from './rotation-settings.ts';
import { unitDeviations } from '../procedure/corrective.ts';
import { laneId, personId, procedureId, roomId, unitId } from '../wire/ids.ts';

/**
 * unit.yaml: everything a unit decides for itself. Every number that can hurt somebody is here, with a default that is
 * common practice and a comment in the shipped file saying so; none is a constant in the code.
 */
const words = z.string().trim().min(1).max(600);
const minutes = z.number().min(0).max(1440);
const seconds = z.number().min(1).max(3600);
const day = z.union([
  z.strictObject({ on: z.iso.date() }),
  /** For drills: counted back from the day the unit is opened, so that an invented roster never goes out of date. */
  z.strictObject({ daysAgo: z.int().min(0).max(3650) }),
]);

const bound = z
  .strictObject({ low: z.number().optional(), high: z.number().optional() })
  .refine((b) => b.low !== undefined || b.high !== undefined, 'give low, high or both')
  .refine((b) => b.low === undefined || b.high === undefined || b.low < b.high, 'low must be below high');

export const vitalNames = [
  'temperatureC',
  'pulsePerMin',
  'systolicMmHg',
  'diastolicMmHg',
  'respirationPerMin',
  'saturationPct',
] as const;
export type VitalName = (typeof vitalNames)[number];
const bounds = z.partialRecord(z.enum(vitalNames), bound);

export const personRoles = ['worker', 'observer', 'assistant', 'coordinator', 'safety-officer', 'lead'] as const;
export type PersonRole = (typeof personRoles)[number];

export const breachClasses = ['near-miss', 'review', 'high-risk'] as const;

const person = z.strictObject({
  id: personId,
  /** Shown on screens; never written into a fact. */
  name: z.string().trim().min(1).max(60),
  roles: z.array(z.enum(personRoles)).min(1),
  fitTest: day.optional(),
  competency: z.partialRecord(procedureId, day).default({}),
});

export const unitSettings = z.strictObject({
  id: unitId,
  name: z.string().trim().min(1).max(80),
  rooms: z
    .array(z.strictObject({ id: roomId, name: z.string().trim().min(1).max(40), places: z.int().min(1).max(12) }))
    .min(1),
  lanes: z
    .array(z.strictObject({ id: laneId, name: z.string().trim().min(1).max(40), turnoverMinutes: minutes }))
    .min(1),
  people: z.array(person).min(1),
  procedures: z.array(z.string().regex(/^[\w./-]+\.ya?ml$/, 'a path to a .yaml file, relative to this one')).min(1),
  qualification: z.strictObject({
    /** A tight-fitting respirator needs a fit test at least this fresh. */
    fitTestDays: z.int().min(1).max(3650),
    competencyDays: z.int().min(1).max(3650),
    source: words,
  }),
  preCheck: z.strictObject({ bounds, source: words }),
  postCheck: z.strictObject({ bounds, source: words }),
  rest: z.strictObject({ minutes, afterOverrunMinutes: minutes, source: words }),
  perDay: z.strictObject({ minutesInPpe: z.number().min(1).max(1440), entries: z.int().min(1).max(20), source: words }),
  heat: heatSettings.optional(),
  forecast: forecastSettings.optional(),
  rotation: rotationSettings.optional(),
  callOut: z.strictObject({ marginMinutes: minutes, warnBeforeMinutes: minutes }),
  alerts: z
    .strictObject({
      coordinatorAfterSeconds: seconds,
      safetyOfficerAfterSeconds: seconds,
      everyoneAfterSeconds: seconds,
    })
    .refine(
      (a) =>
        a.coordinatorAfterSeconds <= a.safetyOfficerAfterSeconds &&
        a.safetyOfficerAfterSeconds <= a.everyoneAfterSeconds,
      'the timetable must not run backwards',
    ),
  silence: z.strictObject({ whileGuidingSeconds: seconds, otherwiseSeconds: seconds }),
  reports: z.strictObject({ lateAfterSeconds: seconds, futureToleranceSeconds: seconds }),
  /** What to do when a step goes wrong, by kind; absent: the step's own sentence has to do. */
  deviations: unitDeviations.optional(),
  breaches: z
    .array(
      z.strictObject({
        kind: z.string().regex(/^[a-z][a-z0-9-]{0,39}$/),
        name: z.string().trim().min(1).max(80),
        class: z.enum(breachClasses),
        /** What to do now, in the order to do it. */
        now: z.array(words).min(1),
        then: z.array(words).min(1),
        leaveRoom: z.boolean(),
        source: words,
      }),
    )
    .min(1),
});

export type UnitSettings = z.infer<typeof unitSettings>;
export type Person = UnitSettings['people'][number];
export type BreachRule = UnitSettings['breaches'][number];
export type Bounds = z.infer<typeof bounds>;
export type Vitals = Partial<Record<VitalName, number>>;
