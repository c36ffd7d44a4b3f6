import { assign, setup } from 'xstate';
import { keptMachine, type Kept } from '../pure.ts';
import type { PersonId } from '../wire/ids.ts';

/*
 A lane takes one worker at a time. After each it is cleaned: the turnover time must pass, and then a person says that it is
 clear; the clock alone opens nothing.

 free ──hold──▶ held ──enter──▶ occupied ──leave──▶ turnover ──clear──▶ free
  │  └──────────── enter ─────────▲                     │
  └── close ──▶ closed ──reopen──▶ turnover (it is cleaned before anybody uses it)
 held ──release──▶ free          held, turnover ──close──▶ closed      emergency: enter from held, turnover, closed
*/

export interface LaneContext {
  /** Who holds it or is in it. */
  worker?: PersonId;
  since: number;
  /** The end of the turnover's contact time; the lane may be declared clear from then on. */
  turnoverUntil?: number;
  closedBecause?: string;
}

export type LaneEvent =
  | { type: 'hold'; at: number; worker: PersonId }
  | { type: 'release hold'; at: number }
  | { type: 'enter'; at: number; worker: PersonId; emergency: boolean }
  | { type: 'leave'; at: number; turnoverUntil: number }
  | { type: 'clear'; at: number }
  | { type: 'close'; at: number; reason: string }
  | { type: 'reopen'; at: number; turnoverUntil: number };

const laneSetup = setup({
  types: {} as { context: LaneContext; events: LaneEvent },
  guards: {
    isHolderOrEmergency: ({ context }, params: { worker: PersonId; emergency: boolean }) =>
      params.emergency || context.worker === params.worker,
    isEmergency: (_, params: { emergency: boolean }) => params.emergency,
    isTurnoverOver: ({ context }, params: { at: number }) => params.at >= (context.turnoverUntil ?? 0),
  },
  actions: {
    noteSince: assign((_, { at }: { at: number }) => ({ since: at })),
    takeWorker: assign((_, { worker }: { worker: PersonId }) => ({
      worker,
      turnoverUntil: undefined,
      closedBecause: undefined,
    })),
    dropWorker: assign(() => ({ worker: undefined })),
    startTurnover: assign((_, { turnoverUntil }: { turnoverUntil: number }) => ({
      worker: undefined,
      closedBecause: undefined,
      turnoverUntil,
    })),
    endTurnover: assign(() => ({ turnoverUntil: undefined })),
    noteClosed: assign((_, { reason }: { reason: string }) => ({
      worker: undefined,
      turnoverUntil: undefined,
      closedBecause: reason,
    })),
  },
});

const at = ({ event }: { event: LaneEvent }) => ({ at: event.at });
const enterParams = ({ event }: { event: LaneEvent & { type: 'enter' } }) => ({
  worker: event.worker,
  emergency: event.emergency,
});
const enter = [{ type: 'takeWorker', params: enterParams } as const, { type: 'noteSince', params: at } as const];
const close = {
  target: 'closed',
  actions: [
    { type: 'noteClosed', params: ({ event }: { event: LaneEvent & { type: 'close' } }) => ({ reason: event.reason }) },
    { type: 'noteSince', params: at },
  ],
} as const;

export const laneMachine = laneSetup.createMachine({
  id: 'lane',
  context: { since: 0 },
  initial: 'free',
  states: {
    free: {
      on: {
        hold: {
          target: 'held',
          actions: [
            { type: 'takeWorker', params: ({ event }) => ({ worker: event.worker }) },
            { type: 'noteSince', params: at },
          ],
        },
        enter: { target: 'occupied', actions: enter },
        close,
      },
    },
    held: {
      on: {
        'release hold': { target: 'free', actions: ['dropWorker', { type: 'noteSince', params: at }] },
        enter: { guard: { type: 'isHolderOrEmergency', params: enterParams }, target: 'occupied', actions: enter },
        close,
      },
    },
    occupied: {
      on: {
        leave: {
          target: 'turnover',
          actions: [
            { type: 'startTurnover', params: ({ event }) => ({ turnoverUntil: event.turnoverUntil }) },
            { type: 'noteSince', params: at },
          ],
        },
      },
    },
    turnover: {
      on: {
        clear: {
          guard: { type: 'isTurnoverOver', params: at },
          target: 'free',
          actions: ['endTurnover', { type: 'noteSince', params: at }],
        },
        enter: { guard: { type: 'isEmergency', params: enterParams }, target: 'occupied', actions: enter },
        close,
      },
    },
    closed: {
      on: {
        reopen: {
          target: 'turnover',
          actions: [
            { type: 'startTurnover', params: ({ event }) => ({ turnoverUntil: event.turnoverUntil }) },
            { type: 'noteSince', params: at },
          ],
        },
        enter: { guard: { type: 'isEmergency', params: enterParams }, target: 'occupied', actions: enter },
      },
    },
  },
});

export type LanePlace = 'free' | 'held' | 'occupied' | 'turnover' | 'closed';
export type LaneState = Kept<LanePlace, LaneContext>;
export const lanes = keptMachine<LaneState, LaneEvent>(laneMachine);
