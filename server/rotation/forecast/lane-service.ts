import { askForObserver, beginDoffing, withdraw } from './observer-service.ts';
import { codeOf, happenings, laneClosed, laneFree, laneHeld, laneTurnover, type Play } from './floor.ts';

/**
 * Who gets a lane: an emergency first, then whoever came first. A lane that is given is held until an observer is there too.
 * An emergency takes any lane that nobody is in: one that another only holds, one in turnover, at last one that is closed. The
 * queue mode runs on this very code: its servers are lanes, its customers are people who need no observer.
 */
export function arriveAtThreshold(play: Play, person: number, now: number): void {
  play.cameAt[person] = now;
  const lane = play.laneOf[person]!;
  if (lane >= 0) laneIsGiven(play, person, lane, now);
  else askForLane(play, person, now);
}

function askForLane(play: Play, person: number, now: number): void {
  queueForLane(play, person);
  giveLanes(play, now);
  if (play.laneOf[person]! < 0) noteLaneClash(play, person, now);
}

/** Puts a person in their place in the queue; no lane is given yet. */
export function queueForLane(play: Play, person: number): void {
  const { laneQueue } = play;
  let at = play.laneQueueLength;
  while (at > 0 && isBefore(play, person, laneQueue[at - 1]!)) {
    laneQueue[at] = laneQueue[at - 1]!;
    at -= 1;
  }
  laneQueue[at] = person;
  play.laneQueueLength += 1;
}

function isBefore(play: Play, one: number, other: number): boolean {
  const { isEmergency } = play.floor;
  if (isEmergency[one] !== isEmergency[other]) return isEmergency[one] === 1;
  return play.cameAt[one]! < play.cameAt[other]!;
}

export function giveLanes(play: Play, now: number): void {
  while (play.laneQueueLength > 0) {
    const person = play.laneQueue[0]!;
    const lane = laneFor(play, person);
    if (lane < 0) return;
    play.laneQueueLength -= 1;
    play.laneQueue.copyWithin(0, 1, play.laneQueueLength + 1);
    const holder = play.laneState[lane] === laneHeld ? play.laneHolder[lane]! : -1;
    laneIsGiven(play, person, lane, now);
    if (holder >= 0) laneIsLost(play, holder, now);
  }
}

function laneFor(play: Play, person: number): number {
  const free = firstIn(play, laneFree);
  if (free >= 0 || play.floor.isEmergency[person] === 0) return free;
  const held = firstHeldByOthers(play);
  if (held >= 0) return held;
  const turnover = firstIn(play, laneTurnover);
  return turnover >= 0 ? turnover : firstIn(play, laneClosed);
}

function firstIn(play: Play, state: number): number {
  for (let lane = 0; lane < play.floor.lanes; lane += 1) if (play.laneState[lane] === state) return lane;
  return -1;
}

/** The lane whose holder gives way: never one that another emergency holds. */
function firstHeldByOthers(play: Play): number {
  const { laneState, laneHolder, floor } = play;
  for (let lane = 0; lane < floor.lanes; lane += 1) {
    if (laneState[lane] === laneHeld && floor.isEmergency[laneHolder[lane]!] === 0) return lane;
  }
  return -1;
}

function laneIsGiven(play: Play, person: number, lane: number, now: number): void {
  play.laneState[lane] = laneHeld;
  play.laneHolder[lane] = person;
  play.laneReadyAt[lane] = Infinity;
  play.laneOf[person] = lane;
  play.laneAt[person] = now;
  if (!play.floor.isWatched || play.guideOf[person]! >= 0) beginDoffing(play, person, now);
  else askForObserver(play, person, now);
}

/** An emergency took the lane; whoever held it queues again, at the place their coming gives them. */
function laneIsLost(play: Play, person: number, now: number): void {
  play.laneOf[person] = -1;
  if (play.laneAt[person] === Infinity) return;
  play.laneAt[person] = Infinity;
  withdraw(play, person);
  askForLane(play, person, now);
}

/** The last doffing step is done: the lane is cleaned. */
export function laneIsLeft(play: Play, lane: number, now: number): void {
  play.laneState[lane] = laneTurnover;
  play.laneReadyAt[lane] = now + play.floor.turnover[lane]!;
  if (play.floor.turnover[lane] === 0) laneIsReady(play, lane, now);
  else play.agenda.add(play.laneReadyAt[lane]!, codeOf(happenings.laneReady, lane));
}

/** Turnover is over, or a closed lane opens; unless somebody has taken it in an emergency meanwhile. */
export function laneIsReady(play: Play, lane: number, now: number): void {
  if (play.laneReadyAt[lane] !== now) return;
  play.laneState[lane] = laneFree;
  play.laneReadyAt[lane] = Infinity;
  giveLanes(play, now);
}

/** A clash: the wait begins while another exit has a lane or waits for one. Lanes that are all closed are no clash. */
export function noteLaneClash(play: Play, person: number, now: number): void {
  if (play.laneClashAt[person] !== Infinity) return;
  let isTaken = play.laneQueueLength > 1;
  for (let lane = 0; lane < play.floor.lanes; lane += 1) {
    const state = play.laneState[lane]!;
    if (state !== laneClosed && state !== laneFree) isTaken = true;
  }
  if (isTaken) play.laneClashAt[person] = now;
}
