import type { AlertKind, AlertLevel, Priority } from '../wire/fact.ts';
import type { LaneId, PersonId } from '../wire/ids.ts';
import type { Entry, Limit } from '../worker/worker-machine.ts';
import { freeLanes, guideOf, holderOf, isAt, isCallable, isInPpe, placeOf, waitingForLane } from './questions.ts';
import { at, entriesOf, type UnitState, type UnitWorker } from './state.ts';

/**
 * What ought to be alerted at this moment. Each condition is true or not; an alert is raised when one becomes true and
 * cleared when it no longer is, so nothing depends on who noticed first, and a restart finds the same alerts.
 *
 * A worse condition stands in for its milder sibling (limit reached for call-out, call-out for approaching; nobody watching
 * for a silent tablet): only the worst of a family is listed.
 */
export interface Condition {
  kind: AlertKind;
  subject: string;
  priority: Priority;
  level: AlertLevel;
  worker?: PersonId;
  observer?: PersonId;
  lane?: LaneId;
  because: string;
  /** When it became true, milliseconds. */
  since: number;
}

export const conditionKey = (one: { kind: string; subject: string }): string => `${one.kind}:${one.subject}`;

export function conditions(state: UnitState, now: number): Condition[] {
  const perWorker = entriesOf(state.workers).flatMap(([id, worker]) => workerConditions(state, id, worker, now));
  const all = [...perWorker, ...silentTablets(state), ...laneClash(state)];
  return all.filter((one) => !state.settled.includes(conditionKey(one)));
}

function workerConditions(state: UnitState, id: PersonId, worker: UnitWorker, now: number): Condition[] {
  const entry = worker.machine.context.entry;
  return [
    ...breaches(state, id, worker),
    ...(entry
      ? [
          ...limitConditions(id, worker, entry.limit, now),
          ...checkDue(id, worker, now),
          ...deviations(id, entry),
          ...nobodyWatching(state, id, worker),
          ...emergency(id, worker, entry),
          ...outOfBounds(id, worker),
          ...notReady(id, worker, entry),
          ...shortRest(id, worker, entry),
        ]
      : []),
  ];
}

function limitConditions(id: PersonId, { machine }: UnitWorker, limit: Limit | undefined, now: number): Condition[] {
  if (!limit || !isInPpe(machine)) return [];
  const about = { subject: id, worker: id };
  if (now >= limit.limitAt)
    return [
      {
        ...about,
        kind: 'limit-reached',
        priority: 'high',
        level: 'coordinator',
        because: `The limit of ${Math.round(limit.minutes)} min is reached (${limit.reason}). Out now, by the nearest free lane.`,
        since: limit.limitAt,
      },
    ];
  // Somebody already on the way out needs no more calling; only the limit itself still counts for them.
  if (!isCallable(machine)) return [];
  if (now >= limit.callOutAt)
    return [
      {
        ...about,
        kind: 'call-out',
        priority: 'medium',
        level: 'coordinator',
        because: `Call out now, so that doffing ends inside the limit of ${Math.round(limit.minutes)} min.`,
        since: limit.callOutAt,
      },
    ];
  if (now >= limit.warnAt)
    return [
      {
        ...about,
        kind: 'limit-approaching',
        priority: 'low',
        level: 'observer',
        because: `The call-out time comes in ${Math.max(1, Math.round((limit.callOutAt - limit.warnAt) / 60_000))} min.`,
        since: limit.warnAt,
      },
    ];
  return [];
}

/** Somebody on the way out is looked after at the post-check. */
function checkDue(id: PersonId, { machine, check }: UnitWorker, now: number): Condition[] {
  if (!check || now < check.dueAt || !isCallable(machine)) return [];
  const because = `Look after the worker now: pulse, temperature, how they feel (${check.reason}).`;
  return [
    { kind: 'check-due', subject: id, priority: 'medium', level: 'observer', worker: id, because, since: check.dueAt },
  ];
}

function deviations(id: PersonId, entry: Entry): Condition[] {
  return entry.deviations.map((one) => ({
    kind: 'deviation',
    subject: `${id}/${one.id}`,
    priority: one.critical ? 'high' : 'medium',
    level: 'observer',
    worker: id,
    because: `Step "${one.step}": ${deviationWords[one.kind] ?? one.kind}, by the ${one.actor}. ${one.doNow}`,
    since: one.at,
  }));
}

const deviationWords: Readonly<Record<string, string>> = {
  missed: 'missed',
  'out-of-order': 'out of order',
  'too-short': 'too short',
  touched: 'something was touched',
  torn: 'something tore',
  'wrong-person': 'done by the wrong person',
};

