import { z } from 'zod';
import { laneId, personId, type PersonId, type UnitId } from '../../machines/wire/ids.ts';
import { ask, type Asked, type Fetch } from '../heat/ask.ts';

/** What the server forecasts of the next hours: who will want which lane and observer, who is likely to wait, what would help. */
const figures = z.object({
  chanceOfWaiting: z.number(),
  waitMinutesAtQuantile: z.number(),
  waitMinutesMean: z.number(),
  chanceOverLimit: z.number().optional(),
});
const together = z.object({ waitMinutes: z.number(), overLimit: z.number() });
const effect = {
  before: together,
  after: together,
  people: z.array(z.object({ worker: personId, before: figures, after: figures })),
};
const move = z.discriminatedUnion('kind', [
  z.object({
    kind: z.literal('call-out'),
    worker: personId,
    minutes: z.number(),
    callOutAt: z.number(),
    ...effect,
  }),
  z.object({ kind: z.literal('reopen-lane'), lane: laneId, ...effect }),
  z.object({ kind: z.literal('assign-observer'), worker: personId, observer: personId.optional(), ...effect }),
  z.object({ kind: z.literal('shift-break'), observer: personId, minutes: z.number(), ...effect }),
  z.object({ kind: z.literal('swap-breaks'), observers: z.tuple([personId, personId]), ...effect }),
]);
const use = z.object({ worker: personId, chance: z.number(), from: z.number(), to: z.number() });
const person = z.object({
  entry: z.string(),
  worker: personId,
  stage: z.enum(['expected', 'donning', 'inside', 'leaving', 'waiting', 'doffing']),
  chanceOfWaiting: z.object({ lane: z.number(), observer: z.number(), either: z.number() }),
  waitMinutes: z.object({ mean: z.number(), halfWidth95: z.number(), atQuantile: z.number() }),
  chanceOverLimit: z.number().optional(),
  chanceNotOut: z.number(),
  comesAt: z.number().optional(),
  laneAt: z.number().optional(),
  outAt: z.object({ mean: z.number(), atQuantile: z.number() }).optional(),
});
const clash = z.object({
  from: z.number(),
  to: z.number(),
  what: z.enum(['lane', 'observer']),
  workers: z.array(personId).min(1),
  chance: z.number(),
  waitMinutesAtQuantile: z.number(),
});
const forecast = z.object({
  number: z.number(),
  at: z.number(),
  horizonMinutes: z.number(),
  runs: z.number(),
  waitQuantile: z.number(),
  chanceHalfWidth95: z.number(),
  people: z.array(person),
  lanes: z.array(z.object({ id: laneId, uses: z.array(use) })),
  observers: z.array(
    z.object({ id: personId, uses: z.array(use.extend({ guiding: z.enum(['donning', 'doffing']) })) }),
  ),
  clashes: z.array(clash),
  moves: z.array(move),
});

export type Forecast = z.infer<typeof forecast>;
export type ForecastPerson = z.infer<typeof person>;
export type ForecastClash = z.infer<typeof clash>;
export type ForecastMove = z.infer<typeof move>;
export type MoveFigures = z.infer<typeof figures>;

export const askForecast = (unit: UnitId, fetched?: Fetch): Promise<Asked<Forecast>> =>
  ask(forecast, `/api/units/${unit}/forecast`, {}, fetched);

/** Of several entries of a worker the one that comes first: that is the one under way. */
export const personIn = ({ people }: Forecast, worker: PersonId): ForecastPerson | undefined =>
  people.find((one) => one.worker === worker);
