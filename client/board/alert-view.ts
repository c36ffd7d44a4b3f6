import { isHigher, type AlertState } from '../../machines/alert/alert-machine.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import { priorities } from '../../machines/wire/fact.ts';
import type { PersonId } from '../../machines/wire/ids.ts';

/** Open alerts, worst first: by priority, then those nobody has answered, then the one that has climbed highest, then age. */
export function alertsByWorst(state: UnitState): AlertState[] {
  return Object.values(state.alerts)
    .filter((alert) => alert.value !== 'cleared')
    .sort(
      (a, b) =>
        priorities.indexOf(b.context.priority) - priorities.indexOf(a.context.priority) ||
        Number(a.value === 'acknowledged') - Number(b.value === 'acknowledged') ||
        climbed(a, b) ||
        a.context.since - b.context.since,
    );
}

function climbed(a: AlertState, b: AlertState): number {
  if (a.context.level === b.context.level) return 0;
  return isHigher(a.context.level, b.context.level) ? -1 : 1;
}

export function worstAlertOf(state: UnitState, person: PersonId): AlertState | undefined {
  return alertsByWorst(state).find((alert) => alert.context.worker === person);
}

/** Who has an alert: somebody who acts on it, people it was shown to, or nobody yet. */
export type Hands =
  | { are: 'acting'; person: PersonId; since: number }
  | { are: 'told'; people: { person: PersonId; since: number }[] }
  | { are: 'none' };

export function handsOf({ context }: AlertState): Hands {
  if (context.acknowledgedBy !== undefined && context.acknowledgedAt !== undefined)
    return { are: 'acting', person: context.acknowledgedBy, since: context.acknowledgedAt };
  const first = new Map<PersonId, number>();
  for (const { person, at: since } of context.told)
    if (person !== undefined) first.set(person, Math.min(since, first.get(person) ?? Infinity));
  if (first.size === 0) return { are: 'none' };
  return { are: 'told', people: [...first].map(([person, since]) => ({ person, since })) };
}

/** Whether this screen has answered an alert and waits for the server to say so. */
export function isAnswerUnderWay(seen: UnitState, confirmed: AlertState): boolean {
  return confirmed.value === 'unanswered' && at(seen.alerts, confirmed.context.id)?.value === 'acknowledged';
}
