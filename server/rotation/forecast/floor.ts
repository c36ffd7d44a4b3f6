import { Agenda } from './agenda.ts';

/**
 * A unit as the forecast plays it: everything by number, times in minutes from now. `Floor` is what is known now and stays the
 * same in all runs; `Play` is one run under way. Both are arrays made once, because the inner loop must not make anything.
 */
export const stageNumbers = { expected: 0, donning: 1, inside: 2, leaving: 3, waiting: 4, doffing: 5 } as const;

export const laneFree = 0;
/** Promised to somebody who is not in it yet. */
export const laneHeld = 1;
export const laneOccupied = 2;
export const laneTurnover = 3;
export const laneClosed = 4;

export const observerFree = 0;
export const observerBusy = 1;
export const observerOnBreak = 2;
/** Will come, or come back. */
export const observerLater = 3;
export const observerGone = 4;

export interface Floor {
  people: number;
  lanes: number;
  observers: number;
  /** False: nobody needs an observer, as in a plain queue. */
  isWatched: boolean;
  /** True: people come in the order of their numbers, and the next is looked at when the one before has come. */
  isStream: boolean;
  /** How long an observer stays with somebody after the last doffing step. */
  postCheckMinutes: number;
  /** After this long, whoever waits for their assigned observer takes any who is free. */
  patienceMinutes: number;

  stage: Uint8Array;
  isEmergency: Uint8Array;
  /** When an expected person is to begin donning. */
  startAt: Float64Array;
  /** Counted from the end of donning; from now for whoever is in equipment. Infinity: none. */
  callOutAfter: Float64Array;
  limitAfter: Float64Array;
  /** When somebody who waits at the threshold came there: 0 or before. */
  cameAt: Float64Array;
  /** The lane a person holds or is in, the observer who is with them now, the only observer they may get; −1: none. */
  laneNow: Int32Array;
  guideNow: Int32Array;
  assigned: Int32Array;

  laneStateNow: Uint8Array;
  /** When a lane in turnover, or one that will reopen, is free; Infinity: not known. */
  laneReadyAt: Float64Array;
  turnover: Float64Array;

  observerFrom: Float64Array;
  observerUntil: Float64Array;
  breakObserver: Int32Array;
  breakStart: Float64Array;
  breakMinutes: Float64Array;
}

export interface Play {
  floor: Floor;
  agenda: Agenda;

  /** What this run has drawn for each person: what is left of the stage they are in, all of those to come. */
  donning: Float64Array;
  inside: Float64Array;
  leaving: Float64Array;
  doffing: Float64Array;

  laneState: Uint8Array;
  laneHolder: Int32Array;
  laneReadyAt: Float64Array;

  observerState: Uint8Array;
  /** 1: with somebody who doffs. */
  isAtDoffing: Uint8Array;
  freeSince: Float64Array;
  breakOwed: Float64Array;

  laneQueue: Int32Array;
  laneQueueLength: number;
  observerQueue: Int32Array;
  observerQueueLength: number;

  laneOf: Int32Array;
  guideOf: Int32Array;
  /** When they asked for an observer, with a lane or for donning. */
  askedAt: Float64Array;

  /** What became of each person; Infinity: it did not happen. */
  donningAt: Float64Array;
  donnedAt: Float64Array;
  donningObserver: Int32Array;
  cameAt: Float64Array;
  laneAt: Float64Array;
  beganAt: Float64Array;
  outAt: Float64Array;
  doffingObserver: Int32Array;
  /** When a wait began that another exit was the cause of. */
  laneClashAt: Float64Array;
  observerClashAt: Float64Array;
}

export function emptyFloor(people: number, lanes: number, observers: number, breaks: number): Floor {
  const ofPeople = (value: number) => new Float64Array(people).fill(value);
  const nobody = () => new Int32Array(people).fill(-1);
  return {
    people,
    lanes,
    observers,
    isWatched: true,
    isStream: false,
    postCheckMinutes: 0,
    patienceMinutes: Infinity,
    stage: new Uint8Array(people),
    isEmergency: new Uint8Array(people),
    startAt: ofPeople(0),
    callOutAfter: ofPeople(Infinity),
    limitAfter: ofPeople(Infinity),
    cameAt: ofPeople(0),
    laneNow: nobody(),
    guideNow: nobody(),
    assigned: nobody(),
    laneStateNow: new Uint8Array(lanes),
    laneReadyAt: new Float64Array(lanes).fill(Infinity),
    turnover: new Float64Array(lanes),
    observerFrom: new Float64Array(observers),
    observerUntil: new Float64Array(observers).fill(Infinity),
    breakObserver: new Int32Array(breaks),
    breakStart: new Float64Array(breaks),
    breakMinutes: new Float64Array(breaks),
  };
}

export function newPlay(floor: Floor): Play {
  const { people, lanes, observers } = floor;
  const times = () => new Float64Array(people);
  const numbers = () => new Int32Array(people);
  return {
    floor,
    agenda: new Agenda(3 * people + 2 * lanes + 4 * observers + floor.breakStart.length + 8),
    donning: times(),
    inside: times(),
    leaving: times(),
    doffing: times(),
    laneState: new Uint8Array(lanes),
    laneHolder: new Int32Array(lanes),
    laneReadyAt: new Float64Array(lanes),
    observerState: new Uint8Array(observers),
    isAtDoffing: new Uint8Array(observers),
    freeSince: new Float64Array(observers),
    breakOwed: new Float64Array(observers),
    laneQueue: numbers(),
    laneQueueLength: 0,
    observerQueue: numbers(),
    observerQueueLength: 0,
    laneOf: numbers(),
    guideOf: numbers(),
    askedAt: times(),
    donningAt: times(),
    donnedAt: times(),
    donningObserver: numbers(),
    cameAt: times(),
    laneAt: times(),
    beganAt: times(),
    outAt: times(),
    doffingObserver: numbers(),
    laneClashAt: times(),
    observerClashAt: times(),
  };
}

// ---- what may happen; at equal times the lower kind comes first --------------------------------------------------------------

export const happenings = {
  donned: 0,
  doffed: 1,
  laneReady: 2,
  observerBack: 3,
  observerLeaves: 4,
  breakDue: 5,
  starts: 6,
  arrivesInEmergency: 7,
  arrives: 8,
  takesAnybody: 9,
} as const;

const kindSize = 1 << 24;
/** People, lanes, observers and breaks are numbered below this. */
export const numberMost = kindSize - 1;
export const codeOf = (kind: number, number: number): number => kind * kindSize + number;
export const kindOf = (code: number): number => code >> 24;
export const numberOf = (code: number): number => code & numberMost;
