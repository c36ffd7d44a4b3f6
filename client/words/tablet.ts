import type { VitalName } from '../../machines/unit/settings.ts';
import type { DeviationKind } from '../../machines/procedure/corrective.ts';

/** Words of the observer's tablet. What is read out in a step comes from the procedure; everything around it is here. */
const clauses = (list: readonly string[]): string =>
  list.length < 2 ? (list[0] ?? '') : `${list.slice(0, -1).join(', ')} and ${list.at(-1)}`;

const vitals: Record<VitalName, { name: string; unit: string }> = {
  temperatureC: { name: 'Temperature', unit: '°C' },
  pulsePerMin: { name: 'Pulse', unit: 'per minute' },
  systolicMmHg: { name: 'Blood pressure, upper', unit: 'mmHg' },
  diastolicMmHg: { name: 'Blood pressure, lower', unit: 'mmHg' },
  respirationPerMin: { name: 'Breaths', unit: 'per minute' },
  saturationPct: { name: 'Oxygen', unit: '%' },
};

const deviationKinds: Record<DeviationKind, string> = {
  missed: 'Left out',
  'out-of-order': 'Done too early or too late',
  'too-short': 'Not long enough',
  touched: 'Touched something',
  torn: 'Something tore',
  'wrong-person': 'Done by the wrong person',
};

