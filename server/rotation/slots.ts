import { greatestCommonDivisor } from './common-divisor.ts';
import type { PlannedEntry, RotationInstance } from './instance.ts';
import { positionsOf } from './positions.ts';

/**
 * An instance as slot arithmetic: everything the search asks for in its inner loops, as numbers.
 *
 * The grid is the instance's slot as long as every duration is a multiple of it; otherwise the greatest common divisor, so that no
 * span has to be rounded. Costs are always told in the instance's own slots (`slotShare` of one per grid slot). What is known of
 * people (busy until, duty, inside since) may lie off the grid: it is rounded to the safe side or kept in minutes.
 */
export interface Problem {
  instance: RotationInstance;
  /** Minutes per grid slot. */
  grid: number;
  /** Instance slots per grid slot: 1, or less where the slot does not divide everything. */
  slotShare: number;
  /** Grid slots per instance slot: donning and breaks start on the latter. */
  slotSteps: number;
  /** Grid slots that must be covered. */
  slots: number;
  /** Slots that are looked at: entries may end after the horizon, and hold lanes and observers there. */
  length: number;
  donning: number;
  doffing: number;
  handover: number;
  /** Doffing + turnover: what one exit takes of a lane. */
  laneHold: number;
  /** From leaving to ready for the next entry: doffing, post-check, rest. */
  recovery: number;
  /** From leaving to the end of post-check, which duty must hold. */
  aftercare: number;
  /** Allowed stays in slots, ascending. Stays that end before the handover does are left out: they would cover nothing. */
  stays: number[];
  /** From donning start to ready again, per stay. */
  busy: number[];
  /** Minutes in equipment, per stay. */
  wear: number[];
  stayMinutesMax: number;
  workers: WorkerFrame[];
  positions: Position[];
  ongoing: OngoingFrame[];
  lanes: number;
  observers: number;
  /** Lanes and observers that are away, per slot. */
  lanesAway: Int16Array;
  observersAway: Int16Array;
  laneSpans: NumberedSpan[];
  observerSpans: NumberedSpan[];
  breakSlots: number;
  breakPeriods: BreakPeriod[];
}

export interface WorkerFrame {
  id: string;
  /** First slot in which donning may start. */
  readySlot: number;
  /** Post-check must be over by then. */
  dutyEndSlot: number;
  minutesBefore: number;
  entriesBefore: number;
}

/** One person to be inside; a room of two has two. Without demand: somebody is inside a room that needs nobody (any more). */
export interface Position {
  room: string;
  demand: boolean;
}

export interface OngoingFrame {
  worker: number;
  position: number;
  sinceMinute: number;
  coverSlot: number;
  exitSlotFirst: number;
  /** The last slot to leave without overrun, and with as much as is allowed. Never before `exitSlotFirst`. */
  exitSlotDue: number;
  exitSlotLast: number;
}

export interface NumberedSpan {
  number: number;
  fromSlot: number;
  toSlot: number;
}

export interface BreakPeriod {
  fromSlot: number;
  toSlot: number;
  /** Observers who still need a break here: an absence that is long enough stands for one. */
  wanted: number;
  /** The observers for whom an absence in this period stands for the break, and where it starts. */
  excused: { observer: number; startSlot: number }[];
}

export interface Away {
  fromMinute: number;
  toMinute: number;
}
export type LaneAway = Away & { lane: number };
export type ObserverAway = Away & { observer: number };

export interface ProblemOptions {
  lanesAway?: LaneAway[];
  observersAway?: ObserverAway[];
  /** People inside who must be out by a minute; 0 means at once, that is after one slot. */
  mustLeave?: { worker: string; byMinute: number }[];
  /** Entries that stay exactly as they are. */
  keep?: PlannedEntry[];
}

