import type { DeviationKind } from '../../machines/procedure/corrective.ts';
import type { AlertLevel } from '../../machines/wire/fact.ts';
import type { Length } from '../safety/times.ts';

/** The words of the safety officer's page. */
const many = (count: number, one: string, more: string): string => `${count} ${count === 1 ? one : more}`;

const length = (length: Length): string => {
  switch (length.in) {
    case 'seconds':
      return `${length.seconds} s`;
    case 'minutes':
      return `${length.minutes} min`;
    default:
      return `${length.hours} h ${length.minutes} min`;
  }
};

const levels: Record<AlertLevel, string> = {
  observer: 'the observer',
  coordinator: 'the coordinator',
  'safety-officer': 'you',
  everyone: 'everyone',
};

const deviations: Record<DeviationKind, string> = {
  missed: 'left out',
  'out-of-order': 'done out of order',
  'too-short': 'too short',
  touched: 'something was touched',
  torn: 'something tore',
  'wrong-person': 'done by the wrong person',
};

export const safetyWords = {
  waitingForUnit: 'Getting the unit’s state…',
  length,
  ago: (since: Length) => `${length(since)} ago`,
  inTime: (until: Length) => `in ${length(until)}`,
  you: 'you',
  nobody: 'nobody',

  // ---- the message ----
  message: 'Message',
  calling: 'Nobody has answered',
  notYours: 'Not called to you yet',
  youAct: (time: string) => `You act, since ${time}`,
  otherActs: (name: string, time: string) => `${name} acts, since ${time}`,
  happened: {
    limitApproaching: (name: string, callOut: string) => `${name}’s call-out time is ${callOut}.`,
    callOut: (name: string, callOut: string, minutes: number) =>
      `${name}’s call-out time was ${callOut}. Doffing is to end inside the limit of ${minutes} min.`,
    limitReached: (name: string, minutes: number, limit: number, at: string) =>
      `${name} has been in PPE for ${minutes} min. The limit of ${limit} min was reached at ${at}.`,
    deviation: (name: string, how: string, actor: string) => `${name}: ${how}, by the ${actor}.`,
    deviationAt: (words: string) => `At the step “${words}”`,
    noObserver: (name: string) => `${name} is doffing and nobody is watching.`,
    observerSilent: (name: string, observer: string) =>
      `${name} is doffing, and ${observer}, who watches, has a silent tablet.`,
    tabletSilent: (observer: string) => `${observer} is on duty, and the tablet does not answer.`,
    tabletSilentWith: (observer: string, name: string) => `${observer}’s tablet went silent while guiding ${name}.`,
    laneClash: (names: string, free: number, of: number) =>
      `On the way out without a lane: ${names}. Free lanes: ${free} of ${of}.`,
    breach: (name: string, breach: string) => `${name}: ${breach}.`,
    breachClass: {
      'near-miss': 'Class: near miss.',
      review: 'Class: for review.',
      'high-risk': 'Class: high-risk exposure.',
    } as Record<string, string>,
    emergency: (name: string, room: string) => `Emergency exit of ${name} from ${room}.`,
    heldBefore: (name: string) => `${name} is held before donning: a vital sign is outside the unit’s bounds.`,
    heldAfter: (name: string) => `${name} is held after doffing: a vital sign is outside the unit’s bounds.`,
    notReady: (name: string) => `${name} is held before donning: something is not ready.`,
    restTooShort: (name: string) => `${name} was called before the rest was over.`,
    checkDue: (name: string) =>
      `${name} is in equipment in heat over the screening limit, and somebody is to look after them now.`,
  },
  deviations,
  actors: { worker: 'worker', assistant: 'assistant', observer: 'observer' } as Record<string, string>,

  said: {
    by: (name: string, time: string) => `Reported by ${name} at ${time}`,
    words: (words: string) => `“${words}”`,
    nothing: 'No reason or note was given with it.',
    asking: 'Reading what was said…',
    failed: 'What was said cannot be read now. It is in the log.',
  },

  // ---- who knows ----
  trail: 'Who knows, and since when',
  marks: {
    began: 'it began',
    raised: (level: AlertLevel) => `raised for ${levels[level]}`,
    raisedOnly: 'raised',
    told: (who: string) => `shown to ${who}`,
    climbed: (level: AlertLevel) => `unanswered: climbed to ${levels[level]}`,
    acknowledged: (who: string) => `${who}: “I act”`,
  },
  toldNobody: 'No screen has shown it to anybody yet.',
  nextClimb: (level: AlertLevel, time: string, until: string) =>
    `Unanswered, it climbs to ${levels[level]} at ${time}, ${until}`,
  noClimb: {
    answered: 'Answered, so it climbs no further.',
    highest: 'It has climbed as far as it can.',
    low: 'A low alert does not climb.',
  },
  level: (level: AlertLevel) => `with ${levels[level]}`,

  // ---- what the unit says ----
  guidance: {
    breach: 'The unit’s rule for this breach',
    step: 'The procedure, when this step goes wrong',
    limit: 'The limit',
    check: 'The check inside',
    'pre-check': 'The unit’s rule at the pre-check',
    'post-check': 'The unit’s rule at the post-check',
    rest: 'The unit’s rule for rest',
    alert: 'What to do',
  },
  now: 'Now',
  then: 'Then',
  leavesRoom: 'With this one the worker leaves the room.',
  staysInRoom: 'With this one the worker may stay in the room.',
  source: (source: string) => `Source: ${source.replace(/\.$/, '')}.`,
  limitIs: (minutes: number, at: string) => `${minutes} min, at ${at}`,
  limitWhich: (which: string) => `It is ${which}.`,
  checkEvery: (due: string, minutes: number) => `Due at ${due}, then every ${minutes} min.`,
  callOutIs: (at: string) => `Call-out time ${at}`,
  restIs: (minutes: number) => `${minutes} min of rest after an entry.`,
  localFirst: 'Local rules, occupational health and the physician decide.',

  // ---- the person ----
  whereNow: (name: string) => `${name} now`,
  where: {
    ready: 'on the cold side, ready',
    resting: (until: string) => `on the cold side, resting until ${until}`,
    stoodDown: 'stood down',
    screening: 'at the pre-check',
    kit: (done: number, of: number) => `at the kit check, ${done} of ${of}`,
    donning: (done: number, of: number) => `donning, ${done} of ${of} steps done`,
    inspection: 'at the final inspection',
    held: 'held at the pre-check',
    door: (room: string) => `at the door of ${room}`,
    room: (room: string) => `in ${room}`,
    leaving: (room: string) => `in ${room}, on the way out`,
    threshold: 'at the doffing threshold, no lane yet',
    thresholdHeld: (lane: string) => `at the doffing threshold; ${lane} is held for them`,
    lane: (lane: string, done: number, of: number) => `in ${lane}, ${done} of ${of} steps done`,
    correcting: (lane: string) => `in ${lane}, putting a deviation right`,
    assisting: (lane: string, name: string) => `assisting ${name} in ${lane}`,
    measuring: 'at the post-check',
    heldAfter: 'held at the post-check',
    observing: 'on duty as an observer',
  },
  inPpe: 'In PPE',
  minutes: (count: number) => `${count} min`,
  limit: (minutes: number) => `limit ${minutes} min`,
  limitReason: (reason: string) => `Because: ${reason}`,
  noLimit: 'no limit on record',
  over: (minutes: number) => (minutes < 1 ? 'limit reached' : `${minutes} min over the limit`),
  left: (minutes: number) => `${minutes} min left`,
  callOut: (time: string) => `call out ${time}`,
  alsoThere: (room: string, names: string) => `Also in ${room}: ${names}`,
  watch: {
    guide: (name: string) => `${name} watches`,
    silent: (name: string) => `${name}, but the tablet is silent`,
    expected: (name: string) => `${name} is expected to watch`,
    expectedOnly: (name: string) => `nobody watches; ${name} is expected to`,
    nobody: 'nobody watches',
    none: 'no observer chosen',
    assistant: (name: string) => `${name} assists`,
  },
  procedure: 'Procedure',
  emergencyMark: 'emergency exit',
  allAbout: (name: string) => `All about ${name}`,

  // ---- vital signs ----
  signs: {
    title: 'Measured',
    confidential: 'Confidential. For the decision only; nothing of it is stored on this device.',
    sign: 'Sign',
    value: 'Measured',
    bounds: 'The unit allows',
    verdict: 'Verdict',
    at: (time: string, name: string) => `Measured at ${time}, recorded by ${name}`,
    notHere:
      'The values are not on this device. They came before this page was opened or opened again, and no device keeps them. Ask by radio, or have them measured again.',
    notReady: 'A readiness question was answered with “not yet”. The observer’s tablet has which one.',
  },

  // ---- presses ----
  act: 'I act',
  acting: 'Being sent…',
  also: (count: number) => `${many(count, 'other', 'others')} unanswered`,
  show: 'Show',
  what: 'What you can do',
  barred: 'Not now',
  deeds: {
    'release-hold': 'Release the hold',
    'override-step': 'Override a step',
    'clear-breach': 'Sign off the breach',
    'clear-alert': 'Accept the short rest',
    'stand-down': 'Stand down',
    'lift-stand-down': 'Lift the stand-down',
    'allow-again': 'Allow again today',
    'call-out': 'Call out',
    'declare-breach': 'Record a breach',
    'declare-emergency': 'Emergency exit',
  },
  titles: {
    'release-hold': (name: string) => `Release ${name}`,
    'override-step': (name: string) => `Override a step of ${name}`,
    'clear-breach': (name: string) => `Sign off the breach of ${name}`,
    'clear-alert': (name: string) => `Accept the short rest of ${name}`,
    'stand-down': (name: string) => `Stand ${name} down`,
    'allow-again': (name: string) => `Allow ${name} again today`,
    'lift-stand-down': (name: string) => `Lift the stand-down of ${name}`,
    'call-out': (name: string) => `Call ${name} out`,
    'declare-breach': (name: string) => `Record a breach of ${name}`,
    'declare-emergency': (name: string) => `Emergency exit of ${name}`,
  },
  means: {
    'release-hold': {
      'pre-check': 'The worker goes on to the kit check and may don. Every screen shows that you released it.',
      'post-check': (minutes: number) => `The worker goes to rest, for ${minutes} min.`,
    },
    'override-step':
      'The step counts as done though nobody verified it. Your name, the time and the reason stay on record. Use it when the step cannot be verified, not when it is slow.',
    'clear-breach':
      'The alert ends. Sign off when the steps below are done or handed over to somebody; the follow-up goes on outside this page.',
    'clear-alert': 'The alert ends and the entry goes on. The worker starts with less rest than the unit’s rule.',
    'stand-down': 'The worker cannot be called until a safety officer lifts it.',
    'lift-stand-down': 'The worker is ready at once and can be called.',
    'allow-again':
      'The worker can be called again once the rest is over. What the measurement ruled out is then yours to answer for; occupational health decides.',
    'call-out': 'The observer and the board see that the worker is on the way out.',
    'declare-breach': 'The unit’s rule for it shows on every screen at once.',
    'declare-emergency':
      'Counts at once: a lane and an observer are theirs before anybody else. Nothing is asked first.',
  },
  heldBecause: {
    'vitals-out-of-bounds': 'a vital sign is outside the unit’s bounds',
    'not-ready': 'something is not ready',
  },
  wasBecause: (reason: string) => `Stood down because: ${reason}`,
  overtaken: 'This cannot be done any more: somebody was faster, or it is over. Look at the page again.',
  outstanding: (open: number, all: number) =>
    open === all ? `${many(all, 'step is', 'steps are')} left.` : `${all} steps are left; ${open} of them can be next.`,
  whichStep: 'Which step?',
  critical: 'critical step',
  whichBreach: 'What happened?',
  reason: 'Reason',
  reasonMaybe: 'Reason (may be left out)',
  reasonOpen: 'Stays in the record, readable on every screen. No health details.',
  reasons: {
    'release-hold': {
      'pre-check': ['Measured again, within bounds', 'Seen by the physician, who lets it pass', 'Device was faulty'],
      'post-check': ['Seen by occupational health', 'Measured again, within bounds', 'Handed over to the physician'],
    },
    'override-step': [
      'Must come out at once',
      'Item cut off',
      'Observer cannot see it; worker confirms',
      'Supply run out',
    ],
    'clear-breach': [
      'Steps done, exposure record opened',
      'Nothing reached the skin, seen by the observer',
      'Handed over to occupational health',
    ],
    'clear-alert': ['Spoken with the worker', 'Short task, will be called out early', 'Nobody else is qualified'],
    'stand-down': ['Asked to stand down', 'Waits for occupational health', 'Exposure to be followed up'],
    'lift-stand-down': ['Cleared by occupational health', 'Stood down by mistake'],
    'allow-again': ['Cleared by occupational health', 'Seen by the physician, who lets it pass'],
    'call-out': ['Limit', 'Asked by the safety officer'],
    'declare-breach': [] as string[],
    'declare-emergency': ['Worker asks for it', 'Equipment failed', 'Alarm in the building'],
  },
  send: {
    'release-hold': 'Release',
    'override-step': 'Override this step',
    'clear-breach': 'Sign off',
    'clear-alert': 'Accept it',
    'stand-down': 'Stand down',
    'lift-stand-down': 'Lift it',
    'allow-again': 'Allow it',
    'call-out': 'Call out',
    'declare-breach': 'Record it',
    'declare-emergency': 'Emergency exit now',
  },
  reasonNeeded: 'Choose a reason or write one.',
  choiceNeeded: 'Choose first.',
  endsItself: {
    'limit-approaching': 'Ends by itself when the worker is called out, or the call-out time comes.',
    'call-out': 'Ends by itself when the worker is called out.',
    'limit-reached': 'Ends by itself when the last doffing step is done and the clock stops.',
    deviation: 'Ends by itself when the observer puts the deviation right.',
    'no-observer': 'Ends by itself when an observer takes the worker, or the silent tablet answers.',
    'tablet-silent': 'Ends by itself when the tablet answers, or the duty of its observer ends.',
    'lane-clash': 'Ends by itself when there is a lane for everybody on the way out.',
    'emergency-exit': 'Ends by itself when the last doffing step is done.',
    'vitals-out-of-bounds':
      'Ends by itself when the hold is released, a new measurement is within bounds, or the entry is over.',
    'not-ready': 'Ends by itself when everything is ready, the hold is released, or the entry is over.',
    breach: 'Ends when you sign it off.',
    'rest-too-short': 'Ends when you accept it, or the entry is over.',
    'check-due': 'Ends when an observer has looked after them, or they are on the way out.',
  },

  // ---- lists ----
  waiting: 'Unanswered',
  acted: 'Somebody acts',
  actsSince: (name: string, time: string) => `${name} acts, since ${time}`,
  ended: 'Ended',
  endedAt: (time: string, reason: string) => `ended ${time}: ${reason}`,
  noEnded: 'Nothing has ended yet.',
  people: 'In PPE',
  nobodyInPpe: 'Nobody is in PPE.',
  held: 'Held, stood down, or not again today',
  noHeld: 'Nobody is held, stood down, or kept from going in again.',
  everybody: 'Everybody else',
  everybodyHint: 'To stand somebody down, or to record a breach.',

  reviews: 'For review',
  noReviews: 'Nothing waits for review.',
  reviewsHint:
    'Reports that came late, from a clock that is ahead, or against the record. None is dropped, none changes what was decided.',
  reviewTitles: {
    late: 'Came late, and counts',
    'from-the-future': 'From a clock ahead of the server’s',
    'ahead-of-log': 'From a screen that knew more than the log',
    contradiction: 'Against the record',
  },
  reviewTitle: (number: number) => `Review of fact ${number}`,
  reviewLine: (received: string, lag: string) => `received ${received}, ${lag} after it was seen`,
  reviewReceived: (received: string) => `received ${received}`,
  claim: {
    what: 'Claimed',
    who: 'By',
    device: 'Device',
    seen: 'Seen at, says the device',
    received: 'Received',
    counted: 'Counts in the record from',
    notCounted: 'Not in the record. It was refused.',
    worker: 'About',
    why: 'Why it is here',
    content: 'What was in it',
    asking: 'Reading the log…',
    answered: (sentence: string) => `They were answered: “${sentence}”`,
    failed: 'The log cannot be read now. Close this and open it again.',
  },
  closeReview: 'Close the review',
  reviewReasons: [
    'Asked the observer; the record stands',
    'The device’s clock was wrong',
    'Noted on paper with the lead',
  ],

  // ---- all quiet ----
  quiet: {
    noAlert: 'No alert is open.',
    handled: (count: number) =>
      `Nothing waits for you. ${many(count, 'alert is', 'alerts are')} open, and somebody acts.`,
    low: (count: number) => `Nothing waits for you. ${many(count, 'low alert is', 'low alerts are')} open.`,
    asOf: (time: string, number: number) => `As of ${time}, fact ${number}`,
    inPpe: (count: number) => (count === 0 ? 'Nobody is in PPE.' : `${many(count, 'person', 'people')} in PPE.`),
    inside: 'Everybody is inside their limit.',
    over: (count: number) => `${count} over the limit.`,
    next: (name: string, time: string, until: string) => `Next call-out: ${name}, ${time}, ${until}.`,
    noNext: 'Nobody has to be called out.',
    doffing: (count: number, watched: number) =>
      watched === count
        ? `${many(count, 'person', 'people')} doffing, each watched.`
        : `${count} doffing, ${watched} watched.`,
    noDoffing: 'Nobody is doffing.',
    observers: (count: number, silent: number) =>
      silent === 0
        ? `${many(count, 'observer', 'observers')} on duty, every tablet answers.`
        : `${many(count, 'observer', 'observers')} on duty, ${silent} silent.`,
    noObservers: 'No observer is on duty.',
    lastEnded: (kind: string, who: string, time: string) => `Last alert: ${kind}, ${who}, ended ${time}.`,
    held: (count: number) => `${many(count, 'person is', 'people are')} held at a check.`,
  },
  unit: 'the unit',
  back: 'Back',
} as const;
