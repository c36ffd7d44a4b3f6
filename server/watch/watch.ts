import type { Logger } from 'pino';
import type { Clock } from '../clock.ts';
import type { Presence } from '../presence/presence.ts';
import type { Authority } from '../unit/authority.ts';
import type { ForecastWatch } from './forecast-watch.ts';
import { DeadlineWatch } from './deadline-watch.ts';
import { LimitWatch } from './limit-watch.ts';
import { SilenceWatch } from './silence-watch.ts';

/**
 * The watch of one unit: turns passing time into facts. Several servers may watch the same unit; the authority writes each
 * deadline once, because whoever comes second finds nothing left to write.
 */
export function openWatch(
  authority: Authority,
  presence: Presence,
  clock: Clock,
  logger: Logger,
  forecasts?: ForecastWatch,
): { stop: () => void } {
  const deadlineWatch = new DeadlineWatch(authority, clock);
  const silenceWatch = new SilenceWatch(authority, presence, clock, logger);
  const limitWatch = new LimitWatch(authority, clock, logger, forecasts);
  return {
    stop() {
      deadlineWatch.stop();
      silenceWatch.stop();
      limitWatch.stop();
      forecasts?.stop();
    },
  };
}
