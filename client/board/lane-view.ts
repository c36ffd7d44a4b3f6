import type { LaneState } from '../../machines/lane/lane-machine.ts';
import { isAt, isInPpe, procedureOf, waitingForLane } from '../../machines/unit/questions.ts';
import { at, entriesOf, type UnitState, type UnitWorker } from '../../machines/unit/state.ts';
import type { LaneId, PersonId } from '../../machines/wire/ids.ts';
import type { Entry } from '../../machines/worker/worker-machine.ts';
import { minuteMs } from './clock.ts';

/**
 * The lanes, and who will want them, read from the live state alone: everybody in equipment takes the lane that is free
 * first, in the order in which they leave. It looks no further than the people who are in equipment now.
 */
export type LaneIs =
  | { is: 'free' }
  | { is: 'held'; worker: PersonId }
  | { is: 'occupied'; worker: PersonId; expectedMinutes: number | undefined; assistant: PersonId | undefined }
  | { is: 'turnover'; until: number }
  | { is: 'closed'; because: string };

export type LaneView = LaneIs & { id: LaneId; name: string; since: number };

/** Lanes of the rules in their order, and any other that still has somebody in it. */
export function laneViews(state: UnitState): LaneView[] {
  const known = state.rules.lanes.flatMap(({ id, name }) => {
    const lane = at(state.lanes, id);
    return lane ? [viewOf(state, id, name, lane)] : [];
  });
  const leftOver = entriesOf(state.lanes)
    .filter(([id, lane]) => lane.value === 'occupied' && !known.some((one) => one.id === id))
    .map(([id, lane]) => viewOf(state, id, id, lane));
  return [...known, ...leftOver];
}

function viewOf(state: UnitState, id: LaneId, name: string, lane: LaneState): LaneView {
  return { id, name, since: lane.context.since, ...laneIs(state, lane) };
}

function laneIs(state: UnitState, { value, context }: LaneState): LaneIs {
  const { worker, turnoverUntil, closedBecause } = context;
  switch (value) {
    case 'free':
      return { is: 'free' };
    case 'held':
      return worker ? { is: 'held', worker } : { is: 'free' };
    case 'occupied': {
      const entry = worker && at(state.workers, worker)?.machine.context.entry;
      if (!worker) return { is: 'free' };
      return {
        is: 'occupied',
        worker,
        expectedMinutes: entry && doffingMinutes(state, entry),
        assistant: entry?.assistant,
      };
    }
    case 'turnover':
      return { is: 'turnover', until: turnoverUntil ?? 0 };
    case 'closed':
      return { is: 'closed', because: closedBecause ?? '' };
    default: {
      const never: never = value;
      throw new Error(`no lane state ${String(never)}`);
    }
  }
}

const doffingMinutes = (state: UnitState, entry: Entry): number => procedureOf(state, entry).expected.doffingMinutes;

/** One doffing that goes on or is to be expected. `wanted` before `from` means waiting: more exits than lanes. */
export interface DoffingSpan {
  worker: PersonId;
  going: boolean;
  /** Of the adopted rotation: not even called yet. */
  planned?: true;
  wanted: number;
  from: number;
  to: number;
  callOutAt: number | undefined;
  limitAt: number | undefined;
}

export interface LaneLine {
  lane: LaneId;
  name: string;
  closed: boolean;
  spans: DoffingSpan[];
  /** Times in which nobody may step in because the lane is being cleaned. */
  turnovers: { from: number; to: number }[];
}

export interface LanePlan {
  lines: LaneLine[];
  /** Everybody who would want a lane while none is open at all. */
  without: DoffingSpan[];
}

/** The doffings to be expected of everybody in equipment at `now`, each on its lane. */
export function lanePlan(state: UnitState, now: number): LanePlan {
  const slots = laneViews(state).map((view) => slotOf(state, view, now));
  const plan: LanePlan = { lines: slots.map((slot) => slot.line), without: [] };
  for (const want of wants(state, now)) place(want, slots, plan);
  return plan;
}

interface Slot {
  line: LaneLine;
  freeAt: number;
  turnoverMs: number;
  heldFor: PersonId | undefined;
}

