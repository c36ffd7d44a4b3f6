import { isHigher, type AlertState } from '../../machines/alert/alert-machine.ts';
import { audienceOf } from '../../machines/alert/audience.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import { priorities } from '../../machines/wire/fact.ts';
import type { AlertId, PersonId } from '../../machines/wire/ids.ts';

/**
 * The officer's alerts: those nobody has answered, worst first, and those somebody acts on. One of them is shown as a whole
 * message; the rest are lines below it.
 */
export interface Inbox {
  unanswered: AlertState[];
  /** Answered by the officer at this page. */
  mine: AlertState[];
  /** Answered by somebody else. */
  others: AlertState[];
}

export function inboxOf(state: UnitState, me: PersonId | undefined): Inbox {
  const open = Object.values(state.alerts)
    .filter((alert) => alert.value !== 'cleared')
    .sort((a, b) => byWorst(state, me, a, b));
  const answered = open.filter((alert) => alert.value === 'acknowledged');
  const isMine = ({ context }: AlertState) => me !== undefined && context.acknowledgedBy === me;
  return {
    unanswered: open.filter((alert) => alert.value === 'unanswered'),
    mine: answered.filter(isMine),
    others: answered.filter((alert) => !isMine(alert)),
  };
}

/** By priority; then those that call the officer; then the one that has climbed highest; then the oldest. */
function byWorst(state: UnitState, me: PersonId | undefined, a: AlertState, b: AlertState): number {
  return (
    priorities.indexOf(b.context.priority) - priorities.indexOf(a.context.priority) ||
    Number(callsOfficer(state, b, me)) - Number(callsOfficer(state, a, me)) ||
    climbed(a, b) ||
    a.context.raisedAt - b.context.raisedAt ||
    (a.context.id < b.context.id ? -1 : 1)
  );
}

function climbed(a: AlertState, b: AlertState): number {
  if (a.context.level === b.context.level) return 0;
  return isHigher(a.context.level, b.context.level) ? -1 : 1;
}

export const callsOfficer = (state: UnitState, alert: AlertState, me: PersonId | undefined): boolean =>
  audienceOf(state, alert, 'safety-officer', me) === 'called';

/** A low alert never climbs to the officer: it is a line in the list, and never pushes itself to the front. */
const comesForward = (state: UnitState, alert: AlertState, me: PersonId | undefined): boolean =>
  alert.context.priority !== 'low' || callsOfficer(state, alert, me);

/** An alert that the officer opened or answered, and when. */
export interface Choice {
  alert: AlertId;
  at: number;
}

/**
 * The one message on the page. What the officer opened stays, so that nothing is swapped under the thumb, unless something
 * worse has come to the officer since. Otherwise the worst that nobody has answered, then the worst that the officer acts on.
 */
export function shownOf(
  state: UnitState,
  me: PersonId | undefined,
  choice: Choice | undefined,
): AlertState | undefined {
  const { unanswered, mine } = inboxOf(state, me);
  const worst = unanswered.find((alert) => comesForward(state, alert, me));
  const chosen = choice && at(state.alerts, choice.alert);
  if (chosen && !(worst && overtakes(state, me, worst, chosen, choice.at))) return chosen;
  return worst ?? mine[0];
}

function overtakes(
  state: UnitState,
  me: PersonId | undefined,
  worst: AlertState,
  chosen: AlertState,
  since: number,
): boolean {
  const isWorse = priorities.indexOf(worst.context.priority) > priorities.indexOf(chosen.context.priority);
  return isWorse && callsOfficer(state, worst, me) && worst.context.levelSince > since;
}

/** The worst unanswered alert that is not the message on the page: it must be seen all the same. */
export function alsoWaiting(state: UnitState, me: PersonId | undefined, shown: AlertState): AlertState | undefined {
  return inboxOf(state, me).unanswered.find(
    (alert) => alert.context.id !== shown.context.id && comesForward(state, alert, me),
  );
}
