import { describe, expect, it } from 'vitest';
import {
  observers,
  type ObserverContext,
  type ObserverEvent,
  type ObserverState,
} from '../../machines/observer/observer-machine.ts';
import type { DeviceId, PersonId } from '../../machines/wire/ids.ts';
import { leafOf, Model } from '../support/model.ts';

const [ada, ben] = ['ada', 'ben'] as PersonId[] as [PersonId, PersonId];
const [one, two] = ['tablet-1', 'tablet-2'] as DeviceId[] as [DeviceId, DeviceId];
const take = (worker: PersonId, guiding: 'donning' | 'doffing'): ObserverEvent => ({
  type: 'take worker',
  at: 5,
  worker,
  guiding,
});

const model = new Model<ObserverState, ObserverEvent>({
  kept: observers,
  cases: [
    { type: 'start duty', at: 5, device: one },
    { type: 'start duty', at: 5, device: two },
    { type: 'end duty', at: 5 },
    { type: 'start break', at: 5 },
    { type: 'end break', at: 5 },
    take(ada, 'donning'),
    take(ada, 'doffing'),
    take(ben, 'donning'),
    { type: 'release', at: 5, worker: ada },
    { type: 'release', at: 5, worker: ben },
    { type: 'fall silent', at: 5 },
    { type: 'be heard', at: 5 },
  ],
  abstract: ({ value, context }) => [value, context.worker, context.before],
});

describe('observer, by model', () => {
  const run = model.run();
  it('tries each of 12 event cases in each of 11 states, and the kept machine agrees with XState at every step', () => {
    expect(run).toMatchObject({ states: 11, edges: 132, paths: 122, steps: 385, refused: 85 });
  });
  it('takes every transition there is', () => {
    expect(run.missed).toEqual([]);
    expect(run.transitions).toBe(22);
  });
});

/** Where an observer can be; an unreachable one remembers where they were. */
type Situation =
  | 'off-shift'
  | 'available'
  | 'guiding.donning'
  | 'guiding.doffing'
  | 'break'
  | `unreachable, was ${NonNullable<ObserverContext['before']>}`;

type EventName =
  | Exclude<ObserverEvent['type'], 'take worker'>
  | 'take worker for donning'
  | 'take worker for doffing'
  | 'release (somebody else)';
const events: Record<EventName, ObserverEvent> = {
  'start duty': { type: 'start duty', at: 5, device: two },
  'end duty': { type: 'end duty', at: 5 },
  'start break': { type: 'start break', at: 5 },
  'end break': { type: 'end break', at: 5 },
  'take worker for donning': take(ben, 'donning'),
  'take worker for doffing': take(ben, 'doffing'),
  release: { type: 'release', at: 5, worker: ada },
  'release (somebody else)': { type: 'release', at: 5, worker: ben },
  'fall silent': { type: 'fall silent', at: 5 },
  'be heard': { type: 'be heard', at: 5 },
};

type Cell = Situation | 'refused' | 'stays';
const no = 'refused';
const stays = 'stays';

