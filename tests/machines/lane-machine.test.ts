import { describe, expect, it } from 'vitest';
import { lanes, type LaneEvent, type LanePlace, type LaneState } from '../../machines/lane/lane-machine.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { leafOf, Model } from '../support/model.ts';

const [ada, ben] = ['ada', 'ben'] as PersonId[] as [PersonId, PersonId];
const turnoverUntil = 1_000;
const enter = (worker: PersonId, emergency: boolean): LaneEvent => ({ type: 'enter', at: 5, worker, emergency });

const model = new Model<LaneState, LaneEvent>({
  kept: lanes,
  cases: [
    { type: 'hold', at: 5, worker: ada },
    { type: 'release hold', at: 5 },
    enter(ada, false),
    enter(ben, false),
    enter(ben, true),
    { type: 'leave', at: 5, turnoverUntil },
    { type: 'clear', at: turnoverUntil - 1 },
    { type: 'clear', at: turnoverUntil },
    { type: 'close', at: 5, reason: 'a spill' },
    { type: 'reopen', at: 5, turnoverUntil },
  ],
  abstract: ({ value, context }) => [value, context.worker, context.turnoverUntil],
});

describe('lane, by model', () => {
  const run = model.run();
  it('tries each of 10 event cases in each of 6 states, and the kept machine agrees with XState at every step', () => {
    expect(run).toMatchObject({ states: 6, edges: 60, paths: 55, steps: 114, refused: 44 });
  });
  it('takes every transition there is', () => {
    expect(run.missed).toEqual([]);
    expect(run.transitions).toBe(12);
  });
});

type EventName = LaneEvent['type'] | 'enter (somebody else)' | 'enter (emergency)' | 'clear (too early)';
const events: Record<EventName, LaneEvent> = {
  hold: { type: 'hold', at: 5, worker: ada },
  'release hold': { type: 'release hold', at: 5 },
  enter: enter(ada, false),
  'enter (somebody else)': enter(ben, false),
  'enter (emergency)': enter(ben, true),
  leave: { type: 'leave', at: 5, turnoverUntil },
  clear: { type: 'clear', at: turnoverUntil },
  'clear (too early)': { type: 'clear', at: turnoverUntil - 1 },
  close: { type: 'close', at: 5, reason: 'a spill' },
  reopen: { type: 'reopen', at: 5, turnoverUntil },
};

type Cell = LanePlace | 'refused' | 'stays';
const no = 'refused';

// prettier-ignore
const table: Record<LanePlace, Record<EventName, Cell>> = {
  free: {
    hold: 'held', 'release hold': no, enter: 'occupied', 'enter (somebody else)': 'occupied', 'enter (emergency)': 'occupied',
    leave: no, clear: no, 'clear (too early)': no, close: 'closed', reopen: no,
  },
  held: {
    hold: no, 'release hold': 'free', enter: 'occupied', 'enter (somebody else)': no, 'enter (emergency)': 'occupied',
    leave: no, clear: no, 'clear (too early)': no, close: 'closed', reopen: no,
  },
  // One worker at a time, and nothing takes a lane away from whoever is in it.
  occupied: {
    hold: no, 'release hold': no, enter: no, 'enter (somebody else)': no, 'enter (emergency)': no,
    leave: 'turnover', clear: no, 'clear (too early)': no, close: no, reopen: no,
  },
  turnover: {
    hold: no, 'release hold': no, enter: no, 'enter (somebody else)': no, 'enter (emergency)': 'occupied',
    leave: no, clear: 'free', 'clear (too early)': no, close: 'closed', reopen: no,
  },
  closed: {
    hold: no, 'release hold': no, enter: no, 'enter (somebody else)': no, 'enter (emergency)': 'occupied',
    leave: no, clear: no, 'clear (too early)': no, close: no, reopen: 'turnover',
  },
};

describe('lane, state by event', () => {
  it('a lane that moves is there since the time of the event', () => {
    const later = 5_000;
    const moves = model.states().flatMap((state) =>
      model.spec.cases.flatMap((event) => {
        const next = lanes.apply(state, { ...event, at: later });
        return next && leafOf(next.value) !== leafOf(state.value) ? [next.context.since] : [];
      }),
    );
    expect(new Set(moves)).toEqual(new Set([later]));
  });

  for (const [place, row] of Object.entries(table)) {
    const state = model.drive(model.shortestTo((one) => one.value === place));
    it.each(Object.entries(row))(`${place}: %s → %s`, (event, cell) => {
      const next = lanes.apply(state, events[event as EventName]);
      expect(next ? (leafOf(next.value) === place ? 'stays' : leafOf(next.value)) : 'refused').toBe(cell);
    });
  }
});
