import { detailOf, holderOf, isInPpe, placeOf, procedureOf } from '../../machines/unit/questions.ts';
import { at, entriesOf, type UnitState } from '../../machines/unit/state.ts';
import type { EmergencyDoffing, Procedure } from '../../machines/procedure/procedure.ts';
import type { DeviceId, PersonId, RoomId } from '../../machines/wire/ids.ts';
import type { Report } from '../../machines/wire/report.ts';
import type { Breach, Entry, WorkerState } from '../../machines/worker/worker-machine.ts';
import { minutesSince } from '../board/clock.ts';

/** Whose tablet this is. */
export interface Me {
  person: PersonId;
  device: DeviceId;
}

/** The worker being guided, with what every page about them shows. */
export interface Guided {
  worker: PersonId;
  place: Standing;
  entry: Entry;
  procedure: Procedure;
  roomName: string;
  laneName?: string;
  wearing?: Wearing;
  breaches: readonly Breach[];
  /** Whether emergency exit means anything: before the door there is an entry to stop, after doffing nothing to leave. */
  inPpe: boolean;
}

/** Where somebody stands, in one word for the catalogue. */
export type Standing =
  | 'screening'
  | 'held'
  | 'kit'
  | 'donning'
  | 'inspection'
  | 'donned'
  | 'working'
  | 'leaving'
  | 'at-threshold'
  | 'stepping'
  | 'corrective'
  | 'measuring'
  | 'held-after'
  | 'rest';

export function standingOf(machine: WorkerState): Standing {
  const place = placeOf(machine);
  if (place === 'rest') return 'rest';
  if (place === 'donned') return 'donned';
  const detail = detailOf(machine) as Standing;
  return place === 'post-check' && detail === 'held' ? 'held-after' : detail;
}

/** Time in PPE as the observer needs it: how long, until when, and how near the call-out is. */
export interface Wearing {
  minutes: number;
  stage: 'early' | 'soon' | 'call-out' | 'over';
  limitMinutes?: number;
  reason?: string;
  callOutAt?: number;
  limitAt?: number;
}

export function wearingOf(entry: Entry, now: number): Wearing | undefined {
  if (entry.donnedAt === undefined || entry.doffedAt !== undefined) return undefined;
  const minutes = minutesSince(entry.donnedAt, now);
  const { limit } = entry;
  if (!limit) return { minutes, stage: 'early' };
  const { callOutAt, limitAt, warnAt, reason } = limit;
  const stage = now >= limitAt ? 'over' : now >= callOutAt ? 'call-out' : now >= warnAt ? 'soon' : 'early';
  return { minutes, stage, limitMinutes: Math.round(limit.minutes), reason, callOutAt, limitAt };
}

export const roomName = (state: UnitState, room: RoomId): string =>
  state.rules.rooms.find((one) => one.id === room)?.name ?? room;

/** The open entry of the worker this observer guides; undefined while they guide nobody. */
export function guidedEntry(state: UnitState, me: PersonId): Entry | undefined {
  const worker = at(state.observers, me)?.context.worker;
  return worker && at(state.workers, worker)?.machine.context.entry;
}

export function guidedOf(state: UnitState, worker: PersonId, now: number): Guided | undefined {
  const found = at(state.workers, worker);
  const entry = found?.machine.context.entry;
  if (!found || !entry) return undefined;
  const lane = state.rules.lanes.find((one) => one.id === entry.lane);
  const wearing = wearingOf(entry, now);
  return {
    worker,
    place: standingOf(found.machine),
    entry,
    procedure: procedureOf(state, entry),
    roomName: roomName(state, entry.room),
    ...(lane && { laneName: lane.name }),
    ...(wearing && { wearing }),
    breaches: found.machine.context.breaches,
    inPpe: isInPpe(found.machine),
  };
}

/** The other way out of the equipment, where the procedure has one and the entry is an emergency; undefined otherwise. */
export const emergencyDoffingOf = ({ entry, inPpe, procedure }: Guided): EmergencyDoffing | undefined =>
  inPpe && entry.emergency ? procedure.emergencyDoffing : undefined;

/** Somebody in equipment whom this observer is expected to watch, without guiding them at this moment. */
export interface Watched {
  worker: PersonId;
  roomName: string;
  place: Standing;
  wearing?: Wearing;
}

export function watchedBy(state: UnitState, me: PersonId, now: number): Watched[] {
  return entriesOf(state.workers).flatMap(([worker, { machine, observer }]) => {
    const entry = machine.context.entry;
    if (!entry || observer !== me || !isInPpe(machine) || holderOf(state, worker) === me) return [];
    const wearing = wearingOf(entry, now);
    return [{ worker, roomName: roomName(state, entry.room), place: standingOf(machine), ...(wearing && { wearing }) }];
  });
}

/** Who can be helped with one press from here: first the worker being guided, then those inside. Never in another order. */
export interface Helped {
  worker: PersonId;
  /** `exit`: emergency exit goes out at once. `stop`: not in equipment yet, so the entry is stopped instead. */
  way: 'exit' | 'stop' | 'none';
  declared: boolean;
}

export function helpedFrom(state: UnitState, guided: Guided | undefined, watched: readonly Watched[]): Helped[] {
  const mine: Helped[] = guided
    ? [{ worker: guided.worker, way: wayOf(guided), declared: guided.entry.emergency }]
    : [];
  const others = watched.map(({ worker }) => ({
    worker,
    way: 'exit' as const,
    declared: at(state.workers, worker)?.machine.context.entry?.emergency ?? false,
  }));
  return [...mine, ...others];
}

function wayOf(guided: Guided): Helped['way'] {
  if (guided.inPpe) return 'exit';
  return guided.place === 'measuring' || guided.place === 'held-after' ? 'none' : 'stop';
}

const sentSoonMs = 2_000;

/** Reports that have been waiting so long that the person should know: not the blink between a press and its answer. */
export function unsentOf(waiting: readonly Report[], now: number, live: boolean): readonly Report[] {
  return waiting.filter((report) => !live || now - report.observedAt >= sentSoonMs);
}
