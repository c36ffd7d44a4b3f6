import type { Limit } from '../../machines/worker/worker-machine.ts';
import { minutesSince, minutesUntil } from '../board/clock.ts';
import { words } from '../words/words.ts';

/** A limit as every screen tells it: which one it is, why, who says so, how long it still is, and what to bear in mind. */
export interface LimitView {
  which: string;
  reason: string;
  source: string;
  toIt: string;
  caution: string | undefined;
  /** Words, never a colour alone; undefined for a limit that was not computed outside what its method was validated for. */
  indicative: string | undefined;
}

export function limitView(limit: Limit, now: number): LimitView {
  const { heat } = words;
  return {
    which: limitKind(limit),
    reason: limit.reason,
    source: limit.source,
    toIt:
      now >= limit.limitAt
        ? heat.toIt.over(minutesSince(limit.limitAt, now))
        : heat.toIt.left(minutesUntil(limit.limitAt, now)),
    caution: limit.caution,
    indicative: limit.indicative && heat.indicative,
  };
}

/** In a log of before heat was computed a limit has no kind. */
export const limitKind = ({ kind }: Limit): string =>
  kind === undefined ? words.heat.limitKindUnknown : words.heat.limitKinds[kind];
