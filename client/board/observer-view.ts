import type { ObserverState } from '../../machines/observer/observer-machine.ts';
import { entriesOf, type UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';

/** An observer as the board shows them: free, with somebody, on a break, silent, or off. */
export type ObserverIs =
  | { is: 'free' }
  | { is: 'with'; worker: PersonId; phase: 'donning' | 'doffing' }
  | { is: 'break' }
  | { is: 'silent'; worker: PersonId | undefined }
  | { is: 'off' };

export type ObserverView = ObserverIs & {
  id: PersonId;
  since: number;
  /** Workers of open entries who are expected to be watched by this observer and are not at the moment. */
  expectedBy: PersonId[];
};

/** Everybody on duty in the order of the roster, then those who are off. */
export function observerViews(state: UnitState): ObserverView[] {
  const views = entriesOf(state.observers).map(([id, observer]) => ({
    id,
    since: observer.context.since,
    expectedBy: expecting(state, id, observer.context.worker),
    ...observerIs(observer),
  }));
  return [...views.filter((one) => one.is !== 'off'), ...views.filter((one) => one.is === 'off')];
}

function expecting(state: UnitState, observer: PersonId, guided: PersonId | undefined): PersonId[] {
  return entriesOf(state.workers)
    .filter(([id, worker]) => worker.observer === observer && worker.machine.context.entry && id !== guided)
    .map(([id]) => id);
}

function observerIs({ value, context }: ObserverState): ObserverIs {
  if (typeof value === 'object')
    return context.worker ? { is: 'with', worker: context.worker, phase: value.guiding } : { is: 'free' };
  switch (value) {
    case 'available':
      return { is: 'free' };
    case 'break':
      return { is: 'break' };
    case 'unreachable':
      return { is: 'silent', worker: context.worker };
    case 'off-shift':
      return { is: 'off' };
    default: {
      const never: never = value;
      throw new Error(`no observer state ${String(never)}`);
    }
  }
}
