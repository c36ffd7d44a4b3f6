import type { RotationInstance } from './instance.ts';
import type { OngoingFrame, Position, ProblemOptions, Spans, WorkerFrame } from './slots.ts';

/** One position per person needed; who is inside is put on the positions of the room in turn, the longest inside first. */
export function positionsOf(
  instance: RotationInstance,
  grid: number,
  spans: Spans,
  options: ProblemOptions,
  workers: WorkerFrame[],
): { positions: Position[]; ongoing: OngoingFrame[] } {
  const positions: Position[] = [];
  const ongoing: OngoingFrame[] = [];
  for (const room of instance.rooms) {
    const first = positions.length;
    for (let i = 0; i < room.staffInside; i++) positions.push({ room: room.id, demand: true });
    const inside = instance.inside
      .filter((person) => person.room === room.id)
      .sort((a, b) => a.sinceMinute - b.sinceMinute);
    if (inside.length > 0 && room.staffInside === 0) positions.push({ room: room.id, demand: false });
    const many = positions.length - first;
    for (const [i, person] of inside.entries()) {
      const worker = instance.workers.findIndex(({ id }) => id === person.worker);
      if (worker < 0 || ongoing.some((other) => other.worker === worker)) continue;
      const latest = options.mustLeave?.find((order) => order.worker === person.worker)?.byMinute;
      const frame = ongoingFrame(instance, grid, spans, person.sinceMinute, workers[worker]!, latest);
      ongoing.push({ worker, position: first + (i % many), ...frame });
      // Whoever is inside comes again only after they have been out.
      const ready = frame.exitSlotFirst + spans.recovery;
      workers[worker]!.readySlot = Math.max(workers[worker]!.readySlot, ready);
    }
  }
  return { positions, ongoing };
}

function ongoingFrame(
  instance: RotationInstance,
  grid: number,
  spans: Spans,
  sinceMinute: number,
  worker: WorkerFrame,
  latestMinute: number | undefined,
) {
  const exitSlotFirst = Math.max(1, Math.ceil((sinceMinute + grid) / grid), Math.ceil(instance.slotMinutes / grid));
  const stayMinutesMax = Math.max(...instance.insideMinutesAllowed);
  const wearLeft = instance.perPerson.maxMinutesInEquipment - worker.minutesBefore - spans.doffing * grid;
  const limit = Math.floor((sinceMinute + stayMinutesMax + instance.maxOverrunMinutes) / grid);
  // The day's limit, the end of duty and an order to leave bind where they can; somebody who is inside must come out all the same.
  const others = [Math.floor((sinceMinute + wearLeft) / grid), worker.dutyEndSlot - spans.aftercare];
  if (latestMinute !== undefined) others.push(Math.floor(latestMinute / grid));
  const exitSlotLast = Math.max(exitSlotFirst, Math.min(limit, ...others));
  const due = Math.floor((sinceMinute + stayMinutesMax) / grid);
  return {
    sinceMinute,
    coverSlot: Math.max(0, Math.ceil(sinceMinute / grid) + spans.handover),
    exitSlotFirst,
    exitSlotDue: Math.min(exitSlotLast, Math.max(exitSlotFirst, due)),
    exitSlotLast,
  };
}
