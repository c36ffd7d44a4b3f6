import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { rotationInstance } from '../../server/rotation/instance.ts';
import type { Plan, RotationInstance } from '../../server/rotation/instance.ts';
import { shiftPlan } from '../../server/rotation/repair.ts';
import type { LaneAway, ObserverAway } from '../../server/rotation/slots.ts';

/** An instance of tests/support/rotation-instances by the name of its file. All are invented. */
export function instanceNamed(name: string): RotationInstance {
  const text = readFileSync(join(import.meta.dirname, 'rotation-instances', `${name}.json`), 'utf8');
  return rotationInstance.parse((JSON.parse(text) as { instance: unknown }).instance);
}

/** What is true at a minute when a plan was followed exactly until then. */
export interface Moment {
  instance: RotationInstance;
  previous: Plan;
  lanesAway: LaneAway[];
  observersAway: ObserverAway[];
}

/** Whoever is being donned then counts as inside from when they will be, and their observer is away until then. */
export function momentOf(instance: RotationInstance, plan: Plan, minute: number): Moment {
  const { donning, doffing, turnover, postCheck, rest } = instance.durations;
  const told = plan.entries.map((entry) => {
    const insideMinute = entry.donningStartMinute + donning - minute;
    return { entry, insideMinute, exitMinute: insideMinute + entry.insideMinutes };
  });
  const over = told.filter(({ exitMinute }) => exitMinute <= 0);
  const begun = told.filter(({ insideMinute, exitMinute }) => insideMinute - donning < 0 && exitMinute > 0);
  const workers = instance.workers.map((worker) => {
    const own = over.filter(({ entry }) => entry.worker === worker.id);
    const wear = own.map(({ entry }) => entry.insideMinutes + doffing);
    const ready = own.map(({ exitMinute }) => exitMinute + doffing + postCheck + rest);
    return {
      ...worker,
      onDutyFromMinute: worker.onDutyFromMinute - minute,
      onDutyToMinute: worker.onDutyToMinute === null ? null : worker.onDutyToMinute - minute,
      busyUntilMinute: Math.max(worker.busyUntilMinute - minute, ...ready),
      minutesInEquipmentSoFar: wear.reduce((sum, minutes) => sum + minutes, worker.minutesInEquipmentSoFar),
      entriesSoFar: worker.entriesSoFar + own.length,
    };
  });
  const inside = begun.map(({ entry, insideMinute }) => ({
    ...{ worker: entry.worker, room: entry.room },
    sinceMinute: insideMinute,
  }));
  const watching = [
    ...over.map(({ entry, exitMinute }) => ({ observer: entry.observerDoffing, toMinute: exitMinute + doffing })),
    ...begun.map(({ entry, insideMinute }) => ({ observer: entry.observerDonning ?? -1, toMinute: insideMinute })),
  ];
  return {
    instance: { ...instance, horizonMinutes: instance.horizonMinutes - minute, workers, inside },
    previous: shiftPlan(instance, plan, minute),
    lanesAway: over
      .map(({ entry, exitMinute }) => ({ lane: entry.lane, fromMinute: 0, toMinute: exitMinute + doffing + turnover }))
      .filter(({ toMinute }) => toMinute > 0),
    observersAway: watching
      .map(({ observer, toMinute }) => ({ observer, fromMinute: 0, toMinute }))
      .filter(({ observer, toMinute }) => observer >= 0 && toMinute > 0),
  };
}
