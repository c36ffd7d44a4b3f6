import { rotationSettings } from '../../machines/unit/rotation-settings.ts';
import type { PlannedTrip } from '../../machines/unit/rotation.ts';
import { minute, openedAt } from './unit-fixture.ts';

/** What the small unit says about its rotation, where a test wants it to say something. */
export const rotationRules = rotationSettings.parse({
  insideMinutes: [20, 30, 40, 50],
  handoverMinutes: 5,
  postCheckMinutes: 5,
  observerBreak: { minutes: 15, everyMinutes: 120 },
  maxOverrunMinutes: 30,
  source: 'invented for tests',
});

/** A trip into Room 1 with the gown that begins so many minutes after the unit was opened: 5 donning, 40 inside, 10 doffing. */
export const plannedFor = (worker: string, fromMinute: number, change: Partial<PlannedTrip> = {}): PlannedTrip => ({
  ...{ id: `${worker}-${fromMinute}`, worker: worker as PlannedTrip['worker'] },
  ...{ room: 'r1' as PlannedTrip['room'], procedure: 'gown' as PlannedTrip['procedure'] },
  donningAt: openedAt + fromMinute * minute,
  ...{ donningMinutes: 5, insideMinutes: 40, doffingMinutes: 10 },
  ...{ lane: 'l1' as NonNullable<PlannedTrip['lane']> },
  observerDonning: 'o1' as NonNullable<PlannedTrip['observerDonning']>,
  observerDoffing: 'o1' as NonNullable<PlannedTrip['observerDoffing']>,
  ...change,
});
