/**
 * Why a report was not accepted: a code that never changes its meaning, and a sentence the person at the screen can act on.
 * A refusal that contradicts what is on record, or came too late to be sure, is kept for review instead of being forgotten.
 */
export const refusalCodes = [
  'message/not-understood',
  'message/too-large',
  'message/unknown-kind',
  'message/wrong-version',
  'message/too-many',
  'session/no-hello',
  'session/other-device',
  'session/other-unit',
  'session/unknown-person',
  'session/role-not-held',
  'session/replaced',
  'rights/not-yours',
  'unit/unknown',
  'unit/busy',
  'unit/log-unavailable',
  'report/from-the-future',
  'report/late',
  'report/sequence-used',
  'report/id-used',
  'report/ahead-of-log',
  'worker/unknown',
  'worker/not-a-worker',
  'worker/elsewhere',
  'worker/resting',
  'worker/day-is-full',
  'worker/not-again-today',
  'measurement/absurd',
  'worker/stood-down',
  'worker/guiding-somebody',
  'qualification/fit-test',
  'qualification/competency',
  'observer/unknown',
  'observer/not-free',
  'observer/not-on-duty',
  'observer/not-with-worker',
  'observer/in-an-entry',
  'room/unknown',
  'room/full',
  'procedure/unknown',
  'procedure/version-not-higher',
  'procedure/not-sound',
  'procedure/not-proved',
  'point/unknown',
  'step/unknown',
  'step/other-procedure',
  'step/out-of-order',
  'step/done-already',
  'step/contact-time-short',
  'step/correct-first',
  'deviation/unknown',
  'deviation/steps-open',
  'deviation/no-such-step',
  'breach/unknown',
  'rotation/not-sound',
  'call-out/after-limit',
  'lane/unknown',
  'lane/not-free',
  'lane/not-ready',
  'lane/contact-time',
  'assistant/needed',
  'assistant/not-free',
  'alert/unknown',
  'alert/answered',
  'alert/still-true',
  'review/unknown',
] as const;

export type RefusalCode = (typeof refusalCodes)[number];

export interface Refusal {
  code: RefusalCode;
  /** What is wrong and what to do, in one sentence or two. */
  sentence: string;
}

export const refuse = (code: RefusalCode, sentence: string): { refusal: Refusal } => ({ refusal: { code, sentence } });
