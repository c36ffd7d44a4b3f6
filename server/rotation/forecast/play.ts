import { arriveAtThreshold, giveLanes, laneIsLeft, laneIsReady, noteLaneClash, queueForLane } from './lane-service.ts';
import {
  codeOf,
  happenings,
  kindOf,
  laneHeld,
  laneOccupied,
  numberOf,
  observerBusy,
  observerFree,
  observerLater,
  stageNumbers,
  type Floor,
  type Play,
} from './floor.ts';
import {
  askForObserver,
  assignObservers,
  becomesFree,
  beginDoffing,
  breakDue,
  dutyEnds,
  noteObserverClash,
  queueForObserver,
} from './observer-service.ts';

/**
 * Plays one run to its end, with the times that are drawn already. Everybody who can be out is out then; who cannot, because no
 * lane or no observer is left for them, keeps an `outAt` of Infinity. It ends: everything that happens belongs to one person,
 * lane, observer or break, and each has only so many.
 */
export function playRun(play: Play): void {
  prepare(play);
  const { agenda } = play;
  for (let code = agenda.take(); code >= 0; code = agenda.take())
    happen(play, kindOf(code), numberOf(code), agenda.now);
}

function happen(play: Play, kind: number, number: number, now: number): void {
  switch (kind) {
    case happenings.donned:
      return donned(play, number, now);
    case happenings.doffed:
      return doffed(play, number, now);
    case happenings.laneReady:
      return laneIsReady(play, number, now);
    case happenings.observerBack:
      return becomesFree(play, number, now);
    case happenings.observerLeaves:
      return dutyEnds(play, number, now);
    case happenings.breakDue:
      return breakDue(play, play.floor.breakObserver[number]!, play.floor.breakMinutes[number]!, now);
    case happenings.starts:
      return starts(play, number, now);
    case happenings.arrivesInEmergency:
    case happenings.arrives:
      if (play.floor.isStream && number + 1 < play.floor.people)
        willArrive(play, number + 1, play.leaving[number + 1]!);
      return arriveAtThreshold(play, number, now);
    case happenings.takesAnybody:
      return assignObservers(play, now);
    default:
      throw new Error(`nothing of kind ${kind} happens`);
  }
}

/** An expected person wants to begin; `donningAt` is when they wanted to until it is when they did. */
function starts(play: Play, person: number, now: number): void {
  play.donningAt[person] = now;
  askForObserver(play, person, now);
}

function donned(play: Play, person: number, now: number): void {
  const observer = play.guideOf[person]!;
  play.guideOf[person] = -1;
  play.donnedAt[person] = now;
  goesInside(play, person, now);
  if (observer >= 0) becomesFree(play, observer, now);
}

/** Leaves the work when it is done or when called out, whichever is first; then come the steps at the door. */
function goesInside(play: Play, person: number, now: number): void {
  const work = Math.min(play.inside[person]!, Math.max(0, play.floor.callOutAfter[person]!));
  willArrive(play, person, now + work + play.leaving[person]!);
}

function willArrive(play: Play, person: number, at: number): void {
  const kind = play.floor.isEmergency[person] === 1 ? happenings.arrivesInEmergency : happenings.arrives;
  play.agenda.add(at, codeOf(kind, person));
}

function doffed(play: Play, person: number, now: number): void {
  const observer = play.guideOf[person]!;
  play.guideOf[person] = -1;
  play.outAt[person] = now;
  laneIsLeft(play, play.laneOf[person]!, now);
  if (observer < 0) return;
  play.isAtDoffing[observer] = 0;
  const { postCheckMinutes } = play.floor;
  if (postCheckMinutes === 0) becomesFree(play, observer, now);
  else play.agenda.add(now + postCheckMinutes, codeOf(happenings.observerBack, observer));
}

// ---- how it stands now -------------------------------------------------------------------------------------------------------

function prepare(play: Play): void {
  play.agenda.clear();
  play.laneQueueLength = 0;
  play.observerQueueLength = 0;
  for (const times of [play.donningAt, play.donnedAt, play.cameAt, play.laneAt, play.beganAt, play.outAt])
    times.fill(Infinity);
  play.laneClashAt.fill(Infinity);
  play.observerClashAt.fill(Infinity);
  play.donningObserver.fill(-1);
  play.doffingObserver.fill(-1);
  prepareLanes(play);
  prepareObservers(play);
  const { people, isStream } = play.floor;
  play.laneOf.fill(-1);
  play.guideOf.fill(-1);
  for (let person = 0; person < (isStream ? Math.min(1, people) : people); person += 1) preparePerson(play, person);
  settleThreshold(play);
}

