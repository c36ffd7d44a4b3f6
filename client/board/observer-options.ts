import type { PersonId } from '../../machines/wire/ids.ts';
import type { Refusal } from '../../machines/wire/refusal.ts';
import { words } from '../words/words.ts';
import { minutesSince } from './clock.ts';
import type { Desk } from './desk.ts';
import { observerViews, type ObserverView } from './observer-view.ts';
import { observerDoes } from './observer-words.ts';

const rank: Readonly<Record<ObserverView['is'], number>> = { free: 0, with: 1, break: 2, silent: 3, off: 4 };

/** Observers on duty to choose from, free ones first, each with what they do now; `why` says who can't be chosen. */
export function observerOptions(desk: Desk, why: (observer: PersonId) => Refusal | undefined) {
  return observerViews(desk.state)
    .filter((one) => one.is !== 'off')
    .sort((a, b) => rank[a.is] - rank[b.is])
    .map((one) => ({
      value: one.id,
      label: desk.names.person(one.id),
      detail: `${observerDoes(one, desk.names.person)}, ${words.minutes(minutesSince(one.since, desk.now))}`,
      refused: why(one.id)?.sentence,
    }));
}