function slotOf(state: UnitState, view: LaneView, now: number): Slot {
  const minutes = state.rules.lanes.find((one) => one.id === view.id)?.turnoverMinutes ?? 0;
  const line: LaneLine = { lane: view.id, name: view.name, closed: view.is === 'closed', spans: [], turnovers: [] };
  const slot: Slot = { line, freeAt: now, turnoverMs: minutes * minuteMs, heldFor: undefined };
  if (view.is === 'closed') return { ...slot, freeAt: Infinity };
  if (view.is === 'held') return { ...slot, heldFor: view.worker };
  if (view.is === 'turnover') return cleaned(slot, view.since, Math.max(now, view.until));
  if (view.is === 'free') return slot;
  const to = Math.max(now, view.since + (view.expectedMinutes ?? 0) * minuteMs);
  const limit = at(state.workers, view.worker)?.machine.context.entry?.limit;
  line.spans.push({
    worker: view.worker,
    going: true,
    wanted: view.since,
    from: view.since,
    to,
    callOutAt: undefined,
    limitAt: limit?.limitAt,
  });
  return cleaned(slot, to, to + slot.turnoverMs);
}

function cleaned(slot: Slot, from: number, to: number): Slot {
  slot.line.turnovers.push({ from, to });
  return { ...slot, freeAt: to };
}

interface Want {
  worker: PersonId;
  wanted: number;
  durationMs: number;
  callOutAt: number | undefined;
  limitAt: number | undefined;
}

/** Everybody in equipment without a lane, in the order in which they will want one. */
function wants(state: UnitState, now: number): Want[] {
  const held = entriesOf(state.workers).filter(([id, worker]) => isHeldFor(state, id) && isInPpe(worker.machine));
  const waiting = waitingForLane(state);
  const before = new Set([...held, ...waiting].map(([id]) => id));
  const later = entriesOf(state.workers)
    .filter(([id, { machine }]) => (isAt(machine, 'inside') || isAt(machine, 'donned')) && !before.has(id))
    .map((one) => wantOf(state, one, now))
    .sort((a, b) => a.wanted - b.wanted);
  return [...[...held, ...waiting].map((one) => wantOf(state, one, now)), ...later];
}

const isHeldFor = (state: UnitState, worker: PersonId): boolean =>
  Object.values(state.lanes).some((lane) => lane.value === 'held' && lane.context.worker === worker);

function wantOf(state: UnitState, [worker, { machine }]: [PersonId, UnitWorker], now: number): Want {
  const entry = machine.context.entry;
  const onTheWay = isAt(machine, 'doffing') || isAt(machine, 'inside', 'leaving');
  const limit = entry?.limit;
  return {
    worker,
    wanted: onTheWay ? now : Math.max(now, limit?.callOutAt ?? now),
    durationMs: (entry ? doffingMinutes(state, entry) : 0) * minuteMs,
    callOutAt: onTheWay ? undefined : limit?.callOutAt,
    limitAt: limit?.limitAt,
  };
}

function place(want: Want, slots: Slot[], plan: LanePlan): void {
  const { worker, wanted, durationMs, callOutAt, limitAt } = want;
  const span = (from: number): DoffingSpan => ({
    worker,
    going: false,
    wanted,
    from,
    to: from + durationMs,
    callOutAt,
    limitAt,
  });
  const slot = slotFor(want, slots);
  if (!slot) return void plan.without.push(span(wanted));
  const placed = span(Math.max(wanted, slot.freeAt));
  slot.line.spans.push(placed);
  slot.heldFor = undefined;
  slot.freeAt = placed.to + slot.turnoverMs;
  slot.line.turnovers.push({ from: placed.to, to: slot.freeAt });
}

/** The lane held for them, or else the one that is free first; a lane held for somebody else only after that somebody. */
function slotFor({ worker, wanted }: Want, slots: Slot[]): Slot | undefined {
  const mine = slots.find((slot) => slot.heldFor === worker);
  if (mine) return mine;
  const open = slots.filter((slot) => slot.freeAt < Infinity && slot.heldFor === undefined);
  return open.reduce<Slot | undefined>(
    (best, one) => (best && Math.max(best.freeAt, wanted) <= Math.max(one.freeAt, wanted) ? best : one),
    undefined,
  );
}

/** Who steps into a lane next, and when they want to. */
export function nextInLane(plan: LanePlan, lane: LaneId): DoffingSpan | undefined {
  return plan.lines.find((line) => line.lane === lane)?.spans.find((span) => !span.going);
}

/** Exits that would have to wait for a lane within the window, the first first. */
export function overlaps(plan: LanePlan, until: number): DoffingSpan[] {
  return [...plan.lines.flatMap((line) => line.spans.filter((span) => span.from > span.wanted)), ...plan.without]
    .filter((span) => span.wanted < until)
    .sort((a, b) => a.wanted - b.wanted);
}
