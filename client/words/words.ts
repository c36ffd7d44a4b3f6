import { boardWords } from './board.ts';
import { doorWords } from './door.ts';
import { forecastWords } from './forecast.ts';
import { leadWords } from './lead.ts';
import { heatWords } from './heat.ts';
import { rotationWords } from './rotation.ts';
import { safetyWords } from './safety.ts';
import { tabletWords } from './tablet.ts';

/** The one catalogue: every word a screen shows is here or comes from the unit's own files. English first. */
export const words = {
  opening: 'Opening…',
  noServer: 'The server does not answer. Check the network, then reload this page.',
  notLive: 'NOT LIVE',
  notLiveLong: 'No word from the server. Times have stopped. Go by wall clock, radio and paper until this goes away.',
  live: 'live',
  reconnecting: 'connecting',
  drill: 'Drill: invented people',
  aid: 'An aid, not a medical device. Local rules, occupational health and the trained observer decide.',
  whoAreYou: 'Who are you?',
  whoAreYouFor: {
    coordinator: 'Unit coordinator',
    observer: 'Observer',
    'safety-officer': 'Safety officer',
    lead: 'Lead',
    wall: 'Wall',
  },
  identityWord: 'This version takes your word for who you are.',
  nobodyForRole: 'The roster has nobody for this screen. The lead can add somebody in the unit file.',
  notYou: (name: string) => `Not ${name}?`,
  waiting: (count: number) => (count === 1 ? '1 report waiting to be sent' : `${count} reports waiting to be sent`),
  dismiss: 'Understood',
  closed: 'This screen is closed',
  openAgain: 'Open again here',
  soundOff: 'Sound is off. Press to hear alarms here.',
  soundOn: 'Alarm sound on',
  places: {
    rest: 'rest',
    'pre-check': 'pre-check',
    donned: 'at the door',
    inside: 'inside',
    doffing: 'doffing',
    'post-check': 'post-check',
  },
  priorities: { high: 'high', medium: 'medium', low: 'low' },
  alertKinds: {
    'limit-approaching': 'Limit approaching',
    'call-out': 'Call out',
    'limit-reached': 'Limit reached',
    deviation: 'Deviation',
    'no-observer': 'Nobody watching',
    'tablet-silent': 'Tablet silent',
    'lane-clash': 'Lane clash',
    breach: 'Breach',
    'emergency-exit': 'Emergency exit',
    'vitals-out-of-bounds': 'Vital signs out of bounds',
    'not-ready': 'Not ready',
    'rest-too-short': 'Rest too short',
    'check-due': 'Check due',
  },
  minutes: (count: number) => `${count} min`,
  cancel: 'Back',
  board: boardWords,
  tablet: tabletWords,
  safety: safetyWords,
  door: doorWords,
  lead: leadWords,
  heat: heatWords,
  forecast: forecastWords,
  rotation: rotationWords,
} as const;
