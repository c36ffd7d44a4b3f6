import type { AlertContext, AlertState } from '../alert/alert-machine.ts';
import { isHigher } from '../alert/alert-machine.ts';
import {
  priorities,
  sentenceMost,
  type AlertKind,
  type AlertLevel,
  type DraftFact,
  type FactData,
  type FactKind,
  type Priority,
} from '../wire/fact.ts';
import type { AlertId, PersonId } from '../wire/ids.ts';
import { conditionKey, conditions, type Condition } from './conditions.ts';
import { add, nextNumber, type Gathering } from './number.ts';
import { isAt, isCallable, isInPpe } from './questions.ts';
import { at, entriesOf, type UnitRules, type UnitState } from './state.ts';

/**
 * Time as facts. `deadlines` says when the state next changes by itself; `settle` writes what is due by `now`: rests that are
 * over, alerts whose condition has become true or false, alerts that climb. Both are pure, so a restart finds exactly what a
 * running server would have found, and what fell due meanwhile is written at once with its own time.
 */
export interface Deadline {
  at: number;
  what: 'limit-approaching' | 'call-out' | 'limit-reached' | 'check-due' | 'rest-ends' | 'alert-climbs';
  subject: string;
}

export function deadlines(state: UnitState): Deadline[] {
  return [...limitDeadlines(state), ...checkDeadlines(state), ...restDeadlines(state), ...climbDeadlines(state)].sort(
    (a, b) => a.at - b.at,
  );
}

function limitDeadlines(state: UnitState): Deadline[] {
  const open = openConditions(state);
  return entriesOf(state.workers).flatMap(([id, { machine }]) => {
    const limit = machine.context.entry?.limit;
    if (!limit || !isInPpe(machine)) return [];
    const callable = isCallable(machine);
    const all: Deadline[] = [
      ...(callable
        ? ([
            { at: limit.warnAt, what: 'limit-approaching', subject: id },
            { at: limit.callOutAt, what: 'call-out', subject: id },
          ] as const)
        : []),
      { at: limit.limitAt, what: 'limit-reached', subject: id },
    ];
    // What is alerted already, or has been overtaken by a worse alert, is no longer ahead.
    const reached = all.findLastIndex((one) => open.has(conditionKey({ kind: one.what, subject: id })));
    return all.slice(reached + 1);
  });
}

function checkDeadlines(state: UnitState): Deadline[] {
  const open = openConditions(state);
  return entriesOf(state.workers).flatMap(([id, { machine, check }]) =>
    check && isCallable(machine) && !open.has(conditionKey({ kind: 'check-due', subject: id }))
      ? [{ at: check.dueAt, what: 'check-due' as const, subject: id }]
      : [],
  );
}

const openConditions = (state: UnitState): ReadonlySet<string> =>
  new Set(Object.values(state.alerts).map((alert) => conditionKey(alert.context)));

function restDeadlines(state: UnitState): Deadline[] {
  return entriesOf(state.workers).flatMap(([id, { machine }]) =>
    isAt(machine, 'rest', 'recovering') && machine.context.rest
      ? [{ at: machine.context.rest.until, what: 'rest-ends' as const, subject: id }]
      : [],
  );
}

function climbDeadlines(state: UnitState): Deadline[] {
  return entriesOf(state.alerts).flatMap(([id, alert]) => {
    const climb = nextClimb(state.rules, alert);
    return climb ? [{ at: climb.at, what: 'alert-climbs' as const, subject: id }] : [];
  });
}

/** How far an unanswered alert may climb: a low one stays where it is, a medium one ends at the safety officer. */
const highestLevel: Readonly<Record<Priority, AlertLevel>> = {
  low: 'observer',
  medium: 'safety-officer',
  high: 'everyone',
};

export function nextClimb(rules: UnitRules, alert: AlertState): { at: number; level: AlertLevel } | undefined {
  if (alert.value !== 'unanswered') return undefined;
  const { level, priority, raisedAt } = alert.context;
  const timetable: { level: AlertLevel; seconds: number }[] = [
    { level: 'coordinator', seconds: rules.alerts.coordinatorAfterSeconds },
    { level: 'safety-officer', seconds: rules.alerts.safetyOfficerAfterSeconds },
    { level: 'everyone', seconds: rules.alerts.everyoneAfterSeconds },
  ];
  const next = timetable.find((one) => isHigher(one.level, level) && !isHigher(one.level, highestLevel[priority]));
  return next && { at: raisedAt + next.seconds * 1000, level: next.level };
}

