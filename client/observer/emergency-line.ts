import { guideOf } from '../../machines/unit/questions.ts';
import { at, entriesOf, type UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import type { Report } from '../../machines/wire/report.ts';
import { standingOf, type Standing } from './guided.ts';

/** What the press of emergency exit has set going, and so what to say to the worker. */
export interface EmergencyLine {
  worker: PersonId;
  declaredAt: number;
  /** False while the report waits here: then only the voice and the radio carry it. */
  sent: boolean;
  place: Standing;
  laneName?: string;
  watchedBy?: PersonId;
}

export const emergencyLineMs = 10_000;

/** The line stays for ten seconds after the press, and for as long as the report has not gone out. */
export function emergencyLine(
  seen: UnitState,
  declared: { worker: PersonId; at: number } | undefined,
  waiting: readonly Report[],
  now: number,
): EmergencyLine | undefined {
  const machine = declared && at(seen.workers, declared.worker)?.machine;
  const entry = machine?.context.entry;
  if (!declared || !machine || !entry?.emergency) return undefined;
  const { worker } = declared;
  const sent = !waiting.some((report) => report.kind === 'declare-emergency' && report.data.worker === worker);
  if (sent && now - declared.at >= emergencyLineMs) return undefined;
  const held = entriesOf(seen.lanes).find(
    ([, lane]) => (lane.value === 'held' || lane.value === 'occupied') && lane.context.worker === worker,
  )?.[0];
  const lane = seen.rules.lanes.find((one) => one.id === held);
  const guide = guideOf(seen, worker);
  return {
    worker,
    declaredAt: declared.at,
    sent,
    place: standingOf(machine),
    ...(lane && { laneName: lane.name }),
    ...(guide && { watchedBy: guide }),
  };
}
