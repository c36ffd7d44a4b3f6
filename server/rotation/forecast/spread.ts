import { z } from 'zod';
import { normalAbove } from './normal.ts';

/**
 * How long something takes: log-normal, because such times cannot be negative and run over more often than they run under.
 * Given by its median or mean and by its 90th percentile or sigma (the standard deviation of the logarithm). Minutes.
 */
export interface Spread {
  median?: number | undefined;
  mean?: number | undefined;
  p90?: number | undefined;
  sigma?: number | undefined;
}

const minutes = z.number().min(0).max(1440);

export const spread = z
  .strictObject({
    median: minutes.optional(),
    mean: minutes.optional(),
    p90: minutes.optional(),
    sigma: z.number().min(0).max(2).optional(),
  })
  .refine((one) => (one.median === undefined) !== (one.mean === undefined), 'give median or mean, exactly one of them')
  .refine((one) => (one.p90 === undefined) !== (one.sigma === undefined), 'give p90 or sigma, exactly one of them')
  .refine(
    (one: Spread) => !Number.isNaN(logNormalOf(one).sigma),
    'no log-normal time has this p90: it is too low or too high',
  );

/** `median` in minutes; `sigma` of the natural logarithm, 0 when the time is always the same. */
export interface LogNormal {
  median: number;
  sigma: number;
}

/** The standard normal quantile of 0.9. */
const z90 = 1.2815515655446004;

/** sigma is NaN when no log-normal distribution has these figures, or one wider than sigma 2. */
export function logNormalOf(given: Spread): LogNormal {
  if (given.median !== undefined)
    return { median: given.median, sigma: given.sigma ?? fromMedian(given.median, given) };
  const mean = given.mean ?? NaN;
  const sigma = given.sigma ?? fromMean(mean, given);
  return { median: mean * Math.exp((-sigma * sigma) / 2), sigma };
}

function fromMedian(median: number, { p90 = NaN }: Spread): number {
  if (median === 0) return p90 === 0 ? 0 : NaN;
  return within(Math.log(p90 / median) / z90);
}

/** p90/mean = exp(z90·s − s²/2); of the two solutions the narrower one. Above exp(z90²/2) ≈ 2.27 there is none. */
function fromMean(mean: number, { p90 = NaN }: Spread): number {
  if (mean === 0) return p90 === 0 ? 0 : NaN;
  return within(z90 - Math.sqrt(z90 * z90 - 2 * Math.log(p90 / mean)));
}

const within = (sigma: number): number => (sigma >= 0 && sigma <= 2 ? sigma : NaN);

/**
 * What is left of a time of which `elapsed` minutes have passed, in the form in which it is drawn:
 * left = scale · exp(sigma · (z − shift)) − passed, with z the normal number above which `tail · (1 − u)` lies.
 */
export interface Remaining {
  scale: number;
  sigma: number;
  shift: number;
  tail: number;
  passed: number;
}

/** Somebody slower than six sigma tells more about the figures than about themselves: they count as six sigma slow. */
const shiftMost = 6;

export function remainingOf({ median, sigma }: LogNormal, elapsed: number): Remaining {
  if (sigma === 0 || median === 0)
    return { scale: Math.max(0, median - elapsed), sigma: 0, shift: 0, tail: 1, passed: 0 };
  if (elapsed <= 0) return { scale: median, sigma, shift: 0, tail: 1, passed: 0 };
  const shift = Math.min(shiftMost, Math.max(-shiftMost, Math.log(elapsed / median) / sigma));
  const isBefore = elapsed < median && shift === -shiftMost;
  if (isBefore) return { scale: median, sigma, shift: 0, tail: 1, passed: elapsed };
  return { scale: elapsed, sigma, shift, tail: normalAbove(shift), passed: elapsed };
}