export function problemOf(instance: RotationInstance, options: ProblemOptions = {}): Problem {
  const grid = gridOf(instance);
  const spans = spansOf(instance, grid);
  const slots = Math.ceil(instance.horizonMinutes / grid);
  const stayMinutesMax = Math.max(...instance.insideMinutesAllowed);
  const stays = [...new Set(instance.insideMinutesAllowed)]
    .map((minutes) => Math.ceil(minutes / grid))
    .sort((a, b) => a - b);
  const useful = stays.filter((stay) => stay > spans.handover);
  const tail = (stays.at(-1) ?? 0) + Math.ceil(instance.maxOverrunMinutes / grid) + spans.laneHold + spans.recovery;
  const kept = Math.max(0, ...(options.keep ?? []).map((entry) => keptEnd(instance, entry) / grid));
  const length = Math.ceil(Math.max(slots, kept)) + spans.donning + tail + 8 * spans.laneHold + 64;
  const laneSpans = spansAway(options.lanesAway ?? [], ({ lane }) => lane, grid, instance.lanes);
  const observerSpans = spansAway(options.observersAway ?? [], ({ observer }) => observer, grid, instance.observers);
  const workers = instance.workers.map((worker) => workerFrame(worker, grid, length));
  const { positions, ongoing } = positionsOf(instance, grid, spans, options, workers);
  const breakSlots = Math.ceil(instance.observerBreak.minutes / grid);
  return {
    instance,
    grid,
    slotShare: grid / instance.slotMinutes,
    slotSteps: instance.slotMinutes / grid,
    slots,
    length,
    ...spans,
    stays: useful,
    busy: useful.map((stay) => spans.donning + stay + spans.recovery),
    wear: useful.map((stay) => (stay + spans.doffing) * grid),
    stayMinutesMax,
    workers,
    positions,
    ongoing,
    lanes: instance.lanes,
    observers: instance.observers,
    lanesAway: countsAway(laneSpans, length),
    observersAway: countsAway(observerSpans, length),
    laneSpans,
    observerSpans,
    breakSlots,
    breakPeriods: breakPeriods(instance, grid, breakSlots, observerSpans),
  };
}

function keptEnd(instance: RotationInstance, entry: PlannedEntry): number {
  return entry.donningStartMinute + instance.durations.donning + entry.insideMinutes;
}

function gridOf(instance: RotationInstance): number {
  const spans = [
    ...Object.values(instance.durations),
    ...instance.insideMinutesAllowed,
    instance.horizonMinutes,
    instance.observerBreak.minutes,
    instance.observerBreak.everyMinutes,
  ];
  return spans.reduce(greatestCommonDivisor, instance.slotMinutes);
}

export type Spans = ReturnType<typeof spansOf>;

function spansOf({ durations }: RotationInstance, grid: number) {
  const slot = (minutes: number) => Math.ceil(minutes / grid);
  const aftercare = slot(durations.doffing) + slot(durations.postCheck);
  return {
    donning: slot(durations.donning),
    doffing: slot(durations.doffing),
    handover: slot(durations.handover),
    laneHold: slot(durations.doffing) + slot(durations.turnover),
    aftercare,
    recovery: aftercare + slot(durations.rest),
  };
}

function workerFrame(worker: RotationInstance['workers'][number], grid: number, length: number): WorkerFrame {
  const from = Math.max(0, worker.onDutyFromMinute, worker.busyUntilMinute);
  return {
    id: worker.id,
    readySlot: Math.ceil(from / grid),
    dutyEndSlot: worker.onDutyToMinute === null ? length : Math.floor(worker.onDutyToMinute / grid),
    minutesBefore: worker.minutesInEquipmentSoFar,
    entriesBefore: worker.entriesSoFar,
  };
}

function spansAway<A extends Away>(
  away: A[],
  numberOf: (span: A) => number,
  grid: number,
  below: number,
): NumberedSpan[] {
  return away
    .map((span) => ({
      number: numberOf(span),
      fromSlot: Math.max(0, Math.floor(span.fromMinute / grid)),
      toSlot: Math.ceil(span.toMinute / grid),
    }))
    .filter((span) => span.number >= 0 && span.number < below && span.toSlot > span.fromSlot);
}

/** How many are away in each slot; somebody who is away twice at once counts once. */
function countsAway(spans: NumberedSpan[], length: number): Int16Array {
  const counts = new Int16Array(length);
  for (const number of new Set(spans.map((span) => span.number))) {
    const mine = spans.filter((span) => span.number === number);
    for (let slot = 0; slot < length; slot++) {
      if (mine.some((span) => slot >= span.fromSlot && slot < span.toSlot)) counts[slot]! += 1;
    }
  }
  return counts;
}

function breakPeriods(
  instance: RotationInstance,
  grid: number,
  breakSlots: number,
  away: NumberedSpan[],
): BreakPeriod[] {
  const every = Math.round(instance.observerBreak.everyMinutes / grid);
  const slots = Math.floor(instance.horizonMinutes / grid);
  if (breakSlots === 0 || breakSlots > every) return [];
  const periods: BreakPeriod[] = [];
  for (let fromSlot = 0; fromSlot + every <= slots; fromSlot += every) {
    const toSlot = fromSlot + every;
    const excused: BreakPeriod['excused'] = [];
    for (const span of away) {
      const startSlot = Math.max(span.fromSlot, fromSlot);
      const fits = Math.min(span.toSlot, toSlot) - startSlot >= breakSlots;
      if (fits && !excused.some(({ observer }) => observer === span.number))
        excused.push({ observer: span.number, startSlot });
    }
    periods.push({ fromSlot, toSlot, wanted: instance.observers - excused.length, excused });
  }
  return periods;
}
