import {
  codeOf,
  happenings,
  laneOccupied,
  observerBusy,
  observerFree,
  observerGone,
  observerLater,
  observerOnBreak,
  type Play,
} from './floor.ts';

/**
 * Who gets an observer. Exits come before donnings, an emergency before other exits, then whoever came first. An observer
 * guides one person at a time; whoever has an assigned observer waits for that one, unless it is an emergency, that observer has
 * left, or they have waited long enough.
 */

export function askForObserver(play: Play, person: number, now: number): void {
  queueForObserver(play, person, now);
  assignObservers(play, now);
  if (play.laneOf[person]! >= 0 && play.beganAt[person] === Infinity) noteObserverClash(play, person, now);
}

/** Puts a person in their place in the queue; nobody is assigned yet. */
export function queueForObserver(play: Play, person: number, now: number): void {
  const { observerQueue, floor } = play;
  play.askedAt[person] = now;
  if (floor.assigned[person]! >= 0 && floor.patienceMinutes !== Infinity)
    play.agenda.add(now + floor.patienceMinutes, codeOf(happenings.takesAnybody, person));
  let at = play.observerQueueLength;
  while (at > 0 && comesBefore(play, person, observerQueue[at - 1]!)) {
    observerQueue[at] = observerQueue[at - 1]!;
    at -= 1;
  }
  observerQueue[at] = person;
  play.observerQueueLength += 1;
}

function comesBefore(play: Play, one: number, other: number): boolean {
  const [oneRank, otherRank] = [rankOf(play, one), rankOf(play, other)];
  if (oneRank !== otherRank) return oneRank < otherRank;
  return oneRank === 2 ? play.donningAt[one]! < play.donningAt[other]! : play.cameAt[one]! < play.cameAt[other]!;
}

/** Whoever has a lane is on the way out; the others are about to don. */
function rankOf(play: Play, person: number): number {
  if (play.laneOf[person]! < 0) return 2;
  return play.floor.isEmergency[person] === 1 ? 0 : 1;
}

/** Takes somebody out of the queue who has lost their lane to an emergency. */
export function withdraw(play: Play, person: number): void {
  const { observerQueue } = play;
  let kept = 0;
  for (let at = 0; at < play.observerQueueLength; at += 1) {
    if (observerQueue[at] !== person) observerQueue[kept++] = observerQueue[at]!;
  }
  play.observerQueueLength = kept;
}

export function assignObservers(play: Play, now: number): void {
  const { observerQueue } = play;
  let kept = 0;
  for (let at = 0; at < play.observerQueueLength; at += 1) {
    const person = observerQueue[at]!;
    const observer = observerFor(play, person, now);
    if (observer < 0) observerQueue[kept++] = person;
    else take(play, person, observer, now);
  }
  play.observerQueueLength = kept;
}

function observerFor(play: Play, person: number, now: number): number {
  const { observerState, floor } = play;
  const isPatient = now < play.askedAt[person]! + floor.patienceMinutes;
  const assigned = floor.assigned[person]!;
  if (assigned >= 0) {
    if (observerState[assigned] === observerFree) return assigned;
    if (isPatient && observerState[assigned] !== observerGone && floor.isEmergency[person] === 0) return -1;
  }
  return freeLongest(play);
}

function freeLongest(play: Play): number {
  const { observerState, freeSince, floor } = play;
  let found = -1;
  for (let observer = 0; observer < floor.observers; observer += 1) {
    if (observerState[observer] !== observerFree) continue;
    if (found < 0 || freeSince[observer]! < freeSince[found]!) found = observer;
  }
  return found;
}

function take(play: Play, person: number, observer: number, now: number): void {
  play.observerState[observer] = observerBusy;
  play.guideOf[person] = observer;
  if (play.laneOf[person]! >= 0) beginDoffing(play, person, now);
  else beginDonning(play, person, now);
}

function beginDonning(play: Play, person: number, now: number): void {
  const observer = play.guideOf[person]!;
  play.donningAt[person] = now;
  play.donningObserver[person] = observer;
  if (observer >= 0) play.isAtDoffing[observer] = 0;
  play.agenda.add(now + play.donning[person]!, codeOf(happenings.donned, person));
}

/** The person steps into their lane. */
export function beginDoffing(play: Play, person: number, now: number): void {
  const observer = play.guideOf[person]!;
  play.beganAt[person] = now;
  play.doffingObserver[person] = observer;
  if (observer >= 0) play.isAtDoffing[observer] = 1;
  play.laneState[play.laneOf[person]!] = laneOccupied;
  play.agenda.add(now + play.doffing[person]!, codeOf(happenings.doffed, person));
}

/** An observer is done: gone when their duty is over, on a break when one is owed, else free for the next. */
export function becomesFree(play: Play, observer: number, now: number): void {
  const { floor, observerState } = play;
  play.isAtDoffing[observer] = 0;
  if (now >= floor.observerUntil[observer]!) {
    observerState[observer] = observerGone;
  } else if (play.breakOwed[observer]! > 0 && !isEmergencyWaiting(play)) {
    goesOnBreak(play, observer, now);
  } else {
    observerState[observer] = observerFree;
    play.freeSince[observer] = now;
  }
  assignObservers(play, now);
}

export function breakDue(play: Play, observer: number, minutes: number, now: number): void {
  const state = play.observerState[observer];
  // A break that falls before they come, or into the break they are on, is no second break.
  if (state === observerGone || state === observerLater) return;
  play.breakOwed[observer]! += minutes;
  if (state === observerFree) goesOnBreak(play, observer, now);
}

function goesOnBreak(play: Play, observer: number, now: number): void {
  play.observerState[observer] = observerOnBreak;
  play.agenda.add(now + play.breakOwed[observer]!, codeOf(happenings.observerBack, observer));
  play.breakOwed[observer] = 0;
}

/** Duty ends; whoever is guiding finishes first. */
export function dutyEnds(play: Play, observer: number, now: number): void {
  if (play.observerState[observer] === observerBusy) return;
  play.observerState[observer] = observerGone;
  assignObservers(play, now);
}

function isEmergencyWaiting(play: Play): boolean {
  return play.observerQueueLength > 0 && rankOf(play, play.observerQueue[0]!) === 0;
}

/** A clash: the wait begins while another exit has, or wants, an observer this person could have had. */
export function noteObserverClash(play: Play, person: number, now: number): void {
  if (play.observerClashAt[person] !== Infinity) return;
  const assigned = play.floor.assigned[person]!;
  const isTaken = assigned >= 0 ? play.isAtDoffing[assigned] === 1 : isAnyAtDoffing(play);
  if (isTaken || play.observerQueue[0] !== person) play.observerClashAt[person] = now;
}

function isAnyAtDoffing(play: Play): boolean {
  for (let observer = 0; observer < play.floor.observers; observer += 1) {
    if (play.isAtDoffing[observer] === 1) return true;
  }
  return false;
}
