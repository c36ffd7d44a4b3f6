import { workers, type WorkerEvent, type WorkerState } from '../../machines/worker/worker-machine.ts';
import { leafOf } from '../support/model.ts';
import { event } from './worker-model.ts';

/** The places of a worker. */
export type Leaf =
  | 'rest.ready'
  | 'rest.recovering'
  | 'rest.stood-down'
  | 'pre-check.screening'
  | 'pre-check.held'
  | 'pre-check.kit'
  | 'pre-check.donning'
  | 'pre-check.inspection'
  | 'donned'
  | 'inside.working'
  | 'inside.leaving'
  | 'doffing.at-threshold'
  | 'doffing.stepping'
  | 'doffing.corrective'
  | 'post-check.measuring'
  | 'post-check.held';

/** The same place, told apart where the same event does something else. */
export type Situation =
  | Leaf
  | 'pre-check.screening, rest cut short'
  | 'pre-check.kit, last item'
  | 'pre-check.donning, last step'
  | 'pre-check.donning, deviation open'
  | 'pre-check.donning, corrective step open'
  | 'inside.leaving, steps done'
  | 'inside.leaving, corrective step open'
  | 'doffing.at-threshold, deviation open'
  | 'doffing.stepping, last step'
  | 'doffing.corrective, two deviations'
  | 'doffing.corrective, corrective step open'
  | 'doffing.corrective, corrective step done';

/** Every event of the machine, and the variants that a guard tells apart. */
export type EventName =
  WorkerEvent['type'] | 'call (despite rest)' | 'verify step (not open)' | 'record post-check (out of bounds)';

export type Cell = Leaf | 'refused' | 'stays';

const entryOf = (state: WorkerState) => state.context.entry!;
const left = (state: WorkerState, phase: 'kit' | 'donning' | 'exit' | 'doffing') =>
  entryOf(state).outstanding[phase].length;
const deviations = (state: WorkerState) => entryOf(state).deviations.map((one) => one.id as string);
/** What is open, and how far each is put right: a deviation noted twice under one id is one. */
const corrected = (state: WorkerState) =>
  [...new Set(entryOf(state).deviations.map((one) => `${one.id}:${one.correctiveDone ?? 0}`))].sort().join();
const always = () => true;

/** What makes a situation, beyond its place. */
export const conditions: Record<Situation, (state: WorkerState) => boolean> = {
  'rest.ready': always,
  'rest.recovering': always,
  'rest.stood-down': always,
  'pre-check.screening': (state) => state.context.rest === undefined,
  'pre-check.screening, rest cut short': (state) => state.context.rest !== undefined,
  'pre-check.held': always,
  'pre-check.kit': (state) => left(state, 'kit') === 2,
  'pre-check.kit, last item': (state) => left(state, 'kit') === 1,
  'pre-check.donning': (state) => left(state, 'donning') === 2 && deviations(state).length === 0,
  'pre-check.donning, last step': (state) => left(state, 'donning') === 1 && deviations(state).length === 0,
  'pre-check.donning, deviation open': (state) => deviations(state).join() === 'D1',
  'pre-check.donning, corrective step open': (state) => corrected(state) === 'D2:0',
  'pre-check.inspection': always,
  donned: always,
  'inside.working': always,
  'inside.leaving': (state) => left(state, 'exit') === 1 && deviations(state).length === 0,
  'inside.leaving, steps done': (state) => left(state, 'exit') === 0 && deviations(state).length === 0,
  'inside.leaving, corrective step open': (state) => left(state, 'exit') === 1 && corrected(state) === 'D2:0',
  'doffing.at-threshold': (state) => deviations(state).length === 0,
  'doffing.at-threshold, deviation open': (state) => deviations(state).join() === 'D1',
  'doffing.stepping': (state) => left(state, 'doffing') === 2,
  'doffing.stepping, last step': (state) => left(state, 'doffing') === 1,
  'doffing.corrective': (state) => deviations(state).join() === 'D1',
  'doffing.corrective, two deviations': (state) => corrected(state) === 'D1:0,D2:0',
  'doffing.corrective, corrective step open': (state) => corrected(state) === 'D2:0',
  'doffing.corrective, corrective step done': (state) => corrected(state) === 'D2:1',
  'post-check.measuring': always,
  'post-check.held': always,
};

