import type { Advice, RoomReading } from '../../machines/unit/advise.ts';
import type { DeviceId, PersonId } from '../../machines/wire/ids.ts';
import type { Report } from '../../machines/wire/report.ts';
import type { Role } from '../../machines/wire/rights.ts';

/** Everything that can move a unit, in the order it came in. `at` is when this server received or noticed it. */
export type Input =
  | { what: 'report'; at: number; report: Report; role: Role; salt: string }
  | { what: 'join'; at: number; device: DeviceId; role: Role; person?: PersonId }
  | { what: 'heard'; at: number; device: DeviceId }
  | { what: 'silence'; at: number; device: DeviceId; lastHeardAt: number }
  | { what: 'leave'; at: number; device: DeviceId }
  | { what: 'tick'; at: number }
  | { what: 'advice'; at: number; advice: readonly Advice[] }
  | { what: 'readings'; at: number; readings: readonly RoomReading[]; sensor: string };
