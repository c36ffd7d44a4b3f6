import type { UnitId } from '../machines/wire/ids.ts';
import type { LoadedUnit } from './unit/load-unit.ts';
import type { Authority } from './unit/authority.ts';

/** A unit as the edges see it: what its files say, and who decides for it. */
export interface ServedUnit {
  id: UnitId;
  loaded: LoadedUnit;
  authority: Authority;
}

export type ServedUnits = ReadonlyMap<UnitId, ServedUnit>;
