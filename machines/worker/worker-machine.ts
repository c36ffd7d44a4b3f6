import { assign, setup } from 'xstate';
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
} from '../wire/ids.ts';
import type { CorrectiveStep } from '../procedure/corrective.ts';
import { keptMachine, type Kept } from '../pure.ts';
import type { LimitKind } from '../wire/fact.ts';

/*
 One worker's chain. The six top-level states are the trade's; what is nested is ours.

 rest ──────────────▶ pre-check ───────────▶ donned ──▶ inside ──────────▶ doffing ─────────▶ post-check ──▶ rest
 ├ recovering         ├ screening            (at the    ├ working          ├ at-threshold     ├ measuring
 ├ ready              ├ kit                   door,     └ leaving          ├ stepping         └ held
 └ stood-down         ├ donning               clock      (called out,      └ corrective
                      ├ inspection            on)         exit steps)
                      └ held

 Emergency exit leads from donned, inside and doffing to doffing, whatever else is open. A breach is noted in every state and
 moves nobody. What is outstanding lives in the context, so the machine alone, without its callers, keeps a worker out of
 `donned` until every point, kit item and donning step is done and the inspection is passed.
*/

export interface Outstanding {
  kit: PointId[];
  donning: StepId[];
  exit: StepId[];
  doffing: StepId[];
}

export interface Deviation {
  id: DeviationId;
  step: StepId;
  kind: string;
  actor: string;
  critical: boolean;
  doNow: string;
  /** Walked through one at a time, in this order; `correctiveDone` of them are done. Absent: one sentence has to do. */
  corrective?: readonly CorrectiveStep[];
  correctiveDone?: number;
  at: number;
}

export interface Breach {
  id: BreachId;
  kind: string;
  class: string;
  now: string[];
  then: string[];
  leaveRoom: boolean;
  at: number;
}

/** One trip from called to cleared. Times are milliseconds; a span not reached yet is absent. */
export interface Entry {
  id: EntryId;
  room: RoomId;
  procedure: ProcedureId;
  version: number;
  calledAt: number;
  outstanding: Outstanding;
  /** Steps in the order they were verified: the last one is where a tablet resumes. */
  done: StepId[];
  screening: 'open' | 'passed' | 'vitals-out-of-bounds' | 'not-ready' | 'released';
  deviations: Deviation[];
  overridden: StepId[];
  restCutShort: boolean;
  emergency: boolean;
  /** How long the unit's own doffings with this procedure take, minutes; absent while there were too few of them. */
  ownDoffingMinutes?: number;
  lane?: LaneId;
  assistant?: PersonId;
  limit?: Limit;
  donnedAt?: number;
  insideAt?: number;
  calledOutAt?: number;
  leftRoomAt?: number;
  laneAt?: number;
  doffedAt?: number;
  postCheck?: 'passed' | 'vitals-out-of-bounds';
}

export interface Limit {
  minutes: number;
  reason: string;
  source: string;
  limitAt: number;
  callOutAt: number;
  warnAt: number;
  /** What the call-out time is made of, minutes before the limit. */
  doffingMinutes?: number;
  waitMinutes?: number;
  marginMinutes?: number;
  kind?: LimitKind;
  caution?: string;
  indicative?: true;
}

export interface Rest {
  since: number;
  until: number;
  reason: string;
}

export interface WorkerContext {
  entry?: Entry;
  rest?: Rest;
  stoodDownBecause?: string;
  breaches: Breach[];
  /** Earlier trips of the last 24 hours: when the clock started and the minutes in PPE. */
  worn: { from: number; minutes: number }[];
}

export type WorkerEvent =
  | { type: 'call'; at: number; entry: Entry; despiteRest: boolean }
  | { type: 'cancel'; at: number }
  | { type: 'pass screening'; at: number }
  | { type: 'hold at screening'; at: number; verdict: 'vitals-out-of-bounds' | 'not-ready' }
  | { type: 'release hold'; at: number; restUntil: number; reason: string }
  | { type: 'confirm kit'; at: number; item: PointId }
  | { type: 'verify step'; at: number; step: StepId }
  | { type: 'override step'; at: number; step: StepId }
  | { type: 'note deviation'; at: number; deviation: Deviation }
  | { type: 'do corrective step'; at: number; deviation: DeviationId; index: number }
  | { type: 'correct deviation'; at: number; deviation: DeviationId }
  | { type: 'pass inspection'; at: number }
  | { type: 'fail inspection'; at: number; steps: StepId[] }
  | { type: 'set limit'; at: number; limit: Limit }
  | { type: 'enter room'; at: number; room: RoomId }
  | { type: 'call out'; at: number }
  | { type: 'leave room'; at: number }
  | { type: 'enter lane'; at: number; lane: LaneId; assistant?: PersonId }
  | { type: 'declare emergency'; at: number }
  | { type: 'declare breach'; at: number; breach: Breach }
  | { type: 'clear breach'; at: number; breach: BreachId }
  | { type: 'record post-check'; at: number; verdict: 'passed' | 'vitals-out-of-bounds'; rest: Rest }
  | { type: 'end rest'; at: number }
  | { type: 'stand down'; at: number; reason: string }
  | { type: 'lift stand-down'; at: number };

