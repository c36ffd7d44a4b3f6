import type { PlannedTrip, Rotation } from '../../machines/unit/rotation.ts';
import type { UnitRules } from '../../machines/unit/state.ts';
import type { LaneId, PersonId, RoomId } from '../../machines/wire/ids.ts';
import { partOf } from '../board/hour.ts';
import { watchesOf } from './clashes.ts';
import { gapsOf, type Gap } from './coverage.ts';
import { minuteMs, spansOf, type Span, type Times } from './times.ts';

/** The timeline: rows of people, lanes, observers and rooms over the time of a rotation. Pure; the page only puts it down. */
export type StageKind = 'donning' | 'inside' | 'doffing' | 'check' | 'rest';
export type BarKind = StageKind | 'turnover' | 'break' | 'guides';

export interface Bar extends Span {
  kind: BarKind;
  /** Shares of the window, 0 to 1. */
  start: number;
  length: number;
  /** Whom a bar of a lane or an observer is for. */
  worker?: PersonId;
}

export interface TripBar {
  trip: PlannedTrip;
  start: number;
  length: number;
  /** Their start and length are shares of the trip's own bar. */
  stages: (Bar & { kind: StageKind })[];
}

export interface WorkerRow {
  id: PersonId;
  trips: TripBar[];
}
export interface UseRow<Id> {
  id: Id;
  bars: Bar[];
}
export interface RoomRow {
  id: RoomId;
  name: string;
  wanted: number;
  gaps: (Gap & { start: number; length: number })[];
}

export interface Timeline {
  window: Span;
  marks: number[];
  workers: WorkerRow[];
  lanes: UseRow<LaneId>[];
  observers: UseRow<PersonId>[];
  rooms: RoomRow[];
}

const hourMs = 60 * minuteMs;

export function timelineOf(rotation: Rotation, rules: UnitRules, times: Times): Timeline {
  const window = { from: rotation.startAt, to: rotation.endAt };
  return {
    window,
    marks: hourMarks(window),
    workers: workerRows(rotation, window, times),
    lanes: rules.lanes.map(({ id }) => ({ id, bars: laneBars(rotation, id, window, times) })),
    observers: observerRows(rotation, window, times),
    rooms: rules.rooms
      .map(({ id, name }) => ({ id, name, wanted: rotation.staffInside?.[id] ?? 0 }))
      .filter(({ wanted }) => wanted > 0)
      .map((room) => ({ ...room, gaps: gapsOf(rotation, room.id, times).flatMap((gap) => placed(window, gap)) })),
  };
}

/** The full hours of the clock in the window. */
export function hourMarks({ from, to }: Span): number[] {
  const marks: number[] = [];
  for (let at = Math.ceil(from / hourMs) * hourMs; at < to; at += hourMs) marks.push(at);
  return marks;
}

/** Where a span lies in the window; nothing where it is outside. */
function placed<One extends Span>(window: Span, one: One): (One & { start: number; length: number })[] {
  const part = partOf(window, one.from, one.to);
  return part ? [{ ...one, ...part }] : [];
}

function workerRows({ trips }: Rotation, window: Span, times: Times): WorkerRow[] {
  const firstOf = new Map<PersonId, number>();
  for (const { worker, donningAt } of trips) firstOf.set(worker, Math.min(firstOf.get(worker) ?? Infinity, donningAt));
  return [...firstOf]
    .sort(([a, one], [b, other]) => one - other || (a < b ? -1 : 1))
    .map(([id]) => ({
      id,
      trips: trips
        .filter(({ worker }) => worker === id)
        .sort((one, other) => one.donningAt - other.donningAt)
        .flatMap((trip) => tripBar(trip, window, times)),
    }));
}

function tripBar(trip: PlannedTrip, window: Span, times: Times): TripBar[] {
  const spans = spansOf(trip, times);
  const part = partOf(window, spans.busy.from, spans.busy.to);
  if (!part) return [];
  const own = { from: Math.max(spans.busy.from, window.from), to: Math.min(spans.busy.to, window.to) };
  const stages = (['donning', 'inside', 'doffing', 'check', 'rest'] as const).flatMap((kind) =>
    placed(own, { kind, ...spans[kind] }),
  );
  return [{ trip, ...part, stages }];
}

function laneBars({ trips }: Rotation, lane: LaneId, window: Span, times: Times): Bar[] {
  return trips
    .filter((trip) => trip.lane === lane)
    .flatMap((trip) => {
      const { doffing, lane: taken } = spansOf(trip, times);
      return [
        ...placed(window, { kind: 'doffing' as const, worker: trip.worker, ...doffing }),
        ...placed(window, { kind: 'turnover' as const, from: doffing.to, to: taken.to }),
      ];
    })
    .sort((one, other) => one.from - other.from);
}

function observerRows({ trips, breaks }: Rotation, window: Span, times: Times): UseRow<PersonId>[] {
  const rows = new Map<PersonId, Bar[]>();
  const put = (observer: PersonId, bars: Bar[]) => rows.set(observer, [...(rows.get(observer) ?? []), ...bars]);
  for (const trip of trips)
    for (const { observer, ...span } of watchesOf(trip, times))
      put(observer, placed(window, { kind: 'guides' as const, worker: trip.worker, ...span }));
  for (const { observer, at, minutes } of breaks)
    put(observer, placed(window, { kind: 'break' as const, from: at, to: at + minutes * minuteMs }));
  return [...rows]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([id, bars]) => ({ id, bars: bars.sort((one, other) => one.from - other.from) }));
}