function nobodyWatching(state: UnitState, id: PersonId, worker: UnitWorker): Condition[] {
  if (!isAt(worker.machine, 'doffing') || guideOf(state, id)) return [];
  const holder = holderOf(state, id);
  return [
    {
      kind: 'no-observer',
      subject: id,
      priority: 'high',
      level: 'coordinator',
      worker: id,
      ...(holder && { observer: holder }),
      because: holder
        ? 'In doffing, and the tablet of the observer is silent. Send another observer, or speak by radio.'
        : 'In doffing with no observer. Nothing comes off until somebody watches.',
      since: (holder && at(state.observers, holder)?.context.since) ?? state.at,
    },
  ];
}

function silentTablets(state: UnitState): Condition[] {
  return entriesOf(state.observers)
    .filter(([, observer]) => observer.value === 'unreachable')
    .filter(([, { context }]) => !(context.worker && watchedInDoffing(state, context.worker)))
    .map(([id, { context }]) => ({
      kind: 'tablet-silent' as const,
      subject: id,
      priority: context.worker ? ('high' as const) : ('low' as const),
      level: 'coordinator' as const,
      observer: id,
      ...(context.worker && { worker: context.worker }),
      because: context.worker
        ? 'The tablet went silent while its observer was guiding somebody. Go and look, or speak by radio.'
        : 'The tablet of an observer on duty does not answer.',
      since: context.since,
    }));
}

/** In doffing the silence of the observer's tablet is shown as what it means: nobody is watching. */
function watchedInDoffing(state: UnitState, id: PersonId): boolean {
  const worker = at(state.workers, id);
  return worker !== undefined && isAt(worker.machine, 'doffing');
}

/** More people on their way out than lanes to take them. */
function laneClash(state: UnitState): Condition[] {
  const waiting = waitingForLane(state);
  const free = freeLanes(state).length;
  if (waiting.length <= free) return [];
  const atThreshold = waiting.some(([, worker]) => isAt(worker.machine, 'doffing'));
  const [first] = waiting.slice(free);
  if (!first) return [];
  return [
    {
      kind: 'lane-clash',
      subject: 'lanes',
      priority: atThreshold ? 'high' : 'medium',
      level: 'coordinator',
      worker: first[0],
      because: `${waiting.length} on the way out, ${free} of ${state.rules.lanes.length} lanes free. Clear or reopen a lane, or hold somebody in the room.`,
      since: first[1].lastAt,
    },
  ];
}

function breaches(state: UnitState, id: PersonId, worker: UnitWorker): Condition[] {
  const nameOf = (kind: string) => state.rules.breaches.find((rule) => rule.kind === kind)?.name ?? kind;
  return worker.machine.context.breaches.map((one) => ({
    kind: 'breach' as const,
    subject: `${id}/${one.id}`,
    priority: one.class === 'near-miss' ? ('medium' as const) : ('high' as const),
    level: 'safety-officer' as const,
    worker: id,
    because: `${nameOf(one.kind)}. ${one.now.join(' ')}`,
    since: one.at,
  }));
}

function emergency(id: PersonId, worker: UnitWorker, entry: Entry): Condition[] {
  if (!entry.emergency || !isInPpe(worker.machine)) return [];
  return [
    {
      kind: 'emergency-exit',
      subject: id,
      priority: 'high',
      level: 'safety-officer',
      worker: id,
      because: 'Emergency exit. A lane and an observer are theirs before anybody else.',
      since: entry.leftRoomAt ?? worker.lastAt,
    },
  ];
}

function outOfBounds(id: PersonId, worker: UnitWorker): Condition[] {
  const { machine } = worker;
  const entry = machine.context.entry;
  const before = isAt(machine, 'pre-check', 'held') && entry?.screening === 'vitals-out-of-bounds';
  const after = isAt(machine, 'post-check', 'held');
  if (!before && !after) return [];
  return [
    {
      kind: 'vitals-out-of-bounds',
      subject: id,
      priority: 'medium',
      level: 'safety-officer',
      worker: id,
      because: before
        ? "Held before donning: a vital sign is outside the unit's bounds. Measure again, release with a reason, or stand down."
        : "Held after doffing: a vital sign is outside the unit's bounds. Stay with the worker; occupational health decides.",
      since: worker.lastAt,
    },
  ];
}

/** Low, and the coordinator's: the observer knows, and it is mostly put right on the spot; but the plan may have to wait for it. */
function notReady(id: PersonId, { machine, lastAt }: UnitWorker, entry: Entry): Condition[] {
  if (!isAt(machine, 'pre-check', 'held') || entry.screening !== 'not-ready') return [];
  return [
    {
      kind: 'not-ready',
      subject: id,
      priority: 'low',
      level: 'coordinator',
      worker: id,
      because: 'Held before donning: something is not ready. Put it right and ask again, or release with a reason.',
      since: lastAt,
    },
  ];
}

function shortRest(id: PersonId, worker: UnitWorker, entry: Entry): Condition[] {
  if (!entry.restCutShort || placeOf(worker.machine) === 'rest') return [];
  return [
    {
      kind: 'rest-too-short',
      subject: id,
      priority: 'medium',
      level: 'safety-officer',
      worker: id,
      because: 'Called before the rest was over.',
      since: entry.calledAt,
    },
  ];
}
