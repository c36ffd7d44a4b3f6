import { describe, expect, it } from 'vitest';
import {
  minutesInPpe,
  wornInDay,
  workers,
  type Entry,
  type WorkerState,
} from '../../machines/worker/worker-machine.ts';
import { leafOf } from '../support/model.ts';
import { cases, entry, event, model } from './worker-model.ts';
import { cellOf, conditions, table, type EventName, type Situation } from './worker-table.ts';

describe('worker, by model', () => {
  const run = model.run();
  it(`tries each of ${cases.length} event cases in each of 87 states, and the kept machine agrees with XState at every step`, () => {
    expect(cases).toHaveLength(45);
    expect(run).toMatchObject({ states: 87, edges: 87 * 45, paths: 3829, steps: 39161, refused: 3408 });
  });
  it('takes every transition there is', () => {
    expect(run.missed).toEqual([]);
    expect(run.transitions).toBe(56);
  });
});

const driveTo = (situation: Situation): WorkerState =>
  model.drive(
    model.shortestTo((state) => leafOf(state.value) === situation.split(',')[0] && conditions[situation](state)),
  );

describe('worker, state by event', () => {
  for (const [situation, row] of Object.entries(table)) {
    const state = driveTo(situation as Situation);
    it.each(Object.entries(row))(`${situation}: %s → %s`, (name, cell) => {
      expect(cellOf(state, name as EventName)).toBe(cell);
    });
  }
});

describe('worker, in every state of the model', () => {
  const states = model.states();
  it('a breach is noted, moves nobody, and is signed off to where it was', () => {
    expect(states).toHaveLength(87);
    for (const state of states) {
      const noted = workers.apply(state, event.declareBreach)!;
      expect(noted.value).toEqual(state.value);
      expect(noted.context.breaches).toHaveLength(state.context.breaches.length + 1);
      const cleared = workers.apply(noted, event.clearBreach())!;
      expect({ ...cleared }).toEqual({ value: state.value, context: { ...state.context, breaches: [] } });
    }
  });

  it('an emergency exit is open wherever the clock runs, and nowhere else', () => {
    for (const state of states) {
      const { entry } = state.context;
      const running = entry?.donnedAt !== undefined && entry.doffedAt === undefined;
      const next = workers.apply(state, event.emergency);
      expect([leafOf(state.value), next !== undefined]).toEqual([leafOf(state.value), running]);
      if (next) expect([leafOf(next.value).split('.')[0], next.context.entry?.emergency]).toEqual(['doffing', true]);
    }
  });

  it('nobody is donned, inside or doffing with a kit item or a donning step outstanding', () => {
    for (const state of states.filter((one) => /^(donned|inside|doffing)/.test(leafOf(one.value))))
      expect([state.context.entry?.outstanding.kit, state.context.entry?.outstanding.donning]).toEqual([[], []]);
  });

  it('nobody is at the post-check with a doffing step outstanding, or without the end of their time in PPE', () => {
    for (const state of states.filter((one) => leafOf(one.value).startsWith('post-check')))
      expect([state.context.entry?.outstanding.doffing, state.context.entry?.doffedAt]).toEqual([[], 5]);
  });

  it('a cancelled worker goes back to the rest they came from', () => {
    for (const state of states.filter((one) => leafOf(one.value).startsWith('pre-check'))) {
      const rest = { since: 1, until: 90, reason: 'r' };
      const cutShort: WorkerState = { value: state.value, context: { ...state.context, rest } };
      const whole: WorkerState = { value: state.value, context: { ...state.context, rest: undefined } };
      expect(workers.apply(cutShort, event.cancel)).toMatchObject({ value: { rest: 'recovering' }, context: { rest } });
      expect(workers.apply(whole, event.cancel)).toMatchObject({ value: { rest: 'ready' } });
    }
  });
});

describe('the machine alone, without its callers', () => {
  it('starts no clock with anything outstanding, whatever brought the worker to the inspection', () => {
    const ready = driveTo('pre-check.inspection');
    const inspect = (change: Partial<Entry>) =>
      workers.apply(
        { ...ready, context: { ...ready.context, entry: { ...ready.context.entry!, ...change } } },
        event.passInspection,
      );
    const { outstanding } = ready.context.entry!;
    expect(leafOf(inspect({})!.value)).toBe('donned');
    expect(leafOf(inspect({ screening: 'released' })!.value)).toBe('donned');
    for (const screening of ['open', 'vitals-out-of-bounds', 'not-ready'] as const)
      expect(inspect({ screening })).toBeUndefined();
    expect(inspect({ outstanding: { ...outstanding, kit: entry.outstanding.kit } })).toBeUndefined();
    expect(inspect({ outstanding: { ...outstanding, donning: entry.outstanding.donning } })).toBeUndefined();
    expect(inspect({ deviations: driveTo('doffing.corrective').context.entry!.deviations })).toBeUndefined();
    expect(
      workers.apply({ ...ready, context: { ...ready.context, entry: undefined } }, event.passInspection),
    ).toBeUndefined();
  });
});

describe('lists that name something twice', () => {
  it('strand nobody: what is listed twice is done once', () => {
    const twice = {
      ...entry,
      outstanding: { ...entry.outstanding, kit: [entry.outstanding.kit[0]!, entry.outstanding.kit[0]!] },
    };
    const called = model.drive([{ type: 'call', at: 5, entry: twice, despiteRest: false }, event.passScreening]);
    expect(leafOf(workers.apply(called, event.confirm('k1'))!.value)).toBe('pre-check.donning');
  });
  it('a deviation that is noted twice under one id is put right once', () => {
    const corrective = driveTo('doffing.corrective');
    const again = workers.apply(corrective, event.note('D1'))!;
    expect(leafOf(workers.apply(again, event.correct('D1'))!.value)).toBe('doffing.stepping');
  });
});

describe('time in PPE', () => {
  const minute = 60_000;
  it('runs from the inspection to the last doffing step, as the difference of two times', () => {
    expect(minutesInPpe(entry, 100 * minute)).toBe(0);
    expect(minutesInPpe({ ...entry, donnedAt: 10 * minute }, 25 * minute)).toBe(15);
    expect(minutesInPpe({ ...entry, donnedAt: 10 * minute, doffedAt: 52.5 * minute }, 99 * minute)).toBe(42.5);
  });
  it('is never negative, whatever the clocks say', () => {
    expect(minutesInPpe({ ...entry, donnedAt: 10 * minute }, 9 * minute)).toBe(0);
  });
  it('adds up over the 24 hours before, so that a night shift has no midnight', () => {
    const hour = 60 * minute;
    const worn = [1, 12, 30].map((hours) => ({ from: hours * hour, minutes: hours }));
    const context = { breaches: [], worn };
    expect(wornInDay(context, 30 * hour)).toEqual({ minutes: 42, entries: 2 });
    expect(wornInDay(context, 25 * hour - 1)).toEqual({ minutes: 43, entries: 3 });
    expect(wornInDay(context, 25 * hour)).toEqual({ minutes: 42, entries: 2 });
    expect(wornInDay(context, 99 * hour)).toEqual({ minutes: 0, entries: 0 });
  });
});
