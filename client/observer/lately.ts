import { holderOf, isAt } from '../../machines/unit/questions.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { againOf, type Again } from '../heat/again.ts';

/** What became of the worker this observer guided last: said once more, because the page about them is gone. */
export type Lately =
  | { is: 'went-in' }
  | { is: 'taken-over'; by: PersonId }
  | { is: 'resting'; until: number; reason: string; again: Again | undefined }
  | { is: 'held-after' }
  | { is: 'stopped' };

export function latelyOf(state: UnitState, me: PersonId, worker: PersonId): Lately | undefined {
  const found = at(state.workers, worker);
  if (!found) return undefined;
  const { machine } = found;
  const by = holderOf(state, worker);
  if (by) return by === me ? undefined : { is: 'taken-over', by };
  if (isAt(machine, 'inside', 'working')) return { is: 'went-in' };
  if (isAt(machine, 'post-check', 'held')) return { is: 'held-after' };
  const { rest } = machine.context;
  if (rest) return { is: 'resting', until: rest.until, reason: rest.reason, again: againOf(found.after, rest.since) };
  return isAt(machine, 'rest') ? { is: 'stopped' } : undefined;
}
