import type {
  BreachId,
  DeviationId,
  EntryId,
  LaneId,
  PersonId,
  PointId,
  ProcedureId,
  RoomId,
  StepId,
} from '../../machines/wire/ids.ts';
import {
  workers,
  type Breach,
  type Deviation,
  type Entry,
  type Limit,
  type Rest,
  type WorkerEvent,
  type WorkerState,
} from '../../machines/worker/worker-machine.ts';
import { leafOf, Model } from '../support/model.ts';

/** A worker with a checklist short enough to walk in every order: two kit items, two steps on, one at the door, two off. */
const at = 5;
const points = (...ids: string[]) => ids as PointId[];
const steps = (...ids: string[]) => ids as StepId[];

export const entry: Entry = {
  id: 'E1' as EntryId,
  room: 'r1' as RoomId,
  procedure: 'p' as ProcedureId,
  version: 1,
  calledAt: at,
  outstanding: {
    kit: points('k1', 'k2'),
    donning: steps('d1', 'd2'),
    exit: steps('x1'),
    doffing: steps('f1', 'f2'),
  },
  done: [],
  screening: 'open',
  deviations: [],
  overridden: [],
  restCutShort: false,
  emergency: false,
};

/** D2 has one corrective step, D1 none. */
const deviation = (id: string): Deviation => ({
  id: id as DeviationId,
  ...(id === 'D2' && { corrective: [{ words: 'New glove.' }] }),
  step: 'f1' as StepId,
  kind: 'torn',
  actor: 'worker',
  critical: true,
  doNow: 'Stop.',
  at,
});
const breach: Breach = {
  id: 'B1' as BreachId,
  kind: 'splash',
  class: 'high-risk',
  now: ['Stop.'],
  then: ['Wash.'],
  leaveRoom: true,
  at,
};
const limit: Limit = { minutes: 60, reason: 'r', source: 's', limitAt: 60, callOutAt: 50, warnAt: 40 };
const rest: Rest = { since: at, until: 30, reason: 'r' };

export const event = {
  call: (despiteRest = false): WorkerEvent => ({ type: 'call', at, entry, despiteRest }),
  cancel: { type: 'cancel', at },
  passScreening: { type: 'pass screening', at },
  hold: (verdict: 'vitals-out-of-bounds' | 'not-ready' = 'vitals-out-of-bounds'): WorkerEvent => ({
    type: 'hold at screening',
    at,
    verdict,
  }),
  releaseHold: { type: 'release hold', at, restUntil: 60, reason: 'r' },
  confirm: (item: string): WorkerEvent => ({ type: 'confirm kit', at, item: item as PointId }),
  verify: (step: string): WorkerEvent => ({ type: 'verify step', at, step: step as StepId }),
  override: (step: string): WorkerEvent => ({ type: 'override step', at, step: step as StepId }),
  note: (id: string): WorkerEvent => ({ type: 'note deviation', at, deviation: deviation(id) }),
  doCorrective: (id: string, index: number): WorkerEvent => ({
    type: 'do corrective step',
    at,
    deviation: id as DeviationId,
    index,
  }),
  correct: (id: string): WorkerEvent => ({ type: 'correct deviation', at, deviation: id as DeviationId }),
  passInspection: { type: 'pass inspection', at },
  failInspection: (...ids: string[]): WorkerEvent => ({ type: 'fail inspection', at, steps: steps(...ids) }),
  setLimit: { type: 'set limit', at, limit },
  enterRoom: { type: 'enter room', at, room: 'r1' as RoomId },
  callOut: { type: 'call out', at },
  leaveRoom: { type: 'leave room', at },
  enterLane: { type: 'enter lane', at, lane: 'l1' as LaneId, assistant: 'ada' as PersonId },
  emergency: { type: 'declare emergency', at },
  declareBreach: { type: 'declare breach', at, breach },
  clearBreach: (id = 'B1'): WorkerEvent => ({ type: 'clear breach', at, breach: id as BreachId }),
  postCheck: (verdict: 'passed' | 'vitals-out-of-bounds'): WorkerEvent => ({
    type: 'record post-check',
    at,
    verdict,
    rest,
  }),
  endRest: { type: 'end rest', at },
  standDown: { type: 'stand down', at, reason: 'r' },
  lift: { type: 'lift stand-down', at },
} as const satisfies Record<string, WorkerEvent | ((...data: never[]) => WorkerEvent)>;

export const cases: WorkerEvent[] = [
  event.call(),
  event.call(true),
  event.cancel,
  event.passScreening,
  event.hold('vitals-out-of-bounds'),
  event.hold('not-ready'),
  event.releaseHold,
  ...['k1', 'k2', 'k9'].map(event.confirm),
  ...['d1', 'd2', 'x1', 'f1', 'f2', 'z9'].map(event.verify),
  ...['d1', 'x1', 'f1', 'f2'].map(event.override),
  ...['D1', 'D2'].map(event.note),
  event.doCorrective('D1', 0),
  event.doCorrective('D2', 0),
  event.doCorrective('D2', 1),
  ...['D1', 'D2', 'D9'].map(event.correct),
  event.passInspection,
  event.failInspection('d1'),
  event.failInspection('d1', 'd2'),
  event.setLimit,
  event.enterRoom,
  event.callOut,
  event.leaveRoom,
  event.enterLane,
  event.emergency,
  event.declareBreach,
  event.clearBreach('B1'),
  event.clearBreach('B9'),
  event.postCheck('passed'),
  event.postCheck('vitals-out-of-bounds'),
  event.endRest,
  event.standDown,
  event.lift,
];

/**
 * What decides a worker's future, where they stand: the lists that guards read there. Breaches are told apart for the ready
 * worker only, and a rest that was cut short only at the screening: they decide nothing but their own end and where a
 * cancelled worker goes, and tests of their own look at both in every state.
 */
function abstract({ value, context }: WorkerState): unknown {
  const place = leafOf(value);
  const outstanding = context.entry?.outstanding;
  const sorted = (list: readonly string[] | undefined) => [...new Set(list)].sort();
  const deviations = sorted(context.entry?.deviations.map((one) => `${one.id}:${one.correctiveDone ?? 0}`));
  const decides: Record<string, unknown[]> = {
    'rest.ready': [context.breaches.length > 0],
    'pre-check.screening': [context.rest !== undefined],
    'pre-check.kit': [sorted(outstanding?.kit)],
    'pre-check.donning': [sorted(outstanding?.donning), deviations],
    'inside.leaving': [sorted(outstanding?.exit), deviations],
    'doffing.at-threshold': [deviations],
    'doffing.stepping': [sorted(outstanding?.doffing)],
    'doffing.corrective': [sorted(outstanding?.doffing), deviations],
  };
  return [place, ...(decides[place] ?? [])];
}

export const model = new Model<WorkerState, WorkerEvent>({ kept: workers, cases, abstract });