const without = <T>(list: readonly T[], gone: T): T[] => list.filter((one) => one !== gone);
/** Nothing else is left. What a list names twice is done once, or the second would be waited for in vain. */
const isLast = (list: readonly string[], one: string): boolean =>
  list.length > 0 && list.every((other) => other === one);

/** The corrective step that comes next, from 0; undefined when all are done, or where there are none. */
export function nextCorrective({ corrective, correctiveDone = 0 }: Deviation): number | undefined {
  return correctiveDone < (corrective?.length ?? 0) ? correctiveDone : undefined;
}

/** Spreads a change over the entry of a context; a worker without an entry stays as they are. */
const inEntry = (context: WorkerContext, change: (entry: Entry) => Partial<Entry>): WorkerContext =>
  context.entry ? { ...context, entry: { ...context.entry, ...change(context.entry) } } : context;

const millisecondsPerDay = 86_400_000;

/** Earlier minutes in PPE and entries of the 24 hours before `now`: a rolling day, so that a night shift has no midnight. */
export function wornInDay(context: WorkerContext, now: number): { minutes: number; entries: number } {
  const recent = context.worn.filter((trip) => trip.from > now - millisecondsPerDay);
  return { minutes: recent.reduce((sum, trip) => sum + trip.minutes, 0), entries: recent.length };
}

/** Minutes in PPE of an entry, up to `now`: from `donned` to the last doffing step. Always a difference of two times. */
export function minutesInPpe(entry: Entry, now: number): number {
  if (entry.donnedAt === undefined) return 0;
  return Math.max(0, ((entry.doffedAt ?? now) - entry.donnedAt) / 60_000);
}

function addWorn(context: WorkerContext, at: number): WorkerContext['worn'] {
  const entry = context.entry;
  if (entry?.donnedAt === undefined) return context.worn;
  const recent = context.worn.filter((trip) => trip.from > at - millisecondsPerDay);
  return [...recent, { from: entry.donnedAt, minutes: minutesInPpe(entry, at) }];
}

/** Open, and nothing of it left to walk through; in an emergency that holds nobody up. */
function isWalked(entry: Entry | undefined, id: DeviationId): boolean {
  const open = entry?.deviations.filter((one) => one.id === id) ?? [];
  return open.length > 0 && (entry?.emergency || open.every((one) => nextCorrective(one) === undefined)) === true;
}

