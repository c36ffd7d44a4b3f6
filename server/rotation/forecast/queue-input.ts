import { z } from 'zod';
import { answered, refused, type ForecastAnswer } from './refusal.ts';
import { fieldSentence, seedMost } from './scenario.ts';

/** A plain queue, to hold the engine against what is known: random arrivals, some equal servers, first come first served. */
const rate = z.number().positive().max(1_000_000);

const queueQuestion = z.strictObject({
  queue: z.strictObject({
    arrivalsPerHour: rate,
    /** What one server does in an hour without a pause. */
    servicesPerHour: rate,
    servers: z.int().min(1).max(500),
    service: z.enum(['exponential', 'deterministic']).default('exponential'),
    /** Independent batches: at least two, or nothing could be said of their spread. */
    runs: z.int().min(2).max(400).default(40),
    seed: z.int().min(0).max(seedMost).default(1),
  }),
});

export type QueueQuestion = z.infer<typeof queueQuestion>['queue'];

export function readQueue(value: unknown): ForecastAnswer<QueueQuestion> {
  const parsed = queueQuestion.safeParse(value);
  if (!parsed.success) return refused('forecast/bad-field', fieldSentence(parsed.error));
  const { arrivalsPerHour, servicesPerHour, servers } = parsed.data.queue;
  const load = arrivalsPerHour / servicesPerHour;
  if (load < servers) return answered(parsed.data.queue);
  const sentence = `queue.arrivalsPerHour: ${arrivalsPerHour} an hour is a load of ${figure(load)}, and ${servers} ${
    servers === 1 ? 'server' : 'servers'
  } can do less than that or just as much: the queue grows without end`;
  return refused('forecast/unstable', sentence);
}

const figure = (value: number): string => String(Number(value.toPrecision(6)));
