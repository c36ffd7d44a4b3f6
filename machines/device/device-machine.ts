import { assign, setup } from 'xstate';
import { keptMachine, type Kept } from '../pure.ts';
import type { PersonId } from '../wire/ids.ts';
import type { Role } from '../wire/rights.ts';

/*
 A screen or tablet as the unit knows it. Heartbeats are not facts (there would be thousands); falling silent is one.

 live ──fall silent──▶ silent ──be heard──▶ live        live, silent ──leave──▶ gone ──join──▶ live
*/

export interface DeviceContext {
  role: Role;
  person?: PersonId;
  since: number;
  /** The highest sequence number whose report is in the log. */
  sequence: number;
}

export type DeviceEvent =
  | { type: 'join'; at: number; role: Role; person?: PersonId }
  | { type: 'report'; at: number; sequence: number }
  | { type: 'fall silent'; at: number }
  | { type: 'be heard'; at: number }
  | { type: 'leave'; at: number };

const join = {
  target: '#device.live',
  actions: {
    type: 'noteJoined',
    params: ({ event }: { event: DeviceEvent & { type: 'join' } }) => ({
      role: event.role,
      person: event.person,
      at: event.at,
    }),
  },
} as const;
const report = {
  guard: {
    type: 'isNewSequence',
    params: ({ event }: { event: DeviceEvent & { type: 'report' } }) => ({ sequence: event.sequence }),
  },
  actions: {
    type: 'noteSequence',
    params: ({ event }: { event: DeviceEvent & { type: 'report' } }) => ({ sequence: event.sequence }),
  },
} as const;
const since = ({ event }: { event: DeviceEvent }) => ({ at: event.at });

export const deviceMachine = setup({
  types: {} as { context: DeviceContext; events: DeviceEvent },
  guards: {
    isNewSequence: ({ context }, { sequence }: { sequence: number }) => sequence > context.sequence,
  },
  actions: {
    noteJoined: assign((_, params: { role: Role; person: PersonId | undefined; at: number }) => ({
      role: params.role,
      person: params.person,
      since: params.at,
    })),
    noteSequence: assign((_, { sequence }: { sequence: number }) => ({ sequence })),
    noteSince: assign((_, { at }: { at: number }) => ({ since: at })),
  },
}).createMachine({
  id: 'device',
  context: { role: 'wall', since: 0, sequence: 0 },
  initial: 'live',
  on: { report, join },
  states: {
    live: {
      on: {
        'fall silent': { target: 'silent', actions: { type: 'noteSince', params: since } },
        leave: { target: 'gone', actions: { type: 'noteSince', params: since } },
      },
    },
    silent: {
      on: {
        'be heard': { target: 'live', actions: { type: 'noteSince', params: since } },
        leave: { target: 'gone', actions: { type: 'noteSince', params: since } },
      },
    },
    gone: {},
  },
});

export type DevicePlace = 'live' | 'silent' | 'gone';
export type DeviceState = Kept<DevicePlace, DeviceContext>;
export const devices = keptMachine<DeviceState, DeviceEvent>(deviceMachine);
