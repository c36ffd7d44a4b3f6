import { describe, expect, it } from 'vitest';
import {
  alerts,
  isHigher,
  type AlertEvent,
  type AlertPlace,
  type AlertState,
} from '../../machines/alert/alert-machine.ts';
import { alertLevels } from '../../machines/wire/fact.ts';
import type { DeviceId, PersonId } from '../../machines/wire/ids.ts';
import { leafOf, Model } from '../support/model.ts';

const ada = 'ada' as PersonId;
const [one, two] = ['board', 'tablet'] as DeviceId[] as [DeviceId, DeviceId];

const model = new Model<AlertState, AlertEvent>({
  kept: alerts,
  cases: [
    { type: 'tell', at: 5, device: one },
    { type: 'tell', at: 5, device: two, person: ada },
    { type: 'acknowledge', at: 5, person: ada },
    ...alertLevels.map((level): AlertEvent => ({ type: 'escalate', at: 5, level })),
    { type: 'clear', at: 5 },
  ],
  abstract: ({ value, context }) => [value, context.level, context.told.map((told) => told.device).sort()],
});

describe('alert, by model', () => {
  const run = model.run();
  it('tries each of 8 event cases in each of 48 states, and the kept machine agrees with XState at every step', () => {
    // Three places, four levels, four sets of screens that have shown it.
    expect(run).toMatchObject({ states: 48, edges: 384, paths: 337, steps: 1196, refused: 280 });
  });
  it('takes every transition there is', () => {
    expect(run.missed).toEqual([]);
    expect(run.transitions).toBe(6);
  });
});

type EventName =
  AlertEvent['type'] | 'tell (at the same screen)' | 'escalate (to the same level)' | 'escalate (downwards)';
const events: Record<EventName, AlertEvent> = {
  tell: { type: 'tell', at: 5, device: two },
  'tell (at the same screen)': { type: 'tell', at: 5, device: one },
  acknowledge: { type: 'acknowledge', at: 5, person: ada },
  escalate: { type: 'escalate', at: 5, level: 'everyone' },
  'escalate (to the same level)': { type: 'escalate', at: 5, level: 'safety-officer' },
  'escalate (downwards)': { type: 'escalate', at: 5, level: 'coordinator' },
  clear: { type: 'clear', at: 5 },
};
type Cell = AlertPlace | 'refused' | 'stays';
const no = 'refused';
const stays = 'stays';

// prettier-ignore
const table: Record<AlertPlace, Record<EventName, Cell>> = {
  unanswered: {
    tell: stays, 'tell (at the same screen)': no, acknowledge: 'acknowledged',
    escalate: stays, 'escalate (to the same level)': no, 'escalate (downwards)': no, clear: 'cleared',
  },
  // Answered: it climbs no further, and nobody answers it a second time.
  acknowledged: {
    tell: stays, 'tell (at the same screen)': no, acknowledge: no,
    escalate: no, 'escalate (to the same level)': no, 'escalate (downwards)': no, clear: 'cleared',
  },
  cleared: {
    tell: no, 'tell (at the same screen)': no, acknowledge: no,
    escalate: no, 'escalate (to the same level)': no, 'escalate (downwards)': no, clear: no,
  },
};

describe('alert, state by event', () => {
  for (const [place, row] of Object.entries(table)) {
    const state = model.drive(
      model.shortestTo(
        ({ value, context }) =>
          value === place &&
          context.level === 'safety-officer' &&
          context.told.length === 1 &&
          context.told[0]?.device === one,
      ),
    );
    it.each(Object.entries(row))(`${place}: %s → %s`, (event, cell) => {
      const next = alerts.apply(state, events[event as EventName]);
      expect(next ? (leafOf(next.value) === place ? 'stays' : leafOf(next.value)) : 'refused').toBe(cell);
    });
  }

  it('each level is higher than all to its left and than none to its right', () => {
    const pairs = alertLevels.flatMap((a, x) => alertLevels.map((b, y) => [isHigher(a, b), x > y]));
    expect(pairs).toHaveLength(16);
    for (const [said, so] of pairs) expect(said).toBe(so);
  });
});
