import { z } from 'zod';
import { entryId, personId, type PersonId, type UnitId } from '../../machines/wire/ids.ts';
import { wallClock } from '../board/clock.ts';
import { words } from '../words/words.ts';
import { ask, type Asked, type Fetch } from './ask.ts';

/**
 * What is predicted for everybody in equipment: a calculation for an average person, asked of the server while somebody looks
 * at it. It is in no fact and decides nothing here; the limit in force is the one in the log.
 */
const point = z.object({ minute: z.number(), rectalTemperatureC: z.number(), waterLossG: z.number() });
const workerStrain = z.object({
  worker: personId,
  entry: entryId,
  donnedAt: z.number(),
  /** Minutes in equipment at the time of the answer. */
  minute: z.number(),
  points: z.array(point).min(2),
  limitRectalTemperatureC: z.number(),
  limitWaterLossG: z.number(),
  reachedMin: z.number().optional(),
  indicative: z.boolean(),
  outsideRange: z.array(z.string()),
});
const strainAnswer = z.object({ at: z.number(), workers: z.array(workerStrain) });

export type Point = z.infer<typeof point>;
export type WorkerStrain = z.infer<typeof workerStrain>;
export type StrainAnswer = z.infer<typeof strainAnswer>;

export const askStrain = (unit: UnitId, fetched?: Fetch): Promise<Asked<StrainAnswer>> =>
  ask(strainAnswer, `/api/units/${unit}/strain`, {}, fetched);

export const strainOf = ({ workers }: StrainAnswer, worker: PersonId): WorkerStrain | undefined =>
  workers.find((one) => one.worker === worker);

/** One curve: what is predicted, and where its limit lies. */
export interface Curve {
  is: 'core' | 'water';
  values: readonly number[];
  limit: number;
  /** At this moment, between the two points around it. */
  now: number;
  /** Minutes in equipment at which it reaches its limit; undefined where it does not within the time looked at. */
  reachedAt: number | undefined;
}

export interface StrainView {
  minutes: readonly number[];
  minuteNow: number;
  minuteLast: number;
  donnedAt: number;
  curves: readonly [core: Curve, water: Curve];
}

/** @param now server time: the prediction may be some seconds old */
export function strainView(one: WorkerStrain, now: number): StrainView {
  const minutes = one.points.map(({ minute }) => minute);
  const minuteNow = Math.max(0, (now - one.donnedAt) / 60_000);
  const curve = (is: Curve['is'], values: readonly number[], limit: number): Curve => ({
    ...{ is, values, limit },
    now: valueAt(minutes, values, minuteNow),
    reachedAt: reachedAt(minutes, values, limit, one.reachedMin),
  });
  return {
    ...{ minutes, minuteNow, donnedAt: one.donnedAt, minuteLast: minutes.at(-1) ?? 0 },
    curves: [
      curve(
        'core',
        one.points.map((at) => at.rectalTemperatureC),
        one.limitRectalTemperatureC,
      ),
      curve(
        'water',
        one.points.map((at) => at.waterLossG),
        one.limitWaterLossG,
      ),
    ],
  };
}

/** On the straight line between the two points around it; before the first and after the last it stays. */
export function valueAt(minutes: readonly number[], values: readonly number[], minute: number): number {
  const next = minutes.findIndex((one) => one > minute);
  const last = values.at(-1) ?? NaN;
  if (next < 0) return last;
  const [from, to] = [minutes[next - 1], minutes[next]];
  const [low, high] = [values[next - 1], values[next]];
  if (from === undefined || to === undefined || low === undefined || high === undefined) return values[0] ?? last;
  return low + ((high - low) * (minute - from)) / (to - from);
}

/**
 * The whole minute at which a curve comes to its limit. Points lie minutes apart: the server's own minute counts where it lies
 * between the two around the crossing, so that the drawing and the limit in force never tell two times.
 */
function reachedAt(
  minutes: readonly number[],
  values: readonly number[],
  limit: number,
  said: number | undefined,
): number | undefined {
  const over = values.findIndex((value) => value >= limit);
  if (over < 0) return undefined;
  const [from, to] = [minutes[over - 1], minutes[over]];
  const [low, high] = [values[over - 1], values[over]];
  if (from === undefined || to === undefined || low === undefined || high === undefined) return minutes[over];
  if (said !== undefined && said >= from && said <= to) return Math.round(said);
  return Math.floor(from + ((to - from) * (limit - low)) / (high - low));
}

// ---- in words ----

/** A predicted temperature above this means only that it is far over the limit (docs/limits.md): no body has it. */
const coreTold = 42;

export function figureOf(is: Curve['is'], value: number): string {
  if (is === 'water') return String(Math.round(value / 10) * 10);
  return value > coreTold ? words.heat.coreOver(coreTold) : value.toFixed(1);
}

export const curveName = (is: Curve['is']): string => words.heat[is];

export function limitWords({ is, limit }: Curve): string {
  const { heat } = words;
  return is === 'core' ? heat.coreLimit(figureOf(is, limit)) : heat.waterLimit(figureOf(is, limit));
}

/** All that a drawing shows, as a sentence: what it is now and when it reaches its limit. */
export function curveWords(curve: Curve, view: StrainView): string {
  const { heat } = words;
  const { is, reachedAt } = curve;
  const now = is === 'core' ? heat.coreNow(figureOf(is, curve.now)) : heat.waterNow(figureOf(is, curve.now));
  if (reachedAt === undefined) return `${now} ${heat.reachesNot(Math.round(view.minuteLast))}`;
  if (reachedAt <= view.minuteNow) return `${now} ${heat.reached(reachedAt)}`;
  return `${now} ${heat.reaches(reachedAt, wallClock(view.donnedAt + reachedAt * 60_000))}`;
}

/** What lies outside the method's range, by name; an unknown one is said as it came, rather than not at all. */
export const outsideWords = (outside: readonly string[]): string | undefined =>
  outside.length === 0
    ? undefined
    : words.heat.outside([...new Set(outside.map((one) => words.heat.fields[one] ?? one))].join(', '));

/** A row for every quarter of an hour, and the last. */
export function tableRows(view: StrainView): { minute: number; time: string; core: string; water: string }[] {
  const [core, water] = view.curves;
  return view.minutes.flatMap((minute, index) => {
    const isShown = minute % 15 === 0 || index === view.minutes.length - 1;
    if (!isShown) return [];
    return [
      {
        minute,
        time: wallClock(view.donnedAt + minute * 60_000),
        core: figureOf('core', core.values[index] ?? NaN),
        water: figureOf('water', water.values[index] ?? NaN),
      },
    ];
  });
}
