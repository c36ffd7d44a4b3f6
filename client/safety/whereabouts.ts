import { procedureOf } from '../../machines/unit/questions.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import type { PersonId, RoomId } from '../../machines/wire/ids.ts';
import type { Entry, Limit } from '../../machines/worker/worker-machine.ts';
import { minutesSince, minutesUntil, wallClock } from '../board/clock.ts';
import type { FloorNames } from '../board/floor-names.ts';
import { isInEquipment, standings, watchOf, type Stand, type Standing, type Watch } from '../board/standing.ts';
import { againOf } from '../heat/again.ts';
import { words } from '../words/words.ts';

const text = words.safety;

/** Where somebody is and what they wear at this moment. */
export interface Whereabouts {
  worker: PersonId;
  stand: Stand | undefined;
  entry: Entry | undefined;
  procedure: string | undefined;
  worn: Worn | undefined;
  /** Who is with them; undefined for somebody without an entry. */
  watch: Watch | undefined;
  assistant: PersonId | undefined;
  /** Who else is in the same room. */
  roommates: PersonId[];
}

export interface Worn {
  minutes: number;
  limit: Limit | undefined;
  /** Whole minutes left to the limit, or past it. */
  toLimit: { left: number } | { over: number } | undefined;
  /** Only while calling out still means anything. */
  callOutAt: number | undefined;
}

export function whereaboutsOf(state: UnitState, worker: PersonId, now: number): Whereabouts {
  const found = at(state.workers, worker);
  const entry = found?.machine.context.entry;
  const everybody = standings(state);
  const stand = everybody.find((one) => one.id === worker)?.stand;
  return {
    worker,
    stand,
    entry,
    procedure: entry && procedureOf(state, entry).title,
    worn: stand && isInEquipment(stand) ? wornOf(stand, now) : undefined,
    watch: found && entry && watchOf(state, worker, found),
    assistant: entry?.assistant,
    roommates: stand?.at === 'room' ? inRoom(everybody, stand.room).filter((id) => id !== worker) : [],
  };
}

function inRoom(everybody: readonly Standing[], room: RoomId): PersonId[] {
  return everybody.filter(({ stand }) => stand.at === 'room' && stand.room === room).map(({ id }) => id);
}

function wornOf(stand: Extract<Stand, { donnedAt: number }>, now: number): Worn {
  const { limit } = stand;
  const over = limit !== undefined && now >= limit.limitAt;
  const callable = stand.at === 'door' || (stand.at === 'room' && stand.leavingSince === undefined);
  return {
    minutes: minutesSince(stand.donnedAt, now),
    limit,
    toLimit: limit && (over ? { over: minutesSince(limit.limitAt, now) } : { left: minutesUntil(limit.limitAt, now) }),
    callOutAt: callable ? limit?.callOutAt : undefined,
  };
}

export function whereWords(stand: Stand | undefined, names: FloorNames): string {
  if (!stand) return text.where.observing;
  switch (stand.at) {
    case 'ready':
      return text.where.ready;
    case 'resting':
      return text.where.resting(wallClock(stand.againAt));
    case 'stood-down':
      return text.where.stoodDown;
    case 'pre-check':
      return preCheckWords(stand);
    case 'door':
      return text.where.door(names.room(stand.room));
    case 'room':
      return stand.leavingSince === undefined
        ? text.where.room(names.room(stand.room))
        : text.where.leaving(names.room(stand.room));
    case 'threshold':
      return stand.heldLane ? text.where.thresholdHeld(names.lane(stand.heldLane)) : text.where.threshold;
    case 'lane':
      return stand.correcting
        ? text.where.correcting(names.lane(stand.lane))
        : text.where.lane(names.lane(stand.lane), stand.done, stand.of);
    case 'assisting':
      return text.where.assisting(names.lane(stand.lane), names.person(stand.worker));
    case 'post-check':
      return stand.held ? text.where.heldAfter : text.where.measuring;
    default: {
      const never: never = stand;
      throw new Error(`no place ${JSON.stringify(never)}`);
    }
  }
}

function preCheckWords(stand: Extract<Stand, { at: 'pre-check' }>): string {
  switch (stand.stage) {
    case 'kit':
      return text.where.kit(stand.done, stand.of);
    case 'donning':
      return text.where.donning(stand.done, stand.of);
    default:
      return text.where[stand.stage];
  }
}

/** Who is with somebody, in words; `needed` says that somebody must be watching at this moment. */
export function withWords(watch: Watch, assistant: PersonId | undefined, needed: boolean, names: FloorNames): string {
  const watching = watchWords(watch, needed, names);
  return assistant ? `${watching}, ${text.watch.assistant(names.person(assistant))}` : watching;
}

function watchWords(watch: Watch, needed: boolean, names: FloorNames): string {
  switch (watch.by) {
    case 'guide':
      return watch.silent
        ? text.watch.silent(names.person(watch.observer))
        : text.watch.guide(names.person(watch.observer));
    case 'expected':
      return needed
        ? text.watch.expectedOnly(names.person(watch.observer))
        : text.watch.expected(names.person(watch.observer));
    case 'nobody':
      return needed ? text.watch.nobody : text.watch.none;
    default: {
      const never: never = watch;
      throw new Error(`no watch ${JSON.stringify(never)}`);
    }
  }
}

/** Watching is the rule from the first donning step on, except inside the room. */
export const mustBeWatched = (stand: Stand | undefined): boolean =>
  stand?.at === 'door' || stand?.at === 'threshold' || stand?.at === 'lane';

/** Kept from going in again today by what was measured; the officer may allow it. */
export const isBarred = ({ again }: Standing, now: number): boolean => againOf(again, now)?.is === 'barred';

/** Held at a check, or stood down: only the officer (or a new measurement) lets them go on. */
export const waitsForOfficer = (stand: Stand): boolean =>
  stand.at === 'stood-down' ||
  (stand.at === 'pre-check' && stand.stage === 'held') ||
  (stand.at === 'post-check' && stand.held);
