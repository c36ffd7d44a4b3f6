import type { AlertState } from '../../machines/alert/alert-machine.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import { procedureOf, stepOf } from '../../machines/unit/questions.ts';
import { stepsOf } from '../../machines/procedure/order.ts';
import type { WorkerContext } from '../../machines/worker/worker-machine.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { words } from '../words/words.ts';
import { handsOf } from './alert-view.ts';
import { minutesUntil, wallClock } from './clock.ts';
import type { FloorNames } from './floor-names.ts';

/** What an alert is about, by name: facts name nobody, screens do. */
export function alertSubject({ context }: AlertState, names: FloorNames): string {
  if (context.worker) return names.person(context.worker);
  if (context.observer) return names.person(context.observer);
  return context.lane ? names.lane(context.lane) : words.board.unit;
}

/**
 * What happened, in words. A fact's sentence never changes, so one that counts down would be wrong a minute later: how long it
 * is until the call-out time is said from the limit itself. A breach is called by its name in the unit's rules, a step by its
 * place in the procedure.
 */
export function alertBecause(alert: AlertState, state: UnitState, now: number): string {
  const { kind, worker: id } = alert.context;
  const worker = id && at(state.workers, id)?.machine.context;
  const limit = worker && worker.entry?.limit;
  if (kind === 'limit-approaching' && limit)
    return words.board.callOutComes(wallClock(limit.callOutAt), minutesUntil(limit.callOutAt, now));
  const said = worker && (breachSaid(alert, worker, state) ?? deviationSaid(alert, worker, state));
  return said ?? withoutKind(alert.context);
}

function breachSaid({ context }: AlertState, worker: WorkerContext, state: UnitState): string | undefined {
  const breach = worker.breaches.find((one) => context.subject === `${context.worker}/${one.id}`);
  if (context.kind !== 'breach' || !breach) return undefined;
  const name = state.rules.breaches.find((one) => one.kind === breach.kind)?.name ?? breach.kind;
  return `${name}. ${breach.now.join(' ')}`;
}

/** A step by its place in the procedure: its id means nothing to anybody, and its words may be three lines long. */
function deviationSaid({ context }: AlertState, worker: WorkerContext, state: UnitState): string | undefined {
  const deviation = worker.entry?.deviations.find((one) => context.subject === `${context.worker}/${one.id}`);
  if (context.kind !== 'deviation' || !worker.entry || !deviation) return undefined;
  const step = stepOf(state, worker.entry, deviation.step);
  if (!step) return undefined;
  const steps = stepsOf(procedureOf(state, worker.entry), step.phase);
  const what = words.board.deviationKinds[deviation.kind] ?? deviation.kind;
  const number = steps.indexOf(step) + 1;
  return words.board.deviation(step.phase, number, steps.length, what, deviation.actor, deviation.doNow);
}

/** The kind is the headline already; a sentence that begins with it again says it twice. */
function withoutKind({ kind, because }: AlertState['context']): string {
  const begin = `${words.alertKinds[kind]}. `;
  return because.startsWith(begin) ? because.slice(begin.length) : because;
}

/** Who has it: whoever acts on it, else who was shown it first, else nobody. */
export function alertHands(alert: AlertState, nameOf: (id: PersonId) => string): string {
  const hands = handsOf(alert);
  switch (hands.are) {
    case 'acting':
      return words.board.has(nameOf(hands.person), wallClock(hands.since));
    case 'told': {
      const first = Math.min(...hands.people.map((one) => one.since));
      const told = words.board.told(hands.people.map((one) => nameOf(one.person)).join(', '), wallClock(first));
      return `${words.board.nobodyHasIt}, ${told}`;
    }
    case 'none':
      return words.board.nobodyTold;
    default: {
      const never: never = hands;
      throw new Error(`no hands ${JSON.stringify(never)}`);
    }
  }
}
