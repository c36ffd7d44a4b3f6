import { at, type UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { wallClock } from '../board/clock.ts';
import { words } from '../words/words.ts';

/** When to call them out, as the tablet of their observer says it: and that somebody brought it forward, and why. */
export function comesOutWords(state: UnitState | undefined, worker: PersonId, callOutAt: number): string {
  const plan = state && at(state.workers, worker)?.callOutPlan;
  const time = wallClock(callOutAt);
  return plan ? words.forecast.broughtForward(time, plan.reason) : words.tablet.callOutAt(time);
}
