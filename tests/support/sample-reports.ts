import type { ReportKind } from '../../machines/wire/report.ts';
import { vitals } from './unit-fixture.ts';

const worker = 'w1';
const reason = 'because the test says so';

/** Data of every kind of report that the schemas accept; whether the unit accepts it is another question. */
export const sampleData: Readonly<Record<ReportKind, object>> = {
  'start-duty': {},
  'end-duty': {},
  'start-break': {},
  'end-break': {},
  'take-worker': { worker },
  'release-worker': { worker },
  'call-worker': { worker, room: 'r1', procedure: 'gown' },
  'cancel-entry': { worker, reason },
  'assign-observer': { worker, observer: 'o1' },
  'record-screening': { worker, points: ['drank'], vitals },
  'release-hold': { worker, reason },
  'confirm-kit-item': { worker, item: 'kit-gloves' },
  'verify-step': { worker, step: 'rub-hands' },
  'override-step': { worker, step: 'rub-hands', reason },
  'note-deviation': { worker, step: 'rub-hands', deviationKind: 'missed', actor: 'worker' },
  'correct-deviation': { worker, deviation: 'D1' },
  'pass-inspection': { worker },
  'fail-inspection': { worker, steps: ['gown-on'] },
  'enter-room': { worker },
  'call-out': { worker },
  'leave-room': { worker },
  'enter-lane': { worker, lane: 'l1', confirmed: ['lane-clean'] },
  'declare-emergency': { worker },
  'declare-breach': { worker, breachKind: 'splash' },
  'clear-breach': { worker, breach: 'B1', reason },
  'record-post-check': { worker, vitals },
  'stand-down': { worker, reason },
  'lift-stand-down': { worker, reason },
  'hold-lane': { lane: 'l1', worker },
  'release-lane-hold': { lane: 'l1' },
  'clear-lane': { lane: 'l1' },
  'close-lane': { lane: 'l1', reason },
  'reopen-lane': { lane: 'l1' },
  'tell-alert': { alert: 'A1' },
  'acknowledge-alert': { alert: 'A1' },
  'clear-alert': { alert: 'A1', reason },
  'close-review': { review: 1, reason },
};