// prettier-ignore
const table: Record<Situation, Record<EventName, Cell>> = {
  'off-shift': {
    'start duty': 'available', 'end duty': no, 'start break': no, 'end break': no,
    'take worker for donning': no, 'take worker for doffing': no, release: no, 'release (somebody else)': no,
    'fall silent': no, 'be heard': no,
  },
  available: {
    'start duty': stays, 'end duty': 'off-shift', 'start break': 'break', 'end break': no,
    'take worker for donning': 'guiding.donning', 'take worker for doffing': 'guiding.doffing', release: no, 'release (somebody else)': no,
    'fall silent': 'unreachable, was available', 'be heard': no,
  },
  // Nobody walks away from a worker: neither home, nor to a break, nor to another worker.
  'guiding.donning': {
    'start duty': stays, 'end duty': no, 'start break': no, 'end break': no,
    'take worker for donning': no, 'take worker for doffing': no, release: 'available', 'release (somebody else)': no,
    'fall silent': 'unreachable, was donning', 'be heard': no,
  },
  'guiding.doffing': {
    'start duty': stays, 'end duty': no, 'start break': no, 'end break': no,
    'take worker for donning': no, 'take worker for doffing': no, release: 'available', 'release (somebody else)': no,
    'fall silent': 'unreachable, was doffing', 'be heard': no,
  },
  break: {
    'start duty': stays, 'end duty': 'off-shift', 'start break': no, 'end break': 'available',
    'take worker for donning': no, 'take worker for doffing': no, release: no, 'release (somebody else)': no,
    'fall silent': 'unreachable, was break', 'be heard': no,
  },
  'unreachable, was available': {
    'start duty': stays, 'end duty': 'off-shift', 'start break': no, 'end break': no,
    'take worker for donning': no, 'take worker for doffing': no, release: no, 'release (somebody else)': no,
    'fall silent': no, 'be heard': 'available',
  },
  'unreachable, was donning': {
    'start duty': stays, 'end duty': no, 'start break': no, 'end break': no,
    'take worker for donning': no, 'take worker for doffing': no, release: 'unreachable, was available', 'release (somebody else)': no,
    'fall silent': no, 'be heard': 'guiding.donning',
  },
  'unreachable, was doffing': {
    'start duty': stays, 'end duty': no, 'start break': no, 'end break': no,
    'take worker for donning': no, 'take worker for doffing': no, release: 'unreachable, was available', 'release (somebody else)': no,
    'fall silent': no, 'be heard': 'guiding.doffing',
  },
  'unreachable, was break': {
    'start duty': stays, 'end duty': 'off-shift', 'start break': no, 'end break': no,
    'take worker for donning': no, 'take worker for doffing': no, release: no, 'release (somebody else)': no,
    'fall silent': no, 'be heard': 'break',
  },
};

const situationOf = ({ value, context }: ObserverState): string =>
  context.before === undefined ? leafOf(value) : `${leafOf(value)}, was ${context.before}`;

describe('observer, state by event', () => {
  it('an observer that moves is there since the time of the event', () => {
    const later = 5_000;
    const moves = model.states().flatMap((state) =>
      model.spec.cases.flatMap((event) => {
        const next = observers.apply(state, { ...event, at: later });
        return next && leafOf(next.value) !== leafOf(state.value) ? [next.context.since] : [];
      }),
    );
    expect(new Set(moves)).toEqual(new Set([later]));
  });

  for (const [situation, row] of Object.entries(table)) {
    const state = model.drive(
      model.shortestTo((one) => situationOf(one) === situation && [undefined, ada].includes(one.context.worker)),
    );
    it.each(Object.entries(row))(`${situation}: %s → %s`, (event, cell) => {
      const next = observers.apply(state, events[event as EventName]);
      const now = next && situationOf(next);
      expect(now ? (now === situation ? 'stays' : now) : 'refused').toBe(cell);
    });
  }

  it('an observer who starts duty at another tablet is reached there', () => {
    const state = model.drive(model.shortestTo((one) => situationOf(one) === 'guiding.doffing'));
    expect(state.context.device).toBe(one);
    expect(observers.apply(state, events['start duty'])?.context.device).toBe(two);
  });

  it('an observer who has ended their duty has no tablet, and nothing to come back to', () => {
    const silent = model.drive(model.shortestTo((one) => situationOf(one) === 'unreachable, was break'));
    const { context } = observers.apply(silent, events['end duty'])!;
    expect([context.device, context.before, context.worker]).toEqual([undefined, undefined, undefined]);
  });

  it('a worker taken over from a silent observer does not come back with them', () => {
    const silent = model.drive(model.shortestTo((one) => situationOf(one) === 'unreachable, was doffing'));
    const relieved = observers.apply(silent, { type: 'release', at: 5, worker: silent.context.worker! })!;
    const back = observers.apply(relieved, events['be heard'])!;
    expect([back.value, back.context.worker]).toEqual(['available', undefined]);
  });
});
