import { observers, type ObserverEvent } from '../observer/observer-machine.ts';
import type { DraftFact } from '../wire/fact.ts';
import type { PersonId } from '../wire/ids.ts';
import { accept, draft, onDuty, refuse, withEntry, type Case, type Decider, type Decision } from './decision.ts';
import { assistedBy, detailOf, holderOf, isAt, placeOf } from './questions.ts';
import { at } from './state.ts';

/** Reports by which observers come and go, and take and release workers. */

export const startDuty: Decider<'start-duty'> = (one) => {
  const observer = at(one.state.observers, one.person);
  if (!observer)
    return refuse('observer/unknown', 'You are not an observer of this unit. The lead can add you to the roster.');
  const worker = at(one.state.workers, one.person);
  if (worker && placeOf(worker.machine) !== 'rest')
    return refuse(
      'observer/in-an-entry',
      'You are in an entry yourself. Nobody observes while in a chain of their own.',
    );
  return accept(
    draft(one, 'duty-started', { observer: one.person, device: one.device }),
    // Their old tablet is silent and may stay so for ever; they answer at this one.
    ...(observer.value === 'unreachable' ? [draft(one, 'observer-reachable', { observer: one.person })] : []),
  );
};

export const endDuty: Decider<'end-duty'> = (one) =>
  move(one, { type: 'end duty', at: one.at }, () => draft(one, 'duty-ended', { observer: one.person }));

export const startBreak: Decider<'start-break'> = (one) =>
  move(one, { type: 'start break', at: one.at }, () => draft(one, 'break-started', { observer: one.person }));

export const endBreak: Decider<'end-break'> = (one) =>
  move(one, { type: 'end break', at: one.at }, () => draft(one, 'break-ended', { observer: one.person }));

function move(one: Case, event: ObserverEvent, fact: () => DraftFact): Decision {
  return onDuty(one, () => {
    const observer = at(one.state.observers, one.person);
    if (observer && observers.can(observer, event)) return accept(fact());
    return refuse(
      'observer/not-free',
      observer?.context.worker
        ? 'You are guiding a worker. Finish, or let another observer take over first.'
        : 'That does not fit what you are doing now. Look at the screen again.',
    );
  });
}

/**
 * Takes a worker, from the pre-check to the door and again from the way out to the post-check. Taking over from another
 * observer is one act: the worker is never without one in between.
 */
export const takeWorker: Decider<'take-worker'> = (one) =>
  onDuty(one, () =>
    withEntry(one, one.report.data.worker, (worker, entry) => {
      const id = one.report.data.worker;
      const phase = guidingPhase(placeOf(worker.machine), detailOf(worker.machine));
      if (!phase)
        return refuse('worker/elsewhere', 'This worker is inside and working. Take them when they are called out.');
      if (id === one.person) return refuse('observer/in-an-entry', 'Nobody can be their own observer.');
      const holder = holderOf(one.state, id);
      if (holder === one.person) return accept();
      if (assistedBy(one.state, one.person))
        return refuse('observer/not-free', 'You are assisting at a doffing. Whoever assists does not observe as well.');
      const me = at(one.state.observers, one.person);
      if (!me || !observers.can(me, { type: 'take worker', at: one.at, worker: id, guiding: phase }))
        return refuse(
          'observer/not-free',
          'You can guide one worker at a time. Finish, or hand the other one over first.',
        );
      return accept(
        ...(holder ? [draft(one, 'worker-released', { worker: id, entry: entry.id, observer: holder })] : []),
        draft(one, 'worker-taken', { worker: id, entry: entry.id, observer: one.person, guiding: phase }),
      );
    }),
  );

export function guidingPhase(place: string, detail?: string): 'donning' | 'doffing' | undefined {
  if (place === 'pre-check' || place === 'donned') return 'donning';
  if (place === 'doffing' || place === 'post-check' || (place === 'inside' && detail === 'leaving')) return 'doffing';
  return undefined;
}

export const releaseWorker: Decider<'release-worker'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) => {
    const id = one.report.data.worker;
    if (holderOf(one.state, id) !== one.person)
      return refuse('observer/not-with-worker', 'You are not guiding this worker.');
    if (isAt(worker.machine, 'doffing'))
      return refuse(
        'observer/not-with-worker',
        'Nobody doffs unwatched: another observer must take over before you let go.',
      );
    return accept(draft(one, 'worker-released', { worker: id, entry: entry.id, observer: one.person }));
  });

/** The fact by which whoever guides the worker lets go, if anybody does. */
export function releaseFacts(
  one: Case,
  worker: PersonId,
  entry: Parameters<typeof draft<'worker-released'>>[2]['entry'],
): DraftFact[] {
  const holder = holderOf(one.state, worker);
  return holder ? [draft(one, 'worker-released', { worker, entry, observer: holder })] : [];
}
