import { assign, setup } from 'xstate';
import { keptMachine, type Kept } from '../pure.ts';
import type { DeviceId, PersonId } from '../wire/ids.ts';

/*
 An observer guides exactly one worker at a time, from the first donning step until the room is entered, and again from the
 threshold until the last doffing step. Silence of their tablet makes them unreachable wherever they are, and brings them
 back to the same place.

 off-shift ──start duty──▶ available ──take worker──▶ guiding
     ▲                      │  ▲  └──── start break ──▶ break      guiding ├ donning
     └────── end duty ──────┘  └────── release / end break ─┘               └ doffing
 available, guiding, break ──fall silent──▶ unreachable ──be heard──▶ where they were
*/

export interface ObserverContext {
  device?: DeviceId;
  worker?: PersonId;
  /** Since when they are where they are. */
  since: number;
  /** Where to return to when an unreachable observer is heard again. */
  before?: 'available' | 'donning' | 'doffing' | 'break';
}

export type ObserverEvent =
  | { type: 'start duty'; at: number; device: DeviceId }
  | { type: 'end duty'; at: number }
  | { type: 'start break'; at: number }
  | { type: 'end break'; at: number }
  | { type: 'take worker'; at: number; worker: PersonId; guiding: 'donning' | 'doffing' }
  | { type: 'release'; at: number; worker: PersonId }
  | { type: 'fall silent'; at: number }
  | { type: 'be heard'; at: number };

const observerSetup = setup({
  types: {} as { context: ObserverContext; events: ObserverEvent },
  guards: {
    isGuidingNobody: ({ context }) => context.worker === undefined,
    isGuiding: ({ context }, { worker }: { worker: PersonId }) => context.worker === worker,
    isFor: (_, params: { guiding: string; phase: string }) => params.guiding === params.phase,
    wasIn: ({ context }, { place }: { place: ObserverContext['before'] }) => context.before === place,
  },
  actions: {
    noteSince: assign((_, { at }: { at: number }) => ({ since: at })),
    takeDevice: assign((_, { device }: { device: DeviceId }) => ({ device })),
    dropDevice: assign(() => ({ device: undefined })),
    takeWorker: assign((_, { worker }: { worker: PersonId }) => ({ worker })),
    dropWorker: assign(() => ({ worker: undefined })),
    rememberPlace: assign((_, { place }: { place: ObserverContext['before'] }) => ({ before: place })),
    forgetPlace: assign(() => ({ before: undefined })),
  },
});

const at = ({ event }: { event: ObserverEvent }) => ({ at: event.at });
const silentFrom = (place: NonNullable<ObserverContext['before']>) =>
  ({
    target: '#observer.unreachable',
    actions: [
      { type: 'rememberPlace', params: { place } },
      { type: 'noteSince', params: at },
    ],
  }) as const;
const backTo = (place: NonNullable<ObserverContext['before']>, target: string) =>
  ({
    guard: { type: 'wasIn', params: { place } },
    target,
    actions: ['forgetPlace', { type: 'noteSince', params: at }],
  }) as const;
const takeFor = (phase: 'donning' | 'doffing') =>
  ({
    guard: {
      type: 'isFor',
      params: ({ event }: { event: ObserverEvent & { type: 'take worker' } }) => ({ guiding: event.guiding, phase }),
    },
    target: `guiding.${phase}`,
    actions: [
      {
        type: 'takeWorker',
        params: ({ event }: { event: ObserverEvent & { type: 'take worker' } }) => ({ worker: event.worker }),
      },
      { type: 'noteSince', params: at },
    ],
  }) as const;
const release = {
  guard: {
    type: 'isGuiding',
    params: ({ event }: { event: ObserverEvent & { type: 'release' } }) => ({ worker: event.worker }),
  },
  target: '#observer.available',
  actions: ['dropWorker', { type: 'noteSince', params: at }],
} as const;

export const observerMachine = observerSetup.createMachine({
  id: 'observer',
  context: { since: 0 },
  initial: 'off-shift',
  states: {
    'off-shift': {
      on: {
        'start duty': {
          target: 'available',
          actions: [
            { type: 'takeDevice', params: ({ event }) => ({ device: event.device }) },
            { type: 'noteSince', params: at },
          ],
        },
      },
    },
    available: {
      on: {
        // The same observer at another tablet: the newer one is theirs.
        'start duty': { actions: { type: 'takeDevice', params: ({ event }) => ({ device: event.device }) } },
        'end duty': { target: 'off-shift', actions: ['dropDevice', { type: 'noteSince', params: at }] },
        'start break': { target: 'break', actions: { type: 'noteSince', params: at } },
        'take worker': [takeFor('donning'), takeFor('doffing')],
        'fall silent': silentFrom('available'),
      },
    },
    guiding: {
      initial: 'donning',
      on: {
        release,
        'start duty': { actions: { type: 'takeDevice', params: ({ event }) => ({ device: event.device }) } },
      },
      states: {
        donning: { on: { 'fall silent': silentFrom('donning') } },
        doffing: { on: { 'fall silent': silentFrom('doffing') } },
      },
    },
    break: {
      on: {
        'start duty': { actions: { type: 'takeDevice', params: ({ event }) => ({ device: event.device }) } },
        'end break': { target: 'available', actions: { type: 'noteSince', params: at } },
        'end duty': { target: 'off-shift', actions: ['dropDevice', { type: 'noteSince', params: at }] },
        'fall silent': silentFrom('break'),
      },
    },
    unreachable: {
      on: {
        // Somebody else takes over the worker of an unreachable observer, who comes back with empty hands.
        release: {
          guard: {
            type: 'isGuiding',
            params: ({ event }) => ({ worker: event.worker }),
          },
          actions: ['dropWorker', { type: 'rememberPlace', params: { place: 'available' } }],
        },
        'start duty': { actions: { type: 'takeDevice', params: ({ event }) => ({ device: event.device }) } },
        'end duty': {
          guard: 'isGuidingNobody',
          target: 'off-shift',
          actions: ['dropDevice', 'forgetPlace', { type: 'noteSince', params: at }],
        },
        'be heard': [
          backTo('donning', 'guiding.donning'),
          backTo('doffing', 'guiding.doffing'),
          backTo('break', 'break'),
          backTo('available', 'available'),
        ],
      },
    },
  },
});

export type ObserverPlace = 'off-shift' | 'available' | { guiding: 'donning' | 'doffing' } | 'break' | 'unreachable';
export type ObserverState = Kept<ObserverPlace, ObserverContext>;
export const observers = keptMachine<ObserverState, ObserverEvent>(observerMachine);
