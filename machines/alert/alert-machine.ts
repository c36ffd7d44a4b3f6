import { assign, setup } from 'xstate';
import { keptMachine, type Kept } from '../pure.ts';
import type { AlertKind, AlertLevel, Priority } from '../wire/fact.ts';
import type { AlertId, DeviceId, LaneId, PersonId } from '../wire/ids.ts';

/*
 An alert is answered or it climbs. It ends when its cause does, or when the safety officer ends what only a person can end.

 unanswered ──acknowledge──▶ acknowledged ──clear──▶ cleared
   │   ▲  └─ escalate: observer → coordinator → safety officer → everyone ─┐      ▲
   │   └───────────────────────────────────────────────────────────────────┘      │
   └──────────────────────────────── clear ─────────────────────────────────────────┘
*/

export interface AlertContext {
  id: AlertId;
  kind: AlertKind;
  subject: string;
  priority: Priority;
  level: AlertLevel;
  because: string;
  /** When its cause began. */
  since: number;
  /** When it was raised: people are given their time to answer from here, however late the cause became known. */
  raisedAt: number;
  levelSince: number;
  worker?: PersonId;
  observer?: PersonId;
  lane?: LaneId;
  /** Devices that have shown it to somebody. */
  told: { device: DeviceId; person?: PersonId; at: number }[];
  acknowledgedBy?: PersonId;
  acknowledgedAt?: number;
}

export type AlertEvent =
  | { type: 'tell'; at: number; device: DeviceId; person?: PersonId }
  | { type: 'acknowledge'; at: number; person: PersonId }
  | { type: 'escalate'; at: number; level: AlertLevel }
  | { type: 'clear'; at: number };

const ladder: readonly AlertLevel[] = ['observer', 'coordinator', 'safety-officer', 'everyone'];
export const isHigher = (level: AlertLevel, than: AlertLevel): boolean => ladder.indexOf(level) > ladder.indexOf(than);

const tell = {
  guard: {
    type: 'isNewHere',
    params: ({ event }: { event: AlertEvent & { type: 'tell' } }) => ({ device: event.device }),
  },
  actions: {
    type: 'noteTold',
    params: ({ event }: { event: AlertEvent & { type: 'tell' } }) => ({
      device: event.device,
      person: event.person,
      at: event.at,
    }),
  },
} as const;

export const alertMachine = setup({
  types: {} as { context: AlertContext; events: AlertEvent },
  guards: {
    isNewHere: ({ context }, { device }: { device: DeviceId }) => !context.told.some((one) => one.device === device),
    isHigherLevel: ({ context }, { level }: { level: AlertLevel }) => isHigher(level, context.level),
  },
  actions: {
    noteTold: assign(({ context }, told: { device: DeviceId; person: PersonId | undefined; at: number }) => ({
      told: [...context.told, told],
    })),
    noteAcknowledged: assign((_, { person, at }: { person: PersonId; at: number }) => ({
      acknowledgedBy: person,
      acknowledgedAt: at,
    })),
    climb: assign((_, { level, at }: { level: AlertLevel; at: number }) => ({ level, levelSince: at })),
  },
}).createMachine({
  id: 'alert',
  context: {
    id: '' as AlertId,
    kind: 'deviation',
    subject: '',
    priority: 'low',
    level: 'observer',
    because: '',
    since: 0,
    raisedAt: 0,
    levelSince: 0,
    told: [],
  },
  initial: 'unanswered',
  states: {
    unanswered: {
      on: {
        tell,
        escalate: {
          guard: { type: 'isHigherLevel', params: ({ event }) => ({ level: event.level }) },
          actions: { type: 'climb', params: ({ event }) => ({ level: event.level, at: event.at }) },
        },
        acknowledge: {
          target: 'acknowledged',
          actions: { type: 'noteAcknowledged', params: ({ event }) => ({ person: event.person, at: event.at }) },
        },
        clear: 'cleared',
      },
    },
    acknowledged: { on: { tell, clear: 'cleared' } },
    cleared: {},
  },
});

export type AlertPlace = 'unanswered' | 'acknowledged' | 'cleared';
export type AlertState = Kept<AlertPlace, AlertContext>;
export const alerts = keptMachine<AlertState, AlertEvent>(alertMachine);
