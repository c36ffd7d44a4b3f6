import type { Procedure } from '../procedure/procedure.ts';
import type { FactData, NumberedFact } from '../wire/fact.ts';
import type { PersonId } from '../wire/ids.ts';
import { isAt } from './questions.ts';
import { at, entriesOf, procedureKey, timesKept, type UnitState } from './state.ts';

/** What facts make of the procedures a unit goes by; part of the fold. */

/** Takes in a version that was adopted on a screen. Open entries keep the version they began with. */
export function adoptOnScreen(state: UnitState, data: FactData<'procedure-adopted'>, fact: NumberedFact): UnitState {
  const { procedure, proof } = data;
  const { id, version } = procedure;
  const by = 'person' in fact.by ? fact.by.person : undefined;
  const how = proof.verdict === 'proved' ? 'proved' : 'override';
  return {
    ...state,
    procedures: { ...withoutUnneeded(state, procedure), [procedureKey(id, version)]: procedure },
    adopted: { ...state.adopted, [id]: version },
    adoptions: { ...state.adoptions, [id]: { version, at: fact.at, ...(by && { by }), how } },
  };
}

/** Versions that no open entry needs any more go: a state is sent whole to every screen, and must not grow with each edit. */
function withoutUnneeded(state: UnitState, { id }: Procedure): UnitState['procedures'] {
  const needed = new Set(
    Object.values(state.workers).flatMap(({ machine }) => {
      const { entry } = machine.context;
      return entry ? [procedureKey(entry.procedure, entry.version)] : [];
    }),
  );
  return Object.fromEntries(
    Object.entries(state.procedures).filter(([key, procedure]) => procedure.id !== id || needed.has(key)),
  );
}

/** What was adopted on a screen and is still what the unit goes by, once its files are taken in. */
export function adoptionsIn(state: UnitState, procedures: readonly Procedure[]): UnitState['adoptions'] {
  const still = entriesOf(state.adoptions).filter(([id, { version }]) =>
    procedures.some((one) => one.id === id && one.version === version),
  );
  return Object.fromEntries(still) as UnitState['adoptions'];
}

/** Remembers how long a doffing took, once its last step is done. */
export function noteDoffing(before: UnitState, after: UnitState, worker: PersonId): UnitState {
  const entry = at(after.workers, worker)?.machine.context.entry;
  const wasOver = at(before.workers, worker)?.machine.context.entry?.doffedAt !== undefined;
  if (wasOver || entry?.doffedAt === undefined || entry.laneAt === undefined) return after;
  if (entry.emergency || entry.overridden.length > 0) return after;
  return { ...after, doffings: withTime(after.doffings, entry.procedure, entry.doffedAt - entry.laneAt) };
}

/** Donning begins when the last piece of the kit is confirmed. */
export function noteDonningBegun(after: UnitState, id: PersonId, now: number): UnitState {
  const worker = at(after.workers, id);
  if (!worker || !isAt(worker.machine, 'pre-check', 'donning')) return after;
  return { ...after, workers: { ...after.workers, [id]: { ...worker, donningSince: now } } };
}

/** Remembers how long a donning took, once the inspection is passed. */
export function noteDonning(after: UnitState, id: PersonId, now: number): UnitState {
  const worker = at(after.workers, id);
  const entry = worker?.machine.context.entry;
  if (!worker || !entry || worker.donningSince === undefined) return after;
  return { ...after, donnings: withTime(after.donnings, entry.procedure, now - worker.donningSince) };
}

function withTime(times: UnitState['doffings'], procedure: Procedure['id'], ms: number): UnitState['doffings'] {
  const minutes = Math.round(ms / 600) / 100;
  return { ...times, [procedure]: [...(at(times, procedure) ?? []), minutes].slice(-timesKept) };
}