const workerSetup = setup({
  types: {} as { context: WorkerContext; events: WorkerEvent },
  guards: {
    isRestedOrAnyway: (_, params: { despiteRest: boolean }) => params.despiteRest,
    isKitItemOpen: ({ context }, { item }: { item: PointId }) => context.entry?.outstanding.kit.includes(item) ?? false,
    isLastKitItem: ({ context }, { item }: { item: PointId }) => isLast(context.entry?.outstanding.kit ?? [], item),
    isDonningStepOpen: ({ context }, { step }: { step: StepId }) =>
      (context.entry?.outstanding.donning.includes(step) ?? false) && context.entry?.deviations.length === 0,
    isLastDonningStep: ({ context }, { step }: { step: StepId }) =>
      isLast(context.entry?.outstanding.donning ?? [], step) && context.entry?.deviations.length === 0,
    isExitStepOpen: ({ context }, { step }: { step: StepId }) =>
      context.entry?.outstanding.exit.includes(step) ?? false,
    isDoffingStepOpen: ({ context }, { step }: { step: StepId }) =>
      context.entry?.outstanding.doffing.includes(step) ?? false,
    isLastDoffingStep: ({ context }, { step }: { step: StepId }) =>
      isLast(context.entry?.outstanding.doffing ?? [], step),
    isCorrectiveStepNext: ({ context }, { deviation, index }: { deviation: DeviationId; index: number }) =>
      context.entry?.deviations.some((one) => one.id === deviation && nextCorrective(one) === index) ?? false,
    isDeviationWalked: ({ context }, { deviation }: { deviation: DeviationId }) => isWalked(context.entry, deviation),
    isLastDeviationWalked: ({ context }, { deviation }: { deviation: DeviationId }) =>
      isLast(context.entry?.deviations.map((one) => one.id) ?? [], deviation) && isWalked(context.entry, deviation),
    isBreachOpen: ({ context }, { breach }: { breach: BreachId }) => context.breaches.some((one) => one.id === breach),
    isReadyForClock: ({ context }) => {
      const entry = context.entry;
      return (
        entry !== undefined &&
        (entry.screening === 'passed' || entry.screening === 'released') &&
        entry.outstanding.kit.length === 0 &&
        entry.outstanding.donning.length === 0 &&
        entry.deviations.length === 0
      );
    },
    hasRest: ({ context }) => context.rest !== undefined,
    hasOpenDeviation: ({ context }) => (context.entry?.deviations.length ?? 0) > 0,
    areExitStepsDone: ({ context }) => context.entry?.outstanding.exit.length === 0,
    isPassed: (_, { verdict }: { verdict: string }) => verdict === 'passed',
  },
  actions: {
    openEntry: assign((_, { entry }: { entry: Entry }) => ({ entry })),
    closeEntry: assign(() => ({ entry: undefined })),
    setScreening: assign(({ context }, { screening }: { screening: Entry['screening'] }) =>
      inEntry(context, () => ({ screening })),
    ),
    confirmKitItem: assign(({ context }, { item }: { item: PointId }) =>
      inEntry(context, ({ outstanding }) => ({ outstanding: { ...outstanding, kit: without(outstanding.kit, item) } })),
    ),
    completeStep: assign(({ context }, { step }: { step: StepId }) =>
      inEntry(context, ({ outstanding, done }) => ({
        done: [...done, step],
        outstanding: {
          kit: outstanding.kit,
          donning: without(outstanding.donning, step),
          exit: without(outstanding.exit, step),
          doffing: without(outstanding.doffing, step),
        },
      })),
    ),
    markOverridden: assign(({ context }, { step }: { step: StepId }) =>
      inEntry(context, ({ overridden }) => ({ overridden: [...overridden, step] })),
    ),
    openDeviation: assign(({ context }, { deviation }: { deviation: Deviation }) =>
      inEntry(context, ({ deviations }) => ({ deviations: [...deviations, deviation] })),
    ),
    completeCorrectiveStep: assign(({ context }, { deviation, index }: { deviation: DeviationId; index: number }) =>
      inEntry(context, ({ deviations }) => ({
        deviations: deviations.map((one) => (one.id === deviation ? { ...one, correctiveDone: index + 1 } : one)),
      })),
    ),
    closeDeviation: assign(({ context }, { deviation }: { deviation: DeviationId }) =>
      inEntry(context, ({ deviations }) => ({ deviations: deviations.filter((one) => one.id !== deviation) })),
    ),
    reopenSteps: assign(({ context }, { steps }: { steps: StepId[] }) =>
      inEntry(context, ({ outstanding, done }) => ({
        done: done.filter((step) => !steps.includes(step)),
        outstanding: { ...outstanding, donning: [...outstanding.donning, ...steps] },
      })),
    ),
    startClock: assign(({ context }, { at }: { at: number }) => inEntry(context, () => ({ donnedAt: at }))),
    setLimit: assign(({ context }, { limit }: { limit: Limit }) => inEntry(context, () => ({ limit }))),
    noteEntered: assign(({ context }, { at, room }: { at: number; room: RoomId }) =>
      inEntry(context, () => ({ insideAt: at, room })),
    ),
    noteCalledOut: assign(({ context }, { at }: { at: number }) =>
      inEntry(context, (entry) => ({ calledOutAt: entry.calledOutAt ?? at })),
    ),
    noteLeft: assign(({ context }, { at }: { at: number }) => inEntry(context, () => ({ leftRoomAt: at }))),
    noteLane: assign(
      ({ context }, { at, lane, assistant }: { at: number; lane: LaneId; assistant: PersonId | undefined }) =>
        inEntry(context, () => ({ laneAt: at, lane, assistant })),
    ),
    noteEmergency: assign(({ context }) => inEntry(context, () => ({ emergency: true }))),
    stopClock: assign(({ context }, { at }: { at: number }) => inEntry(context, () => ({ doffedAt: at }))),
    dropLane: assign(({ context }) => inEntry(context, () => ({ lane: undefined, assistant: undefined }))),
    openBreach: assign(({ context }, { breach }: { breach: Breach }) => ({ breaches: [...context.breaches, breach] })),
    closeBreach: assign(({ context }, { breach }: { breach: BreachId }) => ({
      breaches: context.breaches.filter((one) => one.id !== breach),
    })),
    setPostCheck: assign(({ context }, { verdict }: { verdict: 'passed' | 'vitals-out-of-bounds' }) =>
      inEntry(context, () => ({ postCheck: verdict })),
    ),
    startRest: assign(({ context }, { at, rest }: { at: number; rest: Rest }) => ({
      worn: addWorn(context, at),
      rest,
      entry: undefined,
    })),
    endRest: assign(() => ({ rest: undefined })),
    noteStandDown: assign((_, { reason }: { reason: string }) => ({ stoodDownBecause: reason, rest: undefined })),
    liftStandDown: assign(() => ({ stoodDownBecause: undefined })),
  },
});

