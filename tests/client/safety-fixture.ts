import { at, type UnitState } from '../../machines/unit/state.ts';
import type { AlertState } from '../../machines/alert/alert-machine.ts';
import type { AlertKind } from '../../machines/wire/fact.ts';
import type { AlertId, DeviceId, PersonId } from '../../machines/wire/ids.ts';
import type { Sender } from '../../client/board/dry-run.ts';
import { floorNames, type FloorNames } from '../../client/board/floor-names.ts';
import { deviceOf, nameOf } from '../support/unit-fixture.ts';

/** The safety officer of the small unit, as the page knows them. */
export const me = 's1' as PersonId;
export const officer: Sender = { device: deviceOf('s1') as DeviceId, role: 'safety-officer', person: me };
export const id = (text: string) => text as PersonId;

export const namesIn = (state: UnitState): FloorNames => floorNames(state.rules, nameOf);

/** The only open alert of a kind. */
export function alertOf(state: UnitState, kind: AlertKind): AlertState {
  const found = Object.values(state.alerts).filter((alert) => alert.context.kind === kind);
  if (found.length !== 1 || !found[0]) throw new Error(`${found.length} open alerts of kind ${kind}`);
  return found[0];
}

export const alertById = (state: UnitState, alert: AlertId) => at(state.alerts, alert);
