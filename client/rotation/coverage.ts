import type { Rotation } from '../../machines/unit/rotation.ts';
import type { RoomId } from '../../machines/wire/ids.ts';
import { minuteMs, spansOf, type Span, type Times } from './times.ts';

/** How many are missing in a room, and when. */
export interface Gap extends Span {
  missing: number;
}

/**
 * Where a room has fewer people than were asked for. Somebody counts once the handover is over; whoever is inside when the rotation
 * begins counts from then.
 */
export function gapsOf({ startAt, endAt, trips, staffInside }: Rotation, room: RoomId, times: Times): Gap[] {
  const wanted = staffInside?.[room] ?? 0;
  const there = trips
    .filter((trip) => trip.room === room)
    .map((trip) => {
      const { from, to } = spansOf(trip, times).inside;
      return { from: from <= startAt ? startAt : from + times.handover * minuteMs, to };
    });
  const edges = [startAt, endAt, ...there.flatMap(({ from, to }) => [from, to])].filter(
    (at) => at >= startAt && at <= endAt,
  );
  const sorted = [...new Set(edges)].sort((one, other) => one - other);
  const gaps: Gap[] = [];
  for (const [index, from] of sorted.slice(0, -1).entries()) {
    const to = sorted[index + 1]!;
    const missing = wanted - there.filter((one) => one.from <= from && one.to >= to).length;
    const last = gaps.at(-1);
    if (missing <= 0) continue;
    if (last?.to === from && last.missing === missing) last.to = to;
    else gaps.push({ from, to, missing });
  }
  return gaps;
}
