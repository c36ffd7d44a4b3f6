import type { ReportAnswer } from '../../machines/wire/messages.ts';

/** Why a report was neither taken nor refused. The device keeps it and sends it again. */
export type TurnedAway = 'log-unavailable' | 'busy' | 'closing' | 'an-earlier-one';

export function turnedAwayBecause(reason: TurnedAway): ReportAnswer {
  return { accepted: false, ...answers[reason], retry: true };
}

const answers = {
  'log-unavailable': {
    code: 'unit/log-unavailable',
    sentence:
      'The server cannot reach its log, so nothing can be recorded now. It is kept on this device and sent again.',
  },
  busy: {
    code: 'unit/busy',
    sentence: 'The server has more to do than it can. It is kept on this device and sent again.',
  },
  closing: {
    code: 'unit/busy',
    sentence: 'The server is stopping. It is kept on this device and sent again when a server answers.',
  },
  'an-earlier-one': {
    code: 'unit/busy',
    sentence: 'An earlier report of this device has not been taken yet. Both are sent again, in their order.',
  },
} as const;

/** For a bug on our side. Sending the same again would only meet it again. */
export const serverMistake = {
  accepted: false,
  code: 'message/not-understood',
  sentence:
    'The server could not work this out; the mistake is its own and is noted. Do it another way and tell the lead.',
} as const satisfies ReportAnswer;
