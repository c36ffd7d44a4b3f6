import { decide } from '../../machines/unit/accept.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { DeviceId, PersonId, ReportId } from '../../machines/wire/ids.ts';
import type { Refusal } from '../../machines/wire/refusal.ts';
import { wireVersion, type Report, type ReportData, type ReportKind } from '../../machines/wire/report.ts';
import type { Role } from '../../machines/wire/rights.ts';

export interface Sender {
  device: DeviceId;
  role: Role;
  person?: PersonId;
}

/**
 * Why the unit would refuse a report if it were sent now, by the very rules the server asks; undefined when it would be
 * accepted. A reason that somebody still has to write counts as written.
 */
export function refusalOf<K extends ReportKind>(
  state: UnitState,
  sender: Sender,
  kind: K,
  data: ReportData<K>,
  now: number,
): Refusal | undefined {
  if (!sender.person) return { code: 'rights/not-yours', sentence: '' };
  const report = {
    v: wireVersion,
    id: 'not-sent' as ReportId,
    unit: state.unit,
    device: sender.device,
    sequence: 1,
    person: sender.person,
    observedAt: now,
    kind,
    data,
  } as unknown as Report;
  const received = { report, role: sender.role, receivedAt: Math.max(now, state.at), salt: 'never-written' };
  const decision = decide(state, received);
  return 'refusal' in decision ? decision.refusal : undefined;
}
