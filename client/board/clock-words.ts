import type { Limit } from '../../machines/worker/worker-machine.ts';
import { limitKind } from '../heat/limit-view.ts';
import { words } from '../words/words.ts';
import { minutesSince, wallClock } from './clock.ts';
import type { FloorNames } from './floor-names.ts';
import type { InEquipment, Stand } from './standing.ts';
import { watchWords } from './watch-words.ts';

type Clocked = Extract<Stand, InEquipment>;

/** What time asks of somebody in equipment: when to call them out, or how long they are already on their way. */
export function timingOf(stand: Clocked, now: number): string {
  const { board } = words;
  switch (stand.at) {
    case 'door':
      return outAt(stand);
    case 'room':
      return stand.leavingSince === undefined ? outAt(stand) : board.leavingFor(minutesSince(stand.leavingSince, now));
    case 'threshold':
      return board.waitsFor(minutesSince(stand.since, now));
    case 'lane':
      return stand.correcting ? board.correcting : board.stepOf(Math.min(stand.done + 1, stand.of), stand.of);
    default: {
      const never: never = stand;
      throw new Error(`no clock at ${JSON.stringify(never)}`);
    }
  }
}

const outAt = ({ limit }: Clocked): string => (limit ? words.board.callOutAt(wallClock(limit.callOutAt)) : '');

/**
 * The same in a word or two, for a line: the time to call them out, or where they are on their way. A lane is named only where
 * people do not stand in it.
 */
export function shortTiming(stand: Clocked, names: FloorNames, sayPlace: boolean): string {
  if (stand.at === 'lane') return sayPlace ? names.lane(stand.lane) : '';
  if (stand.at === 'threshold') return words.board.placeShort.threshold;
  return stand.at === 'room' && stand.leavingSince !== undefined ? words.board.leaving : outAt(stand);
}

/** Whether somebody must be watching where they stand. */
export const mustBeWatched = (stand: Clocked): boolean => stand.at === 'threshold' || stand.at === 'lane';

/** Who watches. Inside a room nobody guides: there it is simply whose worker it is. */
export function clockWatch(stand: Clocked, names: FloorNames): string {
  if (stand.at === 'room' && stand.watch.by === 'expected') return names.person(stand.watch.observer);
  if (stand.at === 'room' && stand.watch.by === 'nobody' && stand.leavingSince === undefined) return '';
  return watchWords(stand.watch, names.person, mustBeWatched(stand));
}

/** Which limit it is, why, and whether it was computed beyond what its method was validated for. */
export function limitReason(limit: Limit): string {
  const said = words.board.limitReason(
    Math.round(limit.minutes),
    limitKind(limit),
    limit.reason,
    wallClock(limit.callOutAt),
  );
  return limit.indicative ? `${said} ${words.heat.indicative}.` : said;
}

/** Where somebody is, in words, for a page on which place does not tell. */
export function placeName(stand: Clocked, names: FloorNames): string {
  switch (stand.at) {
    case 'room':
      return names.room(stand.room);
    case 'lane':
      return names.lane(stand.lane);
    case 'door':
    case 'threshold':
      return words.board.placeShort[stand.at];
    default: {
      const never: never = stand;
      throw new Error(`no clock at ${JSON.stringify(never)}`);
    }
  }
}
