import { boundFor, placeOf } from '../../machines/unit/questions.ts';
import { entriesOf, procedureKey, type UnitState } from '../../machines/unit/state.ts';
import type { PersonId, ProcedureId, RoomId } from '../../machines/wire/ids.ts';
import type { Refusal } from '../../machines/wire/refusal.ts';
import type { Desk } from './desk.ts';

/** Who may be called for an entry, and why not: each asked of the unit's own rules. */
export interface Callable {
  worker: PersonId;
  /** Why not at all. */
  refusal: Refusal | undefined;
  /** Only the rest is in the way, and a reason gets past it. */
  rest: { until: number; reason: string } | undefined;
}

/** Everybody on the cold side: those who can be called first, then those still resting, then those who can't. */
export function callables(desk: Desk, room: RoomId, procedure: ProcedureId): Callable[] {
  const rank = (one: Callable) => (one.refusal ? 2 : one.rest ? 1 : 0);
  return entriesOf(desk.state.workers)
    .filter(([, { machine }]) => placeOf(machine) === 'rest')
    .map(([worker]) => callable(desk, worker, room, procedure))
    .sort((a, b) => rank(a) - rank(b) || (a.rest?.until ?? 0) - (b.rest?.until ?? 0));
}

export function callable(desk: Desk, worker: PersonId, room: RoomId, procedure: ProcedureId): Callable {
  const refusal = desk.refusal('call-worker', { worker, room, procedure });
  if (refusal?.code !== 'worker/resting') return { worker, refusal, rest: undefined };
  const past = desk.refusal('call-worker', { worker, room, procedure, despiteRest: 'asked' });
  const rest = desk.state.workers[worker]?.machine.context.rest;
  return { worker, refusal: past, rest: rest && { until: rest.until, reason: rest.reason } };
}

/**
 * Why somebody can't be called into any room by any procedure, in the unit's own words; undefined while there is a way. That every
 * room is full is no matter of theirs: the form says it.
 */
export function neverCallable(desk: Desk, worker: PersonId): Refusal | undefined {
  const rooms = desk.state.rules.rooms.map(({ id }) => id);
  const ways = procedureChoices(desk.state).flatMap(({ procedure }) =>
    rooms.map((room) => callable(desk, worker, room, procedure).refusal),
  );
  const refusals = ways.filter((one) => one !== undefined);
  if (refusals.length < ways.length) return undefined;
  return refusals.some(({ code }) => code === 'room/full') ? undefined : refusals[0];
}

export interface RoomChoice {
  room: RoomId;
  name: string;
  taken: number;
  places: number;
}

export function roomChoices(state: UnitState): RoomChoice[] {
  return state.rules.rooms.map(({ id, name, places }) => ({
    room: id,
    name,
    taken: boundFor(state, id).length,
    places,
  }));
}

export function procedureChoices(state: UnitState): { procedure: ProcedureId; title: string }[] {
  return entriesOf(state.adopted).map(([procedure, version]) => ({
    procedure,
    title: state.procedures[procedureKey(procedure, version)]?.title ?? procedure,
  }));
}
