import { fold } from '../../machines/unit/fold.ts';
import { detailOf, placeOf } from '../../machines/unit/questions.ts';
import { entriesOf, type Review, type UnitState } from '../../machines/unit/state.ts';
import type { AlertKind, AlertLevel, Fact, Priority } from '../../machines/wire/fact.ts';
import type { AlertId } from '../../machines/wire/ids.ts';

/** One alert from its raising to its end, as the log tells it. Times in milliseconds. */
export interface ReplayedAlert {
  id: AlertId;
  kind: AlertKind;
  subject: string;
  priority: Priority;
  /** How far it climbed. */
  level: AlertLevel;
  because: string;
  since: number;
  raisedAt: number;
  acknowledged?: { by: string; at: number };
  cleared?: { reason: string; at: number };
}

/** What a log leads to: the state at its end, and every alert on the way there, the cleared ones too. Pure but for its own memory. */
export class ReplayedLog {
  private state: UnitState | undefined;
  private last: Fact | undefined;
  private readonly alerts = new Map<AlertId, ReplayedAlert>();

  take(fact: Fact): void {
    this.state = fold(this.state, fact);
    this.last = fact;
    this.noteAlert(fact);
  }

  /** Undefined while no fact was taken. */
  result(): ReplayResult | undefined {
    return this.state && this.last && resultOf(this.state, this.last, [...this.alerts.values()]);
  }

  private noteAlert(fact: Fact): void {
    switch (fact.kind) {
      case 'alert-raised': {
        const { alert: id, alertKind: kind, subject, priority, level, because } = fact.data;
        const times = { since: fact.at, raisedAt: fact.receivedAt };
        this.alerts.set(id, { id, kind, subject, priority, level, because, ...times });
        return;
      }
      case 'alert-acknowledged':
        return this.change(fact.data.alert, { acknowledged: { by: fact.data.person, at: fact.at } });
      case 'alert-escalated':
        return this.change(fact.data.alert, { level: fact.data.level });
      case 'alert-cleared':
        return this.change(fact.data.alert, { cleared: { reason: fact.data.reason, at: fact.at } });
      default:
    }
  }

  private change(id: AlertId, change: Partial<ReplayedAlert>): void {
    const alert = this.alerts.get(id);
    if (alert) this.alerts.set(id, { ...alert, ...change });
  }
}

/** The answer of `replay --json`; its shape is part of what people build on. Ids in alphabetical order. */
export interface ReplayResult {
  unit: string;
  number: number;
  hash: string;
  lastAt: number;
  workers: Record<string, ReplayedWorker>;
  lanes: Record<string, { place: string; worker?: string }>;
  observers: Record<string, { place: string; detail?: string; worker?: string }>;
  alerts: ReplayedAlert[];
  reviews: readonly Review[];
}

interface ReplayedWorker {
  place: string;
  detail?: string;
  observer?: string;
  entry?: string;
  room?: string;
  lane?: string;
  emergency?: true;
  limitAt?: number;
}

function resultOf(state: UnitState, last: Fact, alerts: ReplayedAlert[]): ReplayResult {
  return {
    unit: state.unit,
    number: state.number,
    hash: last.hash,
    lastAt: last.receivedAt,
    workers: sorted(state.workers, ({ machine, observer }) => workerOf(machine, observer)),
    lanes: sorted(state.lanes, ({ value, context }) => ({
      place: value,
      ...(context.worker && { worker: context.worker }),
    })),
    observers: sorted(state.observers, ({ value, context }) => ({
      ...placeAndDetail(value),
      ...(context.worker && { worker: context.worker }),
    })),
    alerts,
    reviews: state.reviews,
  };
}

type Worker = UnitState['workers'][keyof UnitState['workers']];

function workerOf(machine: Worker['machine'], observer: Worker['observer']): ReplayedWorker {
  const { entry } = machine.context;
  const detail = detailOf(machine);
  return {
    place: placeOf(machine),
    ...(detail && { detail }),
    ...(observer && { observer }),
    ...(entry && { entry: entry.id, room: entry.room }),
    ...(entry?.lane && { lane: entry.lane }),
    ...(entry?.emergency && { emergency: true }),
    ...(entry?.limit && { limitAt: entry.limit.limitAt }),
  };
}

function placeAndDetail(value: string | object): { place: string; detail?: string } {
  if (typeof value === 'string') return { place: value };
  const [[place, detail] = ['', '']] = Object.entries(value) as [string, string][];
  return { place, detail };
}

function sorted<Id extends string, From, To>(
  record: Readonly<Record<Id, From>>,
  map: (one: From) => To,
): Record<string, To> {
  const entries = entriesOf(record).map(([id, one]) => [id, map(one)] as const);
  return Object.fromEntries(entries.sort(([a], [b]) => (a < b ? -1 : 1)));
}
