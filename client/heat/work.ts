import type { WorkRate } from '../../machines/unit/heat-settings.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { wallClock } from '../board/clock.ts';
import { words } from '../words/words.ts';

/** How hard somebody is taken to work, and since when; undefined where the unit computes nothing about heat. */
export interface Work {
  rate: WorkRate;
  since: number | undefined;
}

export function workOf(state: UnitState, worker: PersonId): Work | undefined {
  const usual = state.rules.heat?.work.usual;
  if (usual === undefined) return undefined;
  const last = at(state.workers, worker)?.work?.at(-1);
  return last ? { rate: last.work, since: last.at } : { rate: usual, since: undefined };
}

export function workWords({ rate, since }: Work): string {
  const { name } = words.heat.workRates[rate];
  return since === undefined ? words.heat.workUsual(name) : words.heat.workNow(name, wallClock(since));
}
