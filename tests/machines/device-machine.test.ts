import { describe, expect, it } from 'vitest';
import { devices, type DeviceEvent, type DevicePlace, type DeviceState } from '../../machines/device/device-machine.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { leafOf, Model } from '../support/model.ts';

const ada = 'ada' as PersonId;
const newest = 3;

const model = new Model<DeviceState, DeviceEvent>({
  kept: devices,
  cases: [
    { type: 'join', at: 5, role: 'observer', person: ada },
    { type: 'join', at: 5, role: 'wall' },
    { type: 'report', at: 5, sequence: newest },
    { type: 'report', at: 5, sequence: 1 },
    { type: 'fall silent', at: 5 },
    { type: 'be heard', at: 5 },
    { type: 'leave', at: 5 },
  ],
  abstract: ({ value, context }) => [value, context.sequence],
});

describe('device, by model', () => {
  const run = model.run();
  it('tries each of 7 event cases in each of 9 states, and the kept machine agrees with XState at every step', () => {
    expect(run).toMatchObject({ states: 9, edges: 63, paths: 55, steps: 135, refused: 24 });
  });
  it('takes every transition there is', () => {
    expect(run.missed).toEqual([]);
    expect(run.transitions).toBe(6);
  });
});

type EventName = DeviceEvent['type'] | 'report (out of order)' | 'report (used number)';
const events: Record<EventName, DeviceEvent> = {
  join: { type: 'join', at: 5, role: 'observer', person: ada },
  report: { type: 'report', at: 5, sequence: newest + 1 },
  'report (out of order)': { type: 'report', at: 5, sequence: 1 },
  'report (used number)': { type: 'report', at: 5, sequence: newest },
  'fall silent': { type: 'fall silent', at: 5 },
  'be heard': { type: 'be heard', at: 5 },
  leave: { type: 'leave', at: 5 },
};
type Cell = DevicePlace | 'refused' | 'stays';
const no = 'refused';
const stays = 'stays';

// prettier-ignore
const table: Record<DevicePlace, Record<EventName, Cell>> = {
  live: {
    join: stays, report: stays, 'report (out of order)': no, 'report (used number)': no,
    'fall silent': 'silent', 'be heard': no, leave: 'gone',
  },
  silent: {
    join: 'live', report: stays, 'report (out of order)': no, 'report (used number)': no,
    'fall silent': no, 'be heard': 'live', leave: 'gone',
  },
  gone: {
    join: 'live', report: stays, 'report (out of order)': no, 'report (used number)': no,
    'fall silent': no, 'be heard': no, leave: no,
  },
};

describe('device, state by event', () => {
  it('a device that moves is there since the time of the event', () => {
    const later = 5_000;
    const moves = model.states().flatMap((state) =>
      model.spec.cases.flatMap((event) => {
        const next = devices.apply(state, { ...event, at: later });
        return next && leafOf(next.value) !== leafOf(state.value) ? [next.context.since] : [];
      }),
    );
    expect(new Set(moves)).toEqual(new Set([later]));
  });

  for (const [place, row] of Object.entries(table)) {
    const state = model.drive(model.shortestTo((one) => one.value === place && one.context.sequence === newest));
    it.each(Object.entries(row))(`${place}: %s → %s`, (event, cell) => {
      const next = devices.apply(state, events[event as EventName]);
      expect(next ? (leafOf(next.value) === place ? 'stays' : leafOf(next.value)) : 'refused').toBe(cell);
    });
  }

  it('a device that joins again keeps its count of reports, and takes the role and person it says', () => {
    const state = model.drive(model.shortestTo((one) => one.value === 'gone' && one.context.sequence === newest));
    const { context } = devices.apply(state, { type: 'join', at: 9, role: 'coordinator' })!;
    expect(context).toEqual({ role: 'coordinator', person: undefined, since: 9, sequence: newest });
  });
});
