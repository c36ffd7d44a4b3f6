import type { PersonId } from '../../machines/wire/ids.ts';
import { words } from '../words/words.ts';
import type { Watch } from './standing.ts';

type NameOf = (id: PersonId) => string;

/** Who watches, in words. `needed`: somebody must be watching at this moment, and who is only expected does not. */
export function watchWords(watch: Watch, nameOf: NameOf, needed: boolean): string {
  switch (watch.by) {
    case 'guide':
      return watch.silent ? words.board.silentTablet(nameOf(watch.observer)) : nameOf(watch.observer);
    case 'expected':
      return needed ? words.board.nobodyWatching : words.board.expected(nameOf(watch.observer));
    case 'nobody':
      return needed ? words.board.nobodyWatching : words.board.nobodyYet;
    default: {
      const never: never = watch;
      throw new Error(`no watch ${JSON.stringify(never)}`);
    }
  }
}