/** The event as it would be sent in this state: about what is open there. */
export function eventIn(state: WorkerState, name: EventName): WorkerEvent {
  const outstanding = state.context.entry?.outstanding;
  const [leaf] = leafOf(state.value).split('.');
  const phase = leaf === 'inside' ? 'exit' : leaf === 'doffing' || leaf === 'post-check' ? 'doffing' : 'donning';
  const step = outstanding?.[phase][0] ?? { donning: 'd1', exit: 'x1', doffing: 'f1' }[phase];
  const events: Record<EventName, WorkerEvent> = {
    call: event.call(),
    'call (despite rest)': event.call(true),
    cancel: event.cancel,
    'pass screening': event.passScreening,
    'hold at screening': event.hold(),
    'release hold': event.releaseHold,
    'confirm kit': event.confirm(outstanding?.kit[0] ?? 'k1'),
    'verify step': event.verify(step),
    'verify step (not open)': event.verify('z9'),
    'override step': event.override(step),
    'note deviation': event.note('D2'),
    'correct deviation': event.correct(state.context.entry?.deviations.map((one) => one.id).sort()[0] ?? 'D1'),
    'do corrective step': event.doCorrective('D2', 0),
    'pass inspection': event.passInspection,
    'fail inspection': event.failInspection('d1'),
    'set limit': event.setLimit,
    'enter room': event.enterRoom,
    'call out': event.callOut,
    'leave room': event.leaveRoom,
    'enter lane': event.enterLane,
    'declare emergency': event.emergency,
    'declare breach': event.declareBreach,
    'clear breach': event.clearBreach(),
    'record post-check': event.postCheck('passed'),
    'record post-check (out of bounds)': event.postCheck('vitals-out-of-bounds'),
    'end rest': event.endRest,
    'stand down': event.standDown,
    'lift stand-down': event.lift,
  };
  return events[name];
}

/** What the machine does with it, as a cell of the table. */
export function cellOf(state: WorkerState, name: EventName): string {
  const next = workers.apply(state, eventIn(state, name));
  if (!next) return 'refused';
  return leafOf(next.value) === leafOf(state.value) ? 'stays' : leafOf(next.value);
}

const no = 'refused';
const stays = 'stays';

