import { ownMinutes } from '../procedure/own-times.ts';
import { stepsOf } from '../procedure/order.ts';
import type { Procedure } from '../procedure/procedure.ts';
import type { FactData } from '../wire/fact.ts';
import type { Entry } from '../worker/worker-machine.ts';

/**
 * A new entry with everything of its procedure still to be done.
 *
 * @param doffings minutes of the unit's last doffings with this procedure, which take the place of the file's once there are enough
 */
export function emptyEntry(
  called: FactData<'worker-called'>,
  procedure: Procedure,
  at: number,
  doffings: readonly number[] = [],
): Entry {
  const own = ownMinutes(doffings);
  return {
    id: called.entry,
    room: called.room,
    procedure: called.procedure,
    version: called.version,
    calledAt: at,
    outstanding: {
      kit: procedure.kit.map((item) => item.id),
      donning: stepsOf(procedure, 'donning').map((step) => step.id),
      exit: stepsOf(procedure, 'exit').map((step) => step.id),
      doffing: stepsOf(procedure, 'doffing').map((step) => step.id),
    },
    done: [],
    screening: 'open',
    deviations: [],
    overridden: [],
    restCutShort: called.restCutShort !== undefined,
    emergency: false,
    ...(own !== undefined && { ownDoffingMinutes: own }),
  };
}
