import { guidingPhase } from '../../machines/unit/decide-duty.ts';
import { detailOf, holderOf, placeOf, procedureOf, type Place } from '../../machines/unit/questions.ts';
import { at, entriesOf, type UnitState, type UnitWorker } from '../../machines/unit/state.ts';
import type { LaneId, PersonId } from '../../machines/wire/ids.ts';
import { roomName, standingOf, type Standing } from './guided.ts';

/** A worker who needs an observer now, or has one who may be relieved. */
export interface Needing {
  worker: PersonId;
  place: Standing;
  roomName: string;
  procedureTitle: string;
  /** When anything last happened about them. */
  since: number;
  /** Expected to be watched by the person at this tablet. */
  mine: boolean;
  emergency: boolean;
  holder?: { person: PersonId; silent: boolean };
}

/** On the way out before on the way in; in a lane before all. */
const urgency: Readonly<Record<Place, number>> = {
  doffing: 0,
  inside: 1,
  'post-check': 2,
  donned: 3,
  'pre-check': 4,
  rest: 5,
};

/**
 * Everybody an observer could take. Emergencies that nobody watches stand first, whoever they belong to; then those assigned
 * to this observer; then by how little they can wait.
 */
export function needing(state: UnitState, me: PersonId): { unwatched: Needing[]; withOthers: Needing[] } {
  const all = entriesOf(state.workers)
    .filter(([id, { machine }]) => id !== me && guidingPhase(placeOf(machine), detailOf(machine)) !== undefined)
    .filter(([id]) => holderOf(state, id) !== me)
    .sort(([, a], [, b]) => rank(a, me) - rank(b, me) || a.lastAt - b.lastAt)
    .map(([id, worker]) => needingOf(state, id, worker, me));
  const alone = (one: Needing) => !one.holder || one.holder.silent;
  return { unwatched: all.filter(alone), withOthers: all.filter((one) => !alone(one)) };
}

function rank({ machine, observer }: UnitWorker, me: PersonId): number {
  if (machine.context.entry?.emergency) return -1;
  return (observer === me ? 0 : 10) + urgency[placeOf(machine)];
}

function needingOf(state: UnitState, worker: PersonId, found: UnitWorker, me: PersonId): Needing {
  const { machine, observer, lastAt } = found;
  const entry = machine.context.entry;
  if (!entry) throw new Error(`${worker} stands at ${placeOf(machine)} without an entry`);
  const holder = holderOf(state, worker);
  const silent = holder !== undefined && at(state.observers, holder)?.value === 'unreachable';
  return {
    worker,
    place: standingOf(machine),
    roomName: roomName(state, entry.room),
    procedureTitle: procedureOf(state, entry).title,
    since: lastAt,
    mine: observer === me,
    emergency: entry.emergency,
    ...(holder && { holder: { person: holder, silent } }),
  };
}

/** A lane that somebody has to declare clear, and whether its time is served. */
export interface Turnover {
  lane: LaneId;
  name: string;
  until: number;
  served: boolean;
}

export function turnovers(state: UnitState, now: number): Turnover[] {
  return entriesOf(state.lanes)
    .filter(([, lane]) => lane.value === 'turnover')
    .map(([id, { context }]) => {
      const until = context.turnoverUntil ?? 0;
      const name = state.rules.lanes.find((one) => one.id === id)?.name ?? id;
      return { lane: id, name, until, served: now >= until };
    })
    .sort((a, b) => a.until - b.until);
}
