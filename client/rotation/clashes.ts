import type { PlannedTrip, Rotation } from '../../machines/unit/rotation.ts';
import type { UnitRules } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { wallClock } from '../board/clock.ts';
import type { FloorNames } from '../board/floor-names.ts';
import { words } from '../words/words.ts';
import { meets, minuteMs, spansOf, type Span, type Times } from './times.ts';

/** Where a trip gets in the way of others. Said, never forbidden: whoever moves a trip may know better. */
export type Clash = Span &
  (
    | { kind: 'worker' }
    | { kind: 'lane' | 'room'; other: PlannedTrip }
    | { kind: 'observer'; observer: PersonId; other: PlannedTrip }
    | { kind: 'break'; observer: PersonId }
  );

export function clashesOf(trip: PlannedTrip, rotation: Rotation, times: Times, rules: UnitRules): Clash[] {
  const own = spansOf(trip, times);
  const others = rotation.trips.filter(({ id }) => id !== trip.id);
  const spans = others.map((other) => ({ other, spans: spansOf(other, times) }));
  const worker = spans
    .filter((one) => one.other.worker === trip.worker && meets(one.spans.busy, own.busy))
    .map((one): Clash => ({ kind: 'worker', ...one.spans.busy }));
  const lane = spans
    .filter((one) => trip.lane && one.other.lane === trip.lane && meets(one.spans.lane, own.lane))
    .map(({ other, spans: { lane: span } }): Clash => ({ kind: 'lane', other, ...span }));
  return [...worker, ...lane, ...observerClashes(trip, rotation, times), ...roomClash(trip, others, times, rules)];
}

interface Watching extends Span {
  observer: PersonId;
}

/** When each observer of a trip is bound by it. */
export function watchesOf(trip: PlannedTrip, times: Times): Watching[] {
  const { donning, doffing } = spansOf(trip, times);
  return [
    ...(trip.observerDonning ? [{ observer: trip.observerDonning, ...donning }] : []),
    ...(trip.observerDoffing ? [{ observer: trip.observerDoffing, ...doffing }] : []),
  ];
}

function observerClashes(trip: PlannedTrip, { trips, breaks }: Rotation, times: Times): Clash[] {
  return watchesOf(trip, times).flatMap((own) => {
    const same = (one: Watching) => one.observer === own.observer && meets(one, own);
    const watched = trips
      .filter(({ id }) => id !== trip.id)
      .flatMap((other) =>
        watchesOf(other, times)
          .filter(same)
          .map((one): Clash => ({ kind: 'observer', other, ...one })),
      );
    const resting = breaks
      .map(({ observer, at, minutes }) => ({ observer, from: at, to: at + minutes * minuteMs }))
      .filter(same)
      .map((one): Clash => ({ kind: 'break', ...one }));
    return [...watched, ...resting];
  });
}

function roomClash(trip: PlannedTrip, others: readonly PlannedTrip[], times: Times, rules: UnitRules): Clash[] {
  const places = rules.rooms.find(({ id }) => id === trip.room)?.places ?? Infinity;
  const own = spansOf(trip, times).inside;
  const there = others
    .filter((other) => other.room === trip.room)
    .map((other) => ({ other, ...spansOf(other, times).inside }))
    .filter((one) => meets(one, own));
  // Whoever relieves somebody is beside them for the handover: that is one more than usual, and meant.
  const handover = times.handover * minuteMs;
  const crowd = there.find((one) => {
    const from = Math.max(one.from, own.from);
    const together = there.filter((two) => two.from <= from && two.to > from + handover);
    return together.length + 1 > places;
  });
  if (!crowd) return [];
  return [{ kind: 'room', other: crowd.other, from: Math.max(crowd.from, own.from), to: Math.min(crowd.to, own.to) }];
}

export function clashWords(clash: Clash, trip: PlannedTrip, names: FloorNames): string {
  const text = words.rotation.trip.clash;
  const from = wallClock(clash.from);
  const to = wallClock(clash.to);
  switch (clash.kind) {
    case 'worker':
      return text.worker(names.person(trip.worker), from, to);
    case 'lane':
      return text.lane(trip.lane ? names.lane(trip.lane) : '', names.person(clash.other.worker), from, to);
    case 'observer':
      return text.observer(names.person(clash.observer), names.person(clash.other.worker), from, to);
    case 'break':
      return text.break(names.person(clash.observer), from, to);
    case 'room':
      return text.room(names.room(trip.room), from, to);
    default: {
      const never: never = clash;
      throw new Error(`no clash ${JSON.stringify(never)}`);
    }
  }
}
