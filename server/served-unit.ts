import type { UnitId } from '../machines/wire/ids.ts';
import type { LoadedUnit } from './unit/load-unit.ts';
import type { Authority } from './unit/authority.ts';
import type { RotationService } from './rotation/live/rotation-service.ts';
import type { ForecastWatch } from './watch/forecast-watch.ts';
import type { RotationWatch } from './watch/rotation-watch.ts';

/** A unit as the edges see it: what its files say, and who decides for it. */
export interface ServedUnit {
  id: UnitId;
  loaded: LoadedUnit;
  authority: Authority;
  forecasts: ForecastWatch;
  rotations: RotationService;
  repairs: RotationWatch;
}

export type ServedUnits = ReadonlyMap<UnitId, ServedUnit>;
