import type { RotationInstance } from '../instance.ts';
import type { More } from './shortage.ts';
import type { Slotted } from './slotted.ts';

/** The same instance with so much more of what is short: lanes, observers, people, or minutes by which a duty starts earlier. */
export function enlarged(instance: RotationInstance, slotted: Slotted, more: More, amount: number): RotationInstance {
  switch (more.kind) {
    case 'lanes':
      return { ...instance, lanes: instance.lanes + amount };
    case 'observers':
      return { ...instance, observers: instance.observers + amount };
    case 'workers':
      return {
        ...instance,
        workers: [...instance.workers, ...additionalWorkers(instance, slotted, more.byDuty, amount)],
      };
    case 'earlier-duty':
      return { ...instance, workers: withEarlierDuty(instance, more.startMinute, amount) };
    case 'nothing':
      return instance;
    default:
      return more satisfies never;
  }
}

function withEarlierDuty({ workers }: RotationInstance, startMinute: number, minutes: number) {
  return workers.map((worker) =>
    worker.onDutyFromMinute === startMinute ? { ...worker, onDutyFromMinute: startMinute - minutes } : worker,
  );
}

/** One after the other to the duty that is wanted most by then. */
function additionalWorkers(instance: RotationInstance, slotted: Slotted, byDuty: readonly number[], amount: number) {
  const wanted = [...slotted.duties.keys()].map((index) => byDuty[index] ?? 0);
  return Array.from({ length: amount }, (_, number): RotationInstance['workers'][number] => {
    const most = wanted.indexOf(Math.max(...wanted));
    wanted[most]! -= 1;
    const { from, to } = slotted.duties[most]!;
    return {
      id: `additional ${number + 1}`,
      onDutyFromMinute: from * instance.slotMinutes,
      onDutyToMinute: Number.isFinite(to) ? to * instance.slotMinutes : null,
      busyUntilMinute: 0,
      minutesInEquipmentSoFar: 0,
      entriesSoFar: 0,
    };
  });
}
