import { z } from 'zod';
import { plannedTrip, rotation } from '../../machines/unit/rotation.ts';
import { shortageReason } from '../../machines/unit/shortage.ts';
import { laneId, personId, type UnitId } from '../../machines/wire/ids.ts';
import { ask, type Asked, type Fetch } from '../heat/ask.ts';
import type { Question } from './question.ts';

/** What the server answers about plans and repairs, as far as the page needs it. */
const started = z.object({ id: z.string() });

const planAnswer = z.object({
  id: z.string(),
  status: z.enum(['planning', 'finished', 'cancelled', 'failed']),
  seconds: z.number(),
  secondsSoFar: z.number(),
  whatIf: z.boolean(),
  notKept: z.array(z.string()),
  rotation: rotation.optional(),
  objective: z.number().optional(),
  lowerBound: z.number().optional(),
  gapPct: z.number().optional(),
  boundSource: z.string().optional(),
  uncoveredMinutes: z.number().optional(),
  coveredFrom: z.number().optional(),
  infeasible: z.literal(true).optional(),
  shortOf: z
    .object({
      resource: z.string(),
      atLeast: z.number().optional(),
      enough: z.number().optional(),
      startAt: z.number(),
      // A kind that this page does not know yet is left out: the rest of the plan is worth more than that sentence.
      reasons: z.array(shortageReason.nullable().catch(null)),
    })
    .optional(),
  sentence: z.string().optional(),
});
export type PlanAnswer = z.infer<typeof planAnswer>;

const ofTrip = { trip: z.string(), worker: personId };
const departure = z.discriminatedUnion('kind', [
  z.object({ kind: z.enum(['late', 'over-time']), ...ofTrip }),
  z.object({ kind: z.enum(['out-early', 'out-late']), ...ofTrip, minutes: z.number() }),
  z.object({ kind: z.literal('not-available'), worker: personId }),
  z.object({ kind: z.enum(['lane-closed', 'lane-reopened']), lane: laneId }),
  z.object({ kind: z.literal('observer-off'), observer: personId }),
]);
export type Departure = z.infer<typeof departure>;

const repairAnswer = z.object({
  needed: z.boolean(),
  ready: z.boolean(),
  forNumber: z.number(),
  departures: z.array(departure),
  changes: z.array(
    z.object({
      trip: z.string(),
      what: z.enum(['added', 'left-out', 'moved', 'stay', 'room', 'lane', 'observer']),
      before: plannedTrip.nullable(),
      after: plannedTrip.nullable(),
    }),
  ),
  rotation: rotation.optional(),
  betterMayFollow: z.boolean(),
});
export type RepairAnswer = z.infer<typeof repairAnswer>;
export type Change = RepairAnswer['changes'][number];

const plansAnswer = z.object({ plans: z.array(z.object({ id: z.string(), status: z.string() })) });

/** The questions of the page, of one unit. */
export class RotationApi {
  private readonly base: string;
  private readonly fetched: Fetch | undefined;

  constructor(unit: UnitId, fetched?: Fetch) {
    this.base = `/api/units/${unit}/rotation`;
    this.fetched = fetched;
  }

  plan(question: Question): Promise<Asked<{ id: string }>> {
    const headers = { 'content-type': 'application/json' };
    return ask(
      started,
      `${this.base}/plans`,
      { method: 'POST', headers, body: JSON.stringify(question) },
      this.fetched,
    );
  }

  planSoFar(id: string): Promise<Asked<PlanAnswer>> {
    return ask(planAnswer, `${this.base}/plans/${id}`, {}, this.fetched);
  }

  cancel(id: string): Promise<Asked<PlanAnswer>> {
    return ask(planAnswer, `${this.base}/plans/${id}`, { method: 'DELETE' }, this.fetched);
  }

  /** The plan that is being made now, whoever asked for it. */
  async planning(): Promise<string | undefined> {
    const asked = await ask(plansAnswer, `${this.base}/plans`, {}, this.fetched);
    return asked.is === 'answered' ? asked.answer.plans.find(({ status }) => status === 'planning')?.id : undefined;
  }

  repair(): Promise<Asked<RepairAnswer>> {
    return ask(repairAnswer, `${this.base}/repair`, {}, this.fetched);
  }
}