/** Brings the state up to `now`. The facts come back numbered and already folded in. */
export function settle(gathering: Gathering, now: number): Gathering {
  return climb(matchAlerts(endRests(gathering, now), now), now);
}

function endRests(gathering: Gathering, now: number): Gathering {
  return restDeadlines(gathering.state)
    .filter((one) => one.at <= now)
    .reduce((sofar, one) => add(sofar, restEnded(sofar.state, one.subject as PersonId, one.at, now)), gathering);
}

/** Something may have been noted about the worker since: facts of one worker never go back in time. */
function restEnded(state: UnitState, worker: PersonId, until: number, now: number): DraftFact {
  return byWatch('rest-ended', { worker }, Math.max(until, at(state.workers, worker)?.lastAt ?? 0), now);
}

/** Raises what is true and not alerted, clears what is alerted and no longer true. */
function matchAlerts(gathering: Gathering, now: number): Gathering {
  const wanted = new Map(conditions(gathering.state, now).map((one) => [conditionKey(one), one]));
  const open = entriesOf(gathering.state.alerts).filter(([, alert]) => alert.value !== 'cleared');
  let sofar = gathering;
  for (const [id, alert] of open) {
    const condition = wanted.get(conditionKey(alert.context));
    // A condition that is worse or milder than it was, or about somebody else, is another alert: each says what is so now.
    if (condition && condition.priority === alert.context.priority && condition.worker === alert.context.worker)
      continue;
    sofar = add(sofar, byWatch('alert-cleared', { alert: id, reason: reasonToClear(alert.context, wanted) }, now, now));
  }
  const alerted = new Set(Object.values(sofar.state.alerts).map((alert) => conditionKey(alert.context)));
  for (const [key, condition] of wanted) if (!alerted.has(key)) sofar = add(sofar, raise(sofar.state, condition, now));
  return sofar;
}

const isWorse = (a: Priority, b: Priority): boolean => priorities.indexOf(a) > priorities.indexOf(b);

/** From mild to worst: only the worst of a family is alerted. */
const families: readonly (readonly AlertKind[])[] = [
  ['limit-approaching', 'call-out', 'limit-reached'],
  ['tablet-silent', 'no-observer'],
];

function reasonToClear(alert: AlertContext, wanted: Map<string, Condition>): string {
  const itself = wanted.get(conditionKey(alert));
  if (itself && itself.priority === alert.priority) return 'it is about somebody else now';
  if (itself) return `it is ${isWorse(itself.priority, alert.priority) ? 'worse' : 'less urgent'} now`;
  const family = families.find((kinds) => kinds.includes(alert.kind)) ?? [];
  const worse = family.slice(family.indexOf(alert.kind) + 1);
  const sibling = [...wanted.values()].find((one) => one.worker === alert.worker && worse.includes(one.kind));
  return sibling ? `a worse alert took its place: ${sibling.kind}` : 'its cause is over';
}

function raise(state: UnitState, condition: Condition, now: number): DraftFact {
  const { kind, since, because, ...rest } = condition;
  const alert = `A${nextNumber(state)}` as AlertId;
  const data = { alert, alertKind: kind, ...rest, because: shortened(because) };
  return byWatch('alert-raised', data, Math.min(since, now), now);
}

/** What a breach or a step says to do may be long; the whole of it is in the entry. */
const shortened = (text: string): string =>
  text.length <= sentenceMost ? text : `${text.slice(0, sentenceMost - 1)}…`;

function climb(gathering: Gathering, now: number): Gathering {
  let sofar = gathering;
  for (const [id] of entriesOf(gathering.state.alerts)) {
    // After a long silence an alert may have several steps to climb; each is a fact with its own time.
    for (;;) {
      const alert = sofar.state.alerts[id];
      const next = alert && nextClimb(sofar.state.rules, alert);
      if (!next || next.at > now) break;
      sofar = add(sofar, byWatch('alert-escalated', { alert: id, level: next.level }, next.at, now));
    }
  }
  return sofar;
}

export function byWatch<K extends FactKind>(kind: K, data: FactData<K>, at: number, receivedAt: number): DraftFact {
  return { kind, data, at, receivedAt, by: { watch: true } } as DraftFact;
}