const laneParams = ({ event }: { event: WorkerEvent & { type: 'enter lane' } }) => ({
  at: event.at,
  lane: event.lane,
  assistant: event.assistant,
});
const verifyParams = ({ event }: { event: WorkerEvent & { type: 'verify step' | 'override step' } }) => ({
  step: event.step,
});

const correctiveParams = ({ event }: { event: WorkerEvent & { type: 'do corrective step' } }) => ({
  deviation: event.deviation,
  index: event.index,
});
const correctiveStepDone = {
  guard: { type: 'isCorrectiveStepNext', params: correctiveParams },
  actions: { type: 'completeCorrectiveStep', params: correctiveParams },
} as const;

export const workerMachine = workerSetup.createMachine({
  id: 'worker',
  context: { breaches: [], worn: [] },
  initial: 'rest',
  on: {
    'declare breach': { actions: { type: 'openBreach', params: ({ event }) => ({ breach: event.breach }) } },
    'clear breach': {
      guard: { type: 'isBreachOpen', params: ({ event }) => ({ breach: event.breach }) },
      actions: { type: 'closeBreach', params: ({ event }) => ({ breach: event.breach }) },
    },
  },
  states: {
    rest: {
      initial: 'ready',
      states: {
        ready: {
          on: {
            call: {
              target: '#worker.pre-check',
              actions: { type: 'openEntry', params: ({ event }) => ({ entry: event.entry }) },
            },
            'stand down': {
              target: 'stood-down',
              actions: { type: 'noteStandDown', params: ({ event }) => ({ reason: event.reason }) },
            },
          },
        },
        recovering: {
          on: {
            'end rest': { target: 'ready', actions: 'endRest' },
            // Calling somebody before the rest is over is possible in a pinch, never by accident: it must be said.
            call: {
              guard: { type: 'isRestedOrAnyway', params: ({ event }) => ({ despiteRest: event.despiteRest }) },
              target: '#worker.pre-check',
              actions: { type: 'openEntry', params: ({ event }) => ({ entry: event.entry }) },
            },
            'stand down': {
              target: 'stood-down',
              actions: { type: 'noteStandDown', params: ({ event }) => ({ reason: event.reason }) },
            },
          },
        },
        'stood-down': { on: { 'lift stand-down': { target: 'ready', actions: 'liftStandDown' } } },
      },
    },
    'pre-check': {
      initial: 'screening',
      on: {
        // A rest that was cut short for an entry goes on when nothing comes of it.
        cancel: [
          { guard: 'hasRest', target: 'rest.recovering', actions: 'closeEntry' },
          { target: 'rest.ready', actions: 'closeEntry' },
        ],
      },
      states: {
        screening: {
          on: {
            'pass screening': { target: 'kit', actions: { type: 'setScreening', params: { screening: 'passed' } } },
            'hold at screening': {
              target: 'held',
              actions: { type: 'setScreening', params: ({ event }) => ({ screening: event.verdict }) },
            },
          },
        },
        held: {
          on: {
            'release hold': { target: 'kit', actions: { type: 'setScreening', params: { screening: 'released' } } },
            // A second measurement after some minutes of rest is common practice, and may pass.
            'pass screening': { target: 'kit', actions: { type: 'setScreening', params: { screening: 'passed' } } },
            'hold at screening': {
              actions: { type: 'setScreening', params: ({ event }) => ({ screening: event.verdict }) },
            },
          },
        },
        kit: {
          on: {
            'confirm kit': [
              {
                guard: { type: 'isLastKitItem', params: ({ event }) => ({ item: event.item }) },
                target: 'donning',
                actions: { type: 'confirmKitItem', params: ({ event }) => ({ item: event.item }) },
              },
              {
                guard: { type: 'isKitItemOpen', params: ({ event }) => ({ item: event.item }) },
                actions: { type: 'confirmKitItem', params: ({ event }) => ({ item: event.item }) },
              },
            ],
          },
        },
        donning: {
          on: {
            'verify step': [
              {
                guard: { type: 'isLastDonningStep', params: verifyParams },
                target: 'inspection',
                actions: { type: 'completeStep', params: verifyParams },
              },
              {
                guard: { type: 'isDonningStepOpen', params: verifyParams },
                actions: { type: 'completeStep', params: verifyParams },
              },
            ],
            'note deviation': {
              actions: { type: 'openDeviation', params: ({ event }) => ({ deviation: event.deviation }) },
            },
            'do corrective step': correctiveStepDone,
            'correct deviation': {
              guard: { type: 'isDeviationWalked', params: ({ event }) => ({ deviation: event.deviation }) },
              actions: { type: 'closeDeviation', params: ({ event }) => ({ deviation: event.deviation }) },
            },
          },
        },
        inspection: {
          on: {
            'pass inspection': {
              guard: 'isReadyForClock',
              target: '#worker.donned',
              actions: { type: 'startClock', params: ({ event }) => ({ at: event.at }) },
            },
            'fail inspection': {
              target: 'donning',
              actions: { type: 'reopenSteps', params: ({ event }) => ({ steps: event.steps }) },
            },
          },
        },
      },
    },
    donned: {
      on: {
        'set limit': { actions: { type: 'setLimit', params: ({ event }) => ({ limit: event.limit }) } },
        'enter room': {
          target: 'inside',
          actions: { type: 'noteEntered', params: ({ event }) => ({ at: event.at, room: event.room }) },
        },
        // Turned back at the door: in equipment, so out through a lane like everybody else.
        'leave room': { target: 'doffing', actions: { type: 'noteLeft', params: ({ event }) => ({ at: event.at }) } },
        'declare emergency': {
          target: 'doffing',
          actions: ['noteEmergency', { type: 'noteLeft', params: ({ event }) => ({ at: event.at }) }],
        },
      },
    },
    inside: {
      initial: 'working',
      on: {
        'set limit': { actions: { type: 'setLimit', params: ({ event }) => ({ limit: event.limit }) } },
        'declare emergency': {
          target: 'doffing',
          actions: ['noteEmergency', { type: 'noteLeft', params: ({ event }) => ({ at: event.at }) }],
        },
      },
      states: {
        working: {
          on: {
            'call out': {
              target: 'leaving',
              actions: { type: 'noteCalledOut', params: ({ event }) => ({ at: event.at }) },
            },
          },
        },
        leaving: {
          on: {
            'verify step': {
              guard: { type: 'isExitStepOpen', params: verifyParams },
              actions: { type: 'completeStep', params: verifyParams },
            },
            'override step': {
              guard: { type: 'isExitStepOpen', params: verifyParams },
              actions: [
                { type: 'completeStep', params: verifyParams },
                { type: 'markOverridden', params: verifyParams },
              ],
            },
            'note deviation': {
              actions: { type: 'openDeviation', params: ({ event }) => ({ deviation: event.deviation }) },
            },
            'do corrective step': correctiveStepDone,
            'correct deviation': {
              guard: { type: 'isDeviationWalked', params: ({ event }) => ({ deviation: event.deviation }) },
              actions: { type: 'closeDeviation', params: ({ event }) => ({ deviation: event.deviation }) },
            },
            'leave room': {
              guard: 'areExitStepsDone',
              target: '#worker.doffing',
              actions: { type: 'noteLeft', params: ({ event }) => ({ at: event.at }) },
            },
          },
        },
      },
    },
    doffing: {
      initial: 'at-threshold',
      on: {
        'set limit': { actions: { type: 'setLimit', params: ({ event }) => ({ limit: event.limit }) } },
        'declare emergency': { actions: 'noteEmergency' },
      },
      states: {
        'at-threshold': {
          on: {
            'enter lane': [
              { guard: 'hasOpenDeviation', target: 'corrective', actions: { type: 'noteLane', params: laneParams } },
              { target: 'stepping', actions: { type: 'noteLane', params: laneParams } },
            ],
          },
        },
        stepping: {
          on: {
            'verify step': [
              {
                guard: { type: 'isLastDoffingStep', params: verifyParams },
                target: '#worker.post-check',
                actions: [
                  { type: 'completeStep', params: verifyParams },
                  { type: 'stopClock', params: ({ event }) => ({ at: event.at }) },
                  'dropLane',
                ],
              },
              {
                guard: { type: 'isDoffingStepOpen', params: verifyParams },
                actions: { type: 'completeStep', params: verifyParams },
              },
            ],
            'override step': [
              {
                guard: { type: 'isLastDoffingStep', params: verifyParams },
                target: '#worker.post-check',
                actions: [
                  { type: 'completeStep', params: verifyParams },
                  { type: 'markOverridden', params: verifyParams },
                  { type: 'stopClock', params: ({ event }) => ({ at: event.at }) },
                  'dropLane',
                ],
              },
              {
                guard: { type: 'isDoffingStepOpen', params: verifyParams },
                actions: [
                  { type: 'completeStep', params: verifyParams },
                  { type: 'markOverridden', params: verifyParams },
                ],
              },
            ],
            'note deviation': {
              target: 'corrective',
              actions: { type: 'openDeviation', params: ({ event }) => ({ deviation: event.deviation }) },
            },
          },
        },
        corrective: {
          on: {
            'note deviation': {
              actions: { type: 'openDeviation', params: ({ event }) => ({ deviation: event.deviation }) },
            },
            'do corrective step': correctiveStepDone,
            'correct deviation': [
              {
                guard: { type: 'isLastDeviationWalked', params: ({ event }) => ({ deviation: event.deviation }) },
                target: 'stepping',
                actions: { type: 'closeDeviation', params: ({ event }) => ({ deviation: event.deviation }) },
              },
              {
                guard: { type: 'isDeviationWalked', params: ({ event }) => ({ deviation: event.deviation }) },
                actions: { type: 'closeDeviation', params: ({ event }) => ({ deviation: event.deviation }) },
              },
            ],
          },
        },
      },
    },
    'post-check': {
      initial: 'measuring',
      states: {
        measuring: {
          on: {
            'record post-check': [
              {
                guard: { type: 'isPassed', params: ({ event }) => ({ verdict: event.verdict }) },
                target: '#worker.rest.recovering',
                actions: [
                  { type: 'setPostCheck', params: ({ event }) => ({ verdict: event.verdict }) },
                  { type: 'startRest', params: ({ event }) => ({ at: event.at, rest: event.rest }) },
                ],
              },
              {
                target: 'held',
                actions: { type: 'setPostCheck', params: ({ event }) => ({ verdict: event.verdict }) },
              },
            ],
          },
        },
        held: {
          on: {
            'record post-check': [
              {
                guard: { type: 'isPassed', params: ({ event }) => ({ verdict: event.verdict }) },
                target: '#worker.rest.recovering',
                actions: { type: 'startRest', params: ({ event }) => ({ at: event.at, rest: event.rest }) },
              },
              { actions: { type: 'setPostCheck', params: ({ event }) => ({ verdict: event.verdict }) } },
            ],
            'stand down': {
              target: '#worker.rest.stood-down',
              actions: [
                {
                  type: 'startRest',
                  params: ({ event }) => ({
                    at: event.at,
                    rest: { since: event.at, until: event.at, reason: event.reason },
                  }),
                },
                { type: 'noteStandDown', params: ({ event }) => ({ reason: event.reason }) },
              ],
            },
            'release hold': {
              target: '#worker.rest.recovering',
              actions: {
                type: 'startRest',
                params: ({ event }) => ({
                  at: event.at,
                  rest: { since: event.at, until: event.restUntil, reason: event.reason },
                }),
              },
            },
          },
        },
      },
    },
  },
});

export type WorkerPlace =
  | { rest: 'ready' | 'recovering' | 'stood-down' }
  | { 'pre-check': 'screening' | 'held' | 'kit' | 'donning' | 'inspection' }
  | 'donned'
  | { inside: 'working' | 'leaving' }
  | { doffing: 'at-threshold' | 'stepping' | 'corrective' }
  | { 'post-check': 'measuring' | 'held' };

export type WorkerState = Kept<WorkerPlace, WorkerContext>;

export const workers = keptMachine<WorkerState, WorkerEvent>(workerMachine);
