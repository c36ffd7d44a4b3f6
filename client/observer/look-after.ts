import { isAt, isInPpe } from '../../machines/unit/questions.ts';
import type { Bounds } from '../../machines/unit/settings.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import type { Entry } from '../../machines/worker/worker-machine.ts';
import { workOf, type Work } from '../heat/work.ts';

/** What an observer can see and do about somebody in equipment besides guiding them. */
export interface LookAfter {
  worker: PersonId;
  entry: Entry;
  /** Undefined where the unit computes nothing about heat: then nothing is set and no check is recorded. */
  work: Work | undefined;
  bounds: Bounds;
  check: { dueAt: number; isDue: boolean } | undefined;
  /** A check found more than the unit allows: they come out now. */
  over: boolean;
  callable: boolean;
}

export function lookAfterOf(state: UnitState, id: PersonId, now: number): LookAfter | undefined {
  const worker = at(state.workers, id);
  const entry = worker?.machine.context.entry;
  if (!worker || !entry || !isInPpe(worker.machine)) return undefined;
  const { check, overSince, machine } = worker;
  return {
    worker: id,
    entry,
    work: workOf(state, id),
    bounds: checkBounds(state),
    check: check && checkShown(entry, check.dueAt, now),
    over: overSince !== undefined,
    callable: isAt(machine, 'inside', 'working'),
  };
}

/** A check that only falls due after they have been called out tells nobody anything until they have stayed that long. */
function checkShown({ limit }: Entry, dueAt: number, now: number): LookAfter['check'] {
  const isDue = now >= dueAt;
  return isDue || !limit || dueAt < limit.callOutAt ? { dueAt, isDue } : undefined;
}

/** Pulse and temperature are measured in a check also where the unit has set no bound for one of them. */
function checkBounds({ rules }: UnitState): Bounds {
  const upTo = (high: number | undefined) => (high === undefined ? {} : { high });
  return { pulsePerMin: upTo(rules.heat?.check.pulsePerMin), temperatureC: upTo(rules.heat?.check.temperatureC) };
}
