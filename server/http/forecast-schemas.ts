import { z } from 'zod';
import { laneId, personId } from '../../machines/wire/ids.ts';
import { forecastQuestion } from '../rotation/live/forecast-what-if.ts';

/** What the forecast is answered with. Chances are 0 to 1, times milliseconds since 1970-01-01T00:00Z. */
const chance = z.number().min(0).max(1);
const minutes = z.number();
const instant = z.int();
const whoseEntry = {
  entry: z.string().describe('id of the entry; of somebody who is only planned, a name that stays'),
  worker: personId,
};
const about = {
  number: z.int().min(0).describe('number of the last fact it knows'),
  at: instant.describe('the moment it was made for'),
  horizonMinutes: z.number(),
  runs: z.int().min(0).describe('how often the unit was played; 0: nobody is in an entry, nothing was'),
  waitQuantile: chance.describe('which wait is told as atQuantile: 0.9 is what nine of ten do not exceed'),
  chanceHalfWidth95: chance.describe('sampling error of a chance near one half, 95 %; smaller towards 0 and 1'),
};
const use = { ...whoseEntry, chance, from: instant, to: instant };
const chanceBusy = z.array(chance).describe('per quarter hour');
const figures = z.strictObject({
  chanceOfWaiting: chance,
  waitMinutesAtQuantile: minutes,
  waitMinutesMean: minutes,
  chanceOverLimit: chance.optional(),
});
const together = z.strictObject({
  waitMinutes: minutes.describe('of all together, expected'),
  overLimit: z.number().describe('people who pass their limit, expected'),
});
const effect = {
  runs: z.int().min(1),
  before: together,
  after: together,
  people: z.array(z.strictObject({ ...whoseEntry, before: figures, after: figures })),
};
const move = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('call-out'),
    worker: personId,
    minutes: minutes.describe('negative: earlier'),
    callOutAt: instant.describe('for the report plan-call-out'),
    ...effect,
  }),
  z.strictObject({ kind: z.literal('reopen-lane'), lane: laneId, ...effect }),
  z.strictObject({
    kind: z.literal('assign-observer'),
    worker: personId,
    observer: personId.optional().describe('absent: whoever is free'),
    ...effect,
  }),
  z.strictObject({ kind: z.literal('shift-break'), observer: personId, minutes, ...effect }),
  z.strictObject({ kind: z.literal('swap-breaks'), observers: z.tuple([personId, personId]), ...effect }),
]);
const person = z.strictObject({
  ...whoseEntry,
  stage: z.enum(['expected', 'donning', 'inside', 'leaving', 'waiting', 'doffing']),
  chanceOfWaiting: z.strictObject({ lane: chance, observer: chance, either: chance }),
  waitMinutes: z.strictObject({ mean: minutes, halfWidth95: minutes, atQuantile: minutes }),
  donningDelayMinutes: minutes,
  chanceOverLimit: chance.optional().describe('absent: no limit is known'),
  chanceNotOut: chance.describe('no lane or no observer is left for them'),
  comesAt: instant.optional().describe('to the threshold, on the mean'),
  laneAt: instant.optional().describe('into a lane, on the mean'),
  outAt: z.strictObject({ mean: instant, atQuantile: instant }).optional().describe('the last doffing step'),
});
const side = together.extend({ people: z.array(z.strictObject({ ...whoseEntry, ...figures.shape })) });

export const forecastSchemas = {
  Forecast: z.strictObject({
    ...about,
    people: z.array(person),
    lanes: z.array(z.strictObject({ id: laneId, uses: z.array(z.strictObject(use)), chanceBusy })),
    observers: z.array(
      z.strictObject({
        id: personId,
        uses: z.array(z.strictObject({ ...use, guiding: z.enum(['donning', 'doffing']) })),
        chanceBusy,
      }),
    ),
    clashes: z.array(
      z.strictObject({
        from: instant,
        to: instant,
        what: z.enum(['lane', 'observer']).describe('what there is too little of'),
        workers: z.array(personId).describe('who meet, those likely to wait first'),
        chance: chance.describe('that somebody of them waits'),
        waitMinutesAtQuantile: minutes.describe('the longest wait among them'),
      }),
    ),
    quarters: z.array(
      z
        .strictObject({ from: instant, laneClashes: z.number(), observerClashes: z.number() })
        .describe('expected number'),
    ),
    moves: z.array(move).describe('what would help, best first, each played with the same chance'),
  }),
  ForecastQuestion: forecastQuestion,
  ForecastWhatIf: z.strictObject({ ...about, before: side, after: side }),
} as const;