// prettier-ignore
export const table: Record<Situation, Record<EventName, Cell>> = {
  'rest.ready': {
    call: 'pre-check.screening', 'call (despite rest)': 'pre-check.screening', cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': 'rest.stood-down', 'lift stand-down': no,
  },
  // A rest is cut short only by saying so.
  'rest.recovering': {
    call: no, 'call (despite rest)': 'pre-check.screening', cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': 'rest.ready', 'stand down': 'rest.stood-down', 'lift stand-down': no,
  },
  'rest.stood-down': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': 'rest.ready',
  },
  'pre-check.screening': {
    call: no, 'call (despite rest)': no, cancel: 'rest.ready',
    'pass screening': 'pre-check.kit', 'hold at screening': 'pre-check.held', 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  // What was left of a rest is not lost by a call that came to nothing.
  'pre-check.screening, rest cut short': {
    call: no, 'call (despite rest)': no, cancel: 'rest.recovering',
    'pass screening': 'pre-check.kit', 'hold at screening': 'pre-check.held', 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'pre-check.held': {
    call: no, 'call (despite rest)': no, cancel: 'rest.ready',
    'pass screening': 'pre-check.kit', 'hold at screening': stays, 'release hold': 'pre-check.kit', 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'pre-check.kit': {
    call: no, 'call (despite rest)': no, cancel: 'rest.ready',
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': stays,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'pre-check.kit, last item': {
    call: no, 'call (despite rest)': no, cancel: 'rest.ready',
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': 'pre-check.donning',
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'pre-check.donning': {
    call: no, 'call (despite rest)': no, cancel: 'rest.ready',
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': stays, 'verify step (not open)': no, 'override step': no,
    'note deviation': stays, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'pre-check.donning, last step': {
    call: no, 'call (despite rest)': no, cancel: 'rest.ready',
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': 'pre-check.inspection', 'verify step (not open)': no, 'override step': no,
    'note deviation': stays, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  // No step, and so no door, before the deviation is put right.
  'pre-check.donning, deviation open': {
    call: no, 'call (despite rest)': no, cancel: 'rest.ready',
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': stays, 'correct deviation': stays, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'pre-check.donning, corrective step open': {
    call: no, 'call (despite rest)': no, cancel: 'rest.ready',
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': stays, 'correct deviation': no, 'do corrective step': stays, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'pre-check.inspection': {
    call: no, 'call (despite rest)': no, cancel: 'rest.ready',
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': 'donned', 'fail inspection': 'pre-check.donning',
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  // In equipment: from here on the only way out is a lane, and emergency exit is always open.
  donned: {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': 'inside.working', 'call out': no, 'leave room': 'doffing.at-threshold', 'enter lane': no,
    'declare emergency': 'doffing.at-threshold', 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  // Nobody leaves a room uncalled, but by emergency exit.
  'inside.working': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': no, 'call out': 'inside.leaving', 'leave room': no, 'enter lane': no,
    'declare emergency': 'doffing.at-threshold', 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'inside.leaving': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': stays, 'verify step (not open)': no, 'override step': stays,
    'note deviation': stays, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': 'doffing.at-threshold', 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'inside.leaving, steps done': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': stays, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': no, 'call out': no, 'leave room': 'doffing.at-threshold', 'enter lane': no,
    'declare emergency': 'doffing.at-threshold', 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'inside.leaving, corrective step open': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': stays, 'verify step (not open)': no, 'override step': stays,
    'note deviation': stays, 'correct deviation': no, 'do corrective step': stays, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': 'doffing.at-threshold', 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  // Nothing comes off before a lane is entered.
  'doffing.at-threshold': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': 'doffing.stepping',
    'declare emergency': stays, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'doffing.at-threshold, deviation open': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': 'doffing.corrective',
    'declare emergency': stays, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'doffing.stepping': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': stays, 'verify step (not open)': no, 'override step': stays,
    'note deviation': 'doffing.corrective', 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': stays, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'doffing.stepping, last step': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': 'post-check.measuring', 'verify step (not open)': no, 'override step': 'post-check.measuring',
    'note deviation': 'doffing.corrective', 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': stays, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  // No step is verified or overridden past an open deviation.
  'doffing.corrective': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': stays, 'correct deviation': 'doffing.stepping', 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': stays, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'doffing.corrective, two deviations': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': stays, 'correct deviation': stays, 'do corrective step': stays, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': stays, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  // Nothing is put right before each of its steps is done.
  'doffing.corrective, corrective step open': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': stays, 'correct deviation': no, 'do corrective step': stays, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': stays, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'doffing.corrective, corrective step done': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': stays, 'correct deviation': 'doffing.stepping', 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': stays, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': stays, 'declare breach': stays, 'clear breach': no,
    'record post-check': no, 'record post-check (out of bounds)': no,
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'post-check.measuring': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': no, 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': 'rest.recovering', 'record post-check (out of bounds)': 'post-check.held',
    'end rest': no, 'stand down': no, 'lift stand-down': no,
  },
  'post-check.held': {
    call: no, 'call (despite rest)': no, cancel: no,
    'pass screening': no, 'hold at screening': no, 'release hold': 'rest.recovering', 'confirm kit': no,
    'verify step': no, 'verify step (not open)': no, 'override step': no,
    'note deviation': no, 'correct deviation': no, 'do corrective step': no, 'pass inspection': no, 'fail inspection': no,
    'set limit': no, 'enter room': no, 'call out': no, 'leave room': no, 'enter lane': no,
    'declare emergency': no, 'declare breach': stays, 'clear breach': no,
    'record post-check': 'rest.recovering', 'record post-check (out of bounds)': stays,
    'end rest': no, 'stand down': 'rest.stood-down', 'lift stand-down': no,
  },
};
