import { guideOf, isAt, isInPpe } from '../../machines/unit/questions.ts';
import { entriesOf, type UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';

/**
 * What makes "all quiet" a fact and not an empty page: counted from the same state the alerts come from, so that somebody who
 * sees no alert also sees what was looked at.
 */
export interface Quiet {
  inPpe: number;
  overLimit: number;
  /** Who has to be called out next, and when. */
  nextCallOut: { person: PersonId; at: number } | undefined;
  doffing: number;
  watched: number;
  onDuty: number;
  silent: number;
  held: number;
}

export function quietOf(state: UnitState, now: number): Quiet {
  const workers = entriesOf(state.workers);
  const worn = workers.filter(([, { machine }]) => isInPpe(machine));
  const doffing = workers.filter(([, { machine }]) => isAt(machine, 'doffing'));
  const observers = Object.values(state.observers).filter((one) => one.value !== 'off-shift');
  return {
    inPpe: worn.length,
    overLimit: worn.filter(([, { machine }]) => (machine.context.entry?.limit?.limitAt ?? Infinity) <= now).length,
    nextCallOut: nextCallOut(state),
    doffing: doffing.length,
    watched: doffing.filter(([id]) => guideOf(state, id) !== undefined).length,
    onDuty: observers.length,
    silent: observers.filter((one) => one.value === 'unreachable').length,
    held: workers.filter(([, { machine }]) => isAt(machine, 'pre-check', 'held') || isAt(machine, 'post-check', 'held'))
      .length,
  };
}

/** Whoever is on the way out needs no calling. */
function nextCallOut(state: UnitState): Quiet['nextCallOut'] {
  const ahead = entriesOf(state.workers).flatMap(([person, { machine }]) => {
    const at = machine.context.entry?.limit?.callOutAt;
    const callable = isAt(machine, 'donned') || isAt(machine, 'inside', 'working');
    return at !== undefined && callable ? [{ person, at }] : [];
  });
  return ahead.sort((a, b) => a.at - b.at)[0];
}
