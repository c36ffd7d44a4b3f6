import { z } from 'zod';

/**
 * What a unit decides about its forecast: the section `forecast` of unit.yaml. Only the server's calculation reads it; what is
 * decided from the forecast is in facts, so it is not part of the rules in the log. Everything left out has a default
 * (docs/forecast.md).
 */
const sigma = z.number().min(0).max(2);

export const forecastSettings = z.strictObject({
  horizonMinutes: z.int().min(60).max(1440).optional(),
  runs: z.int().min(200).max(10_000).optional(),
  /** The wait that is left room for: 0.9 is what nine of ten exits do not exceed. */
  waitQuantile: z.number().min(0.5).max(0.99).optional(),
  preCheckMinutes: z.number().min(0).max(240).optional(),
  /** How long an observer stays after the last doffing step. */
  postCheckMinutes: z.number().min(0).max(240).optional(),
  /** From the end of a lane's turnover until somebody says that it is clear. */
  clearingMinutes: z.number().min(0).max(240).optional(),
  breakMinutes: z.number().min(1).max(240).optional(),
  /** How widely times scatter where the unit's own record does not say: the standard deviation of their logarithm. */
  sigma: z
    .strictObject({
      donning: sigma.optional(),
      inside: sigma.optional(),
      leaving: sigma.optional(),
      doffing: sigma.optional(),
    })
    .optional(),
  source: z.string().trim().min(1).max(600),
});

export type ForecastSettings = z.infer<typeof forecastSettings>;
