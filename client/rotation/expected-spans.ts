import { doffedAt, leavesRoomAt } from '../../machines/unit/rotation.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { LanePlan } from '../board/lane-view.ts';
import { expectedTrips } from './next.ts';

/**
 * The lanes of the hour ahead with what the adopted rotation expects beyond who is in equipment now. Expected only: nothing waits for
 * these, and nobody is told to wait because of them. Whoever is on a lane already is left as they are.
 */
export function withPlanned(plan: LanePlan, state: UnitState, now: number): LanePlan {
  const expected = expectedTrips(state, now);
  const lines = plan.lines.map((line) => {
    const planned = expected
      .filter(({ lane, worker }) => lane === line.lane && !line.spans.some((span) => span.worker === worker))
      .map((trip) => ({
        ...{ worker: trip.worker, going: false, planned: true as const },
        ...{ wanted: leavesRoomAt(trip), from: leavesRoomAt(trip), to: doffedAt(trip) },
        ...{ callOutAt: undefined, limitAt: undefined },
      }));
    return { ...line, spans: [...line.spans, ...planned] };
  });
  return { ...plan, lines };
}
