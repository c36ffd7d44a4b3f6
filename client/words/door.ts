/** The words of the first page, where a device is told what it is for. */
export const doorWords = {
  about:
    'Keeps track of everybody in protective equipment: where they are, for how long, who watches them, and how they come out.',
  drill: 'This is a drill. The people and the shift are invented.',
  real: 'This is not a drill. What is pressed here is on record.',
  choose: 'What is this device for?',
  choices: {
    board: { name: 'Board', who: 'For the unit coordinator: the whole floor, calling in and out, lanes, observers.' },
    rotation: {
      name: 'Rotation',
      who: 'For the unit coordinator: who goes in when over a shift, planned, adopted and repaired.',
    },
    tablet: { name: 'Tablet', who: 'For a trained observer: one worker, one step at a time, read aloud and verified.' },
    safety: { name: 'Safety', who: 'For the safety officer: alerts that have climbed, holds, overrides, sign-offs.' },
    lead: { name: 'Lead', who: 'For the lead: what the unit goes by, how it is changed and proved, what to train.' },
    wall: { name: 'Wall', who: 'For everybody in the room: the same floor to look at. Nothing can be pressed.' },
  },
  elsewhere: 'Open this page on another device',
  scan: 'Point the camera of a phone or tablet at the square.',
  qrOf: (address: string) => `QR code of ${address}`,
  others: 'Other addresses of this server',
  useThis: 'Show its code',
  sameNetwork: 'The device must be on the same network as the server.',
  loopback: 'This server listens only on this computer. No other device can open it.',
  loopbackHow: 'To let others in, stop it and start it again with',
  hostFlag: '--host 0.0.0.0',
  loopbackExample: 'for example',
  hostExample: 'npm start -- --host 0.0.0.0',
  loopbackCaution: 'Do that only on a network you trust.',
  cautions: 'Before you rely on it',
  cautionList: [
    'An aid, not a medical device. Local rules, occupational health and the trained observer decide.',
    'Keep the wall clock, the radio and the paper checklist within reach. Every screen says NOT LIVE when it loses the server.',
    'Who somebody is, is for now only what their device says. Keep it on a network you trust.',
    'No patient data and no health details belong in any text field.',
  ],
} as const;
