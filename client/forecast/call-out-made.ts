import type { Limit } from '../../machines/worker/worker-machine.ts';
import { wallClock } from '../board/clock.ts';
import { words } from '../words/words.ts';

/** What a call-out time is made of; undefined for one of an old log that does not say. */
export function callOutMade({ limitAt, doffingMinutes, waitMinutes, marginMinutes }: Limit): string | undefined {
  if (doffingMinutes === undefined || waitMinutes === undefined || marginMinutes === undefined) return undefined;
  const whole = (minutes: number) => Math.round(minutes);
  return words.forecast.madeOf.sum(wallClock(limitAt), whole(doffingMinutes), whole(waitMinutes), whole(marginMinutes));
}