/** All who wait now are in the queues before the first lane is given, so that who is listed first does not matter. */
function settleThreshold(play: Play): void {
  const { floor } = play;
  for (let person = 0; person < floor.people; person += 1) if (isWaiting(floor, person)) joinQueue(play, person);
  giveLanes(play, 0);
  if (floor.isWatched) assignObservers(play, 0);
  for (let person = 0; person < floor.people; person += 1) {
    if (!isWaiting(floor, person)) continue;
    if (play.laneOf[person]! < 0) noteLaneClash(play, person, 0);
    else if (play.beganAt[person] === Infinity) noteObserverClash(play, person, 0);
  }
}

const isWaiting = (floor: Floor, person: number): boolean => floor.stage[person] === stageNumbers.waiting;

function joinQueue(play: Play, person: number): void {
  play.cameAt[person] = play.floor.cameAt[person]!;
  if (play.laneOf[person]! < 0) return queueForLane(play, person);
  play.laneAt[person] = 0;
  if (!play.floor.isWatched || play.guideOf[person]! >= 0) beginDoffing(play, person, 0);
  else queueForObserver(play, person, 0);
}

function prepareLanes(play: Play): void {
  const { floor } = play;
  play.laneState.set(floor.laneStateNow);
  play.laneReadyAt.set(floor.laneReadyAt);
  for (let lane = 0; lane < floor.lanes; lane += 1) {
    if (floor.laneReadyAt[lane] !== Infinity)
      play.agenda.add(floor.laneReadyAt[lane]!, codeOf(happenings.laneReady, lane));
  }
}

function prepareObservers(play: Play): void {
  const { floor, agenda } = play;
  play.breakOwed.fill(0);
  play.isAtDoffing.fill(0);
  for (let observer = 0; observer < floor.observers; observer += 1) {
    play.observerState[observer] = floor.observerFrom[observer]! > 0 ? observerLater : observerFree;
    play.freeSince[observer] = 0;
    if (floor.observerFrom[observer]! > 0)
      agenda.add(floor.observerFrom[observer]!, codeOf(happenings.observerBack, observer));
    if (floor.observerUntil[observer] !== Infinity)
      agenda.add(floor.observerUntil[observer]!, codeOf(happenings.observerLeaves, observer));
  }
  for (let one = 0; one < floor.breakStart.length; one += 1)
    agenda.add(floor.breakStart[one]!, codeOf(happenings.breakDue, one));
}

function preparePerson(play: Play, person: number): void {
  const { floor, agenda } = play;
  const [lane, guide] = [floor.laneNow[person]!, floor.guideNow[person]!];
  play.laneOf[person] = lane;
  play.guideOf[person] = guide;
  if (lane >= 0) {
    play.laneState[lane] = laneHeld;
    play.laneHolder[lane] = person;
  }
  if (guide >= 0) play.observerState[guide] = observerBusy;
  const stage = floor.stage[person]!;
  if (stage !== stageNumbers.expected && stage !== stageNumbers.donning) play.donnedAt[person] = 0;
  if (stage === stageNumbers.expected) agenda.add(floor.startAt[person]!, codeOf(happenings.starts, person));
  else if (stage === stageNumbers.donning) isDonning(play, person);
  else if (stage === stageNumbers.inside) goesInside(play, person, 0);
  else if (stage === stageNumbers.doffing) isDoffing(play, person);
  else if (stage === stageNumbers.leaving) willArrive(play, person, play.leaving[person]!);
}

function isDonning(play: Play, person: number): void {
  play.donningAt[person] = 0;
  play.donningObserver[person] = play.guideOf[person]!;
  play.agenda.add(play.donning[person]!, codeOf(happenings.donned, person));
}

function isDoffing(play: Play, person: number): void {
  const observer = play.guideOf[person]!;
  play.cameAt[person] = 0;
  play.laneAt[person] = 0;
  play.beganAt[person] = 0;
  play.doffingObserver[person] = observer;
  if (observer >= 0) play.isAtDoffing[observer] = 1;
  play.laneState[play.laneOf[person]!] = laneOccupied;
  play.agenda.add(play.doffing[person]!, codeOf(happenings.doffed, person));
}
