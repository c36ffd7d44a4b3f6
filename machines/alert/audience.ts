import type { PersonId } from '../wire/ids.ts';
import type { Role } from '../wire/rights.ts';
import { holderOf } from '../unit/questions.ts';
import { at, type UnitState } from '../unit/state.ts';
import { isHigher, type AlertState } from './alert-machine.ts';

/**
 * What an alert is to the person at a screen: it calls them, it is shown to them, or it is somebody else's. An alert that has
 * climbed calls everybody it passed on the way.
 */
export type Audience = 'called' | 'shown' | 'not-theirs';

export function audienceOf(state: UnitState, alert: AlertState, role: Role, person: PersonId | undefined): Audience {
  const { level } = alert.context;
  const reached = (than: 'coordinator' | 'safety-officer') => level === than || isHigher(level, than);
  switch (role) {
    case 'wall':
    case 'lead':
      return 'shown';
    case 'coordinator':
      return reached('coordinator') ? 'called' : 'shown';
    case 'safety-officer':
      return reached('safety-officer') ? 'called' : 'shown';
    case 'observer':
      return level === 'everyone' || concerns(state, alert, person) ? 'called' : 'not-theirs';
    default: {
      const never: never = role;
      throw new Error(`no role ${String(never)}`);
    }
  }
}

/** Whether an alert is about this observer or about the worker they guide or are expected to watch. */
function concerns(state: UnitState, alert: AlertState, person: PersonId | undefined): boolean {
  const { worker, observer } = alert.context;
  if (person === undefined) return false;
  if (observer === person) return true;
  if (worker === undefined) return false;
  return holderOf(state, worker) === person || at(state.workers, worker)?.observer === person;
}