export const tabletWords = {
  waitingForUnit: 'Getting the unit’s state…',
  standings: {
    screening: 'pre-check',
    held: 'pre-check, held',
    kit: 'kit check',
    donning: 'donning',
    inspection: 'final inspection',
    donned: 'at the door',
    working: 'inside',
    leaving: 'on the way out',
    'at-threshold': 'at the threshold',
    stepping: 'doffing',
    corrective: 'doffing, putting something right',
    measuring: 'post-check',
    'held-after': 'post-check, held',
    rest: 'resting',
  },
  count: (number: number, total: number) => `${number} of ${total}`,
  back: 'Back',

  // ---- duty ----
  notAnObserver: 'The roster does not list you as an observer. The lead can change that.',
  offDuty: 'You are not on duty.',
  offDutyMore: 'Once you start, the board shows you as free, and silence of this tablet raises an alert.',
  inEntry: 'You are in an entry yourself. Nobody observes until their own is over.',
  startDuty: 'Start duty',
  endDuty: 'End duty',
  takeBreak: 'Take a break',
  onBreak: (since: string) => `On a break since ${since}`,
  endBreak: 'Back from the break',
  anotherTablet:
    'You are on duty at another tablet. What you press here counts, but silence is judged by the other one.',
  useThisTablet: 'Use this tablet',

  // ---- free ----
  free: 'You are free',
  whoNeeds: 'Who needs an observer now',
  nobodyNeeds: 'Nobody needs an observer now.',
  yours: 'assigned to you',
  inDoffingAlone: 'nobody is watching',
  silentHolder: (name: string) => `${name}’s tablet is silent`,
  since: (minutes: number) => (minutes < 1 ? 'just now' : `for ${minutes} min`),
  take: (name: string) => `Take ${name}`,
  takeOver: (worker: string, observer: string) => `Take ${worker} over from ${observer}`,
  withOthers: 'With another observer',
  withWhom: (name: string) => `with ${name}`,
  watching: 'In equipment, yours to watch',
  callOut: (name: string) => `Call ${name} out`,
  callOutReason: 'exit call from the observer',
  calledOut: 'called out',
  lanesToClear: 'Lanes to clear',
  turnoverLeft: (until: string) => `wet until ${until}`,
  turnoverServed: 'time is served; look, then say that it is clear',
  clearLane: (name: string) => `${name} is clear`,
  lately: {
    wentIn: (name: string) => `${name} went in. You are still expected to watch.`,
    takenOver: (name: string, by: string) => `${by} has ${name} now.`,
    /** Somebody may be within bounds and still be kept from the next entry: then "within bounds" alone would be half the truth. */
    resting: (name: string, until: string, reason: string, hasMore: boolean) =>
      `${name}: ${hasMore ? '' : 'within bounds. '}Rests until ${until}. ${reason}.`,
    heldAfter: (name: string) =>
      `${name} is held: a vital sign is out of bounds. Stay with them. Measure again after some minutes of rest.`,
    stopped: (name: string) => `The entry of ${name} is over.`,
    measureAgain: (name: string) => `Measure ${name} again`,
  },

  // ---- about the worker ----
  minutesInPpe: (minutes: number) => `${minutes} min`,
  limit: (minutes: number) => `limit ${minutes} min`,
  callOutAt: (clock: string) => `call out at ${clock}`,
  callOutNow: 'call out now',
  limitAt: (clock: string) => `limit at ${clock}`,
  limitReached: 'limit reached',
  emergencyDeclared: 'emergency exit',
  more: 'More',
  unsent: 'waiting to be sent',

  // ---- checks ----
  readinessKicker: 'Ask',
  yes: 'Yes',
  notYet: 'Not yet',
  measure: 'Measure',
  vitals,
  bounds: (low: number | undefined, high: number | undefined) => {
    if (low !== undefined && high !== undefined) return `${low} to ${high}`;
    return low !== undefined ? `at least ${low}` : `at most ${high}`;
  },
  boundsAre: (bounds: string) => `the unit allows ${bounds}`,
  keyErase: 'Erase',
  keyPoint: 'Point',
  takeValue: 'Take it',
  notMeasured: 'Not measured',
  typedNothing: 'nothing yet',
  question: {
    unlikely: (value: string) => `${value}? That is hardly possible.`,
    fahrenheit: (value: string) => `${value}? That looks like °F.`,
    pressure: 'The lower pressure is not below the upper one.',
    perhaps: (value: string) => `It is ${value}`,
    stands: (value: string) => `${value} is right`,
    again: 'Type it again',
  },
  checkDone: 'Read it back, then send it',
  verdicts: {
    within: 'within bounds',
    below: 'below bounds',
    above: 'above bounds',
    'not-measured': 'not measured',
  },
  missingHere: 'Something is missing. Sent like this, the worker is held.',
  change: 'Change',
  sendCheck: 'Send the check',
  held: {
    vitals: (name: string) => `${name} is held. A vital sign is out of bounds.`,
    vitalsNow: [
      'Sit down and drink. Wait some minutes, then measure everything again.',
      'The safety officer can let the worker pass with a reason.',
      'If it stays so, stop this entry. Occupational health decides what follows.',
    ],
    notReady: (name: string) => `${name} is held. Something is not ready yet.`,
    notReadyNow: [
      'Put right what was answered with “not yet”, then ask it again.',
      'The safety officer can let the worker pass with a reason.',
    ],
    again: 'Check again',
  },

  // ---- kit ----
  kitKicker: 'Show me',
  kitHere: 'Here and whole',
  kitMissing: 'Missing or damaged',
  kitMissingNow: (item: string) => `Fetch another one: ${item}`,
  kitMissingMore: 'Nothing damaged is worn. This list waits here.',

  // ---- steps ----
  phases: { donning: 'Donning', exit: 'At the door', doffing: 'Doffing' },
  readOut: 'Read out',
  who: { worker: 'the worker does it', assistant: 'the assistant does it', observer: 'you do it' },
  watchFor: 'Watch',
  touchesOnly: (items: readonly string[]) => `hands touch only: ${clauses(items)}`,
  goesTo: (place: string) => `goes into the ${place}`,
  critical: 'safety-critical',
  assistantCalls: 'the assistant says when it is done',
  resume: (last: string) => `Last verified: ${last}`,
  resumeCarryOn: 'Carry on with:',
  verified: 'Verified',
  verifiedIn: (seconds: number) => `Verified in ${seconds} s`,
  wetNow: { hands: 'Hands wet now', other: 'Wet now' },
  wetFor: (agent: string, seconds: number) => `${agent}, wet for ${seconds} s`,
  secondsLeft: 'seconds to go',
  timeServed: 'Time.',
  startAgain: 'Dry too soon: start again',
  wentWrong: 'Something went wrong',
  steps: (number: number, total: number) => `Steps: ${number} of ${total}`,
  stepsOf: (phase: string) => `${phase}: all steps`,
  stepStages: { done: 'verified', now: 'now', open: 'may come now', later: 'later' },
  doThisNow: 'Do this one now',
  othersOpen: (count: number) => `or ${count} other${count === 1 ? '' : 's'}`,
  itWentWrong: 'It went wrong',

  // ---- deviations ----
  deviationTitle: 'What went wrong?',
  byWhom: 'By',
  actors: { worker: 'Worker', assistant: 'Assistant', observer: 'Me, the observer' },
  deviationKinds,
  correctiveKicker: 'Say and do now',
  byActor: { worker: 'by the worker', assistant: 'by the assistant', observer: 'by the observer' },
  atStep: (words: string) => `At: ${words}`,
  putRight: 'Put right',
  correctiveStep: (number: number, total: number) => `Say and do now, ${number} of ${total}`,
  correctiveDone: 'Done',
  correctiveLeave: 'Emergency: leave this, go on',
  doneIn: (seconds: number) => `Done in ${seconds} s`,
  startTime: 'Start the time',
  keepFor: (seconds: number) => `for ${seconds} s`,
  walkedLook: 'All of it is done. Look once more. Is it right?',
  moreDeviations: (count: number) => `${count} more to put right after this`,
  anotherWrong: 'Another thing went wrong',

  // ---- after an interruption ----
  recheck: {
    kicker: 'You were interrupted. Look once more:',
    question: 'Was this done and seen?',
    yes: 'Yes, done and seen',
    no: 'No, or not sure',
    noMore: '“No” notes it as left out and says what to do.',
  },

  // ---- emergency doffing ----
  emergencyDoffing: {
    title: 'Emergency doffing by helpers',
    ask: 'If the worker can walk through the steps, go on as ever.',
    open: 'They cannot: helpers take it off',
    ordinary: 'Back to the ordinary steps',
    before: 'One back',
    next: 'Done, next',
    end: 'That was the last of this list. Hand over, and stay until somebody has taken over.',
    notRecorded:
      'None of this is written into the record. The ordinary steps stay open; the safety officer may let them count, with a reason.',
  },

  // ---- inspection ----
  inspectionKicker: 'Look, head to toe',
  right: 'Right',
  notRight: 'Not right',
  inspectionPassed: 'Everything is right.',
  inspectionPassedMore: 'Passing starts the clock of the time in PPE.',
  passInspection: 'Inspection passed',
  lookAgain: 'Look again from the head',
  sendBackTitle: 'Back to these steps:',
  sendBack: 'Send back to these steps',

  // ---- door ----
  doorSay: (room: string, clock: string) => `${room}. You are called out at ${clock}.`,
  doorSayNoLimit: (room: string) => `${room}. Go in when you are ready.`,
  doorClock: 'The clock is running.',
  wentIn: 'Went in',
  turnBack: 'Turn back',
  turnBackTitle: (name: string) => `${name} turns back and comes out through a lane.`,
  turnBackYes: 'Yes, turn back',
  insideNow: (name: string) => `${name} is inside.`,
  throughTitle: 'The steps at the door are done.',
  throughLane: 'A lane is free. Say: “The lane is clear. Step through.”',
  throughNoLane: 'No lane is free. Say: “Wait behind the line.” The coordinator sees it.',
  throughDoor: 'Through the door',

  // ---- threshold ----
  chooseLane: 'Which lane?',
  chooseThisLane: (lane: string) => `Choose ${lane}`,
  lanes: {
    free: 'free',
    'held-for-them': 'held for this worker',
    held: 'held for somebody else',
    heldFor: (name: string) => `held for ${name}`,
    occupied: (name: string) => `${name} is in it`,
    turnover: (minutes: number) =>
      minutes > 0 ? `being cleaned, ${minutes} min to go` : 'cleaned; nobody has cleared it',
    closed: (because: string) => `closed: ${because}`,
  },
  noLaneNow: 'No lane may be entered now. Stay at the threshold, touch nothing. The coordinator sees it.',
  laneKicker: (lane: string) => `${lane}, before the worker steps in`,
  laneNotYet: 'Put it right first. The worker stays at the threshold.',
  whoAssists: 'Who assists?',
  noAssistant: 'Nobody who may assist is free. Tell the coordinator. The worker stays at the threshold.',
  assistantMay: 'Assistant (may be left open in an emergency)',
  stepInTitle: (lane: string) => `${lane} is ready.`,
  stepInSay: 'Say: “Step in.”',
  assists: (name: string) => `${name} assists`,
  stepIn: 'Steps in',
  emergencyStepIn: (lane: string) => `Steps into ${lane}`,
  otherLane: 'Another lane',

  // ---- after ----
  heldAfterTitle: (name: string) => `${name} is held. A vital sign is out of bounds.`,
  heldAfterNow: [
    'Stay with the worker. Rest, drink, cool down.',
    'Measure everything again after some minutes.',
    'The safety officer and occupational health decide about anything else.',
  ],

  // ---- help ----
  help: 'Help',
  emergencyExit: 'Emergency exit',
  stopEntry: 'Stop this entry',
  notInPpe: 'out of equipment',
  declaredAlready: 'declared',
  breach: 'Breach',
  breachWho: 'Whose breach?',
  breachOther: 'It was somebody else',
  breachTitle: (name: string) => `Breach: what happened to ${name}?`,
  breachSent: (name: string) => `Breach of ${name}`,
  breachNow: 'Now',
  breachThen: 'Then',
  breachLeave: 'This one leaves the room.',
  breachOpen: (kind: string) => `Breach: ${kind}`,
  whatToDo: 'What to do',
  emergency: {
    sent: (name: string, clock: string) => `Emergency exit of ${name} was sent at ${clock}.`,
    unsent: (name: string) => `Emergency exit of ${name} is not sent yet. Shout, and use the radio.`,
    lane: (lane: string) => `${lane} is held.`,
    noLane: 'No lane is held yet.',
    alone: 'Nobody watches them yet. Call another observer.',
    say: 'Say:',
    come: (name: string) => `“${name}, stop. Come to the threshold now.”`,
    stay: (name: string) => `“${name}, stay with me. Slowly, one step at a time. Help is coming.”`,
  },

  // ---- alerts ----
  iAct: 'I act',
  moreAlerts: (count: number) => `and ${count} more`,

  // ---- more ----
  moreTitle: 'More',
  letGo: (name: string) => `Let go of ${name}`,
  letGoMore: 'The board shows at once that nobody guides them.',
  letGoNotInDoffing: 'In doffing nobody lets go: another observer takes over at their own tablet.',
  stopTitle: (name: string) => `Why does the entry of ${name} stop?`,
  stopMore: 'Pressing a reason stops the entry. Nobody is in the room yet.',
  stopReasons: {
    asked: 'Worker asks to stop',
    equipment: 'Equipment is not right',
    emergency: 'Emergency on the cold side',
    changed: 'Plans changed',
  },
  cautions: 'Cautions of this procedure',
  readAloud: 'Read steps aloud',
  on: 'on',
  off: 'off',
  noVoice: 'This tablet has no voice of its own, so nothing can be read aloud.',
} as const;
