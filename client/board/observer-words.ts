import type { PersonId } from '../../machines/wire/ids.ts';
import { words } from '../words/words.ts';
import type { ObserverView } from './observer-view.ts';

/** What an observer does at this moment, in words. */
export function observerDoes(one: ObserverView, nameOf: (id: PersonId) => string): string {
  const { observer } = words.board;
  switch (one.is) {
    case 'free':
    case 'break':
    case 'off':
      return observer[one.is];
    case 'with':
      return observer[one.phase](nameOf(one.worker));
    case 'silent':
      return one.worker ? observer.silentWith(nameOf(one.worker)) : observer.silent;
    default: {
      const never: never = one;
      throw new Error(`no observer ${JSON.stringify(never)}`);
    }
  }
}
