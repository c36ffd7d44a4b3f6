import type { AlertContext } from '../../machines/alert/alert-machine.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import type { PersonId, UnitId } from '../../machines/wire/ids.ts';

/**
 * What somebody said when they reported what an alert is about: a reason, a note. The fold keeps none of it, the log keeps all
 * of it, so it is read from there when the message is opened.
 */
export interface Said {
  by: PersonId | undefined;
  at: number;
  words: string | undefined;
}

/** The alert is written in one go with its cause, a few facts after it; no report leads to more facts than this. */
const factsBefore = 24;

/** An alert's id has the number of the fact that raised it. */
export function raisedBy(alert: AlertContext): number | undefined {
  const number = Number(/^A(\d+)$/.exec(alert.id)?.[1]);
  return Number.isSafeInteger(number) ? number : undefined;
}

/** The fact an alert is about, among those before it. */
export function saidAbout(alert: AlertContext, facts: readonly Fact[]): Said | undefined {
  const raised = raisedBy(alert);
  if (raised === undefined) return undefined;
  const cause = facts.filter((fact) => fact.number < raised).findLast((fact) => isCause(alert, fact));
  if (!cause) return undefined;
  return { by: 'person' in cause.by ? cause.by.person : undefined, at: cause.at, words: wordsOf(cause) };
}

function isCause({ kind, subject, worker }: AlertContext, fact: Fact): boolean {
  if (!('worker' in fact.data) || fact.data.worker !== worker) return false;
  switch (kind) {
    case 'breach':
      return fact.kind === 'breach-declared' && subject === `${worker}/${fact.data.breach}`;
    case 'deviation':
      return fact.kind === 'deviation-noted' && subject === `${worker}/${fact.data.deviation}`;
    case 'emergency-exit':
      return fact.kind === 'emergency-declared';
    case 'rest-too-short':
      return fact.kind === 'worker-called';
    case 'not-ready':
    case 'vitals-out-of-bounds':
      return fact.kind === 'screening-recorded' || fact.kind === 'post-check-recorded';
    default:
      return false;
  }
}

/** What stands in the fact of an emergency that was declared with one press and no words. */
const noReasonGiven = 'emergency exit';

function wordsOf(fact: Fact): string | undefined {
  switch (fact.kind) {
    case 'breach-declared':
    case 'deviation-noted':
      return fact.data.note;
    case 'emergency-declared':
      return fact.data.reason === noReasonGiven ? undefined : fact.data.reason;
    case 'worker-called':
      return fact.data.restCutShort?.reason;
    default:
      return undefined;
  }
}

/** Whether anybody can have said anything: an alert that a deadline raised has nobody behind it. */
export const hasSayer = (kind: AlertContext['kind']): boolean =>
  ['breach', 'deviation', 'emergency-exit', 'rest-too-short', 'vitals-out-of-bounds', 'not-ready'].includes(kind);

export async function askSaid(unit: UnitId, alert: AlertContext): Promise<Said | undefined> {
  const raised = raisedBy(alert);
  if (raised === undefined) return undefined;
  return saidAbout(alert, await askLog(unit, Math.max(0, raised - 1 - factsBefore), factsBefore));
}

/** A page of the unit's log, as anybody may read it: nothing confidential comes this way. */
export async function askLog(unit: UnitId, after: number, limit: number): Promise<Fact[]> {
  const answer = await fetch(`/api/units/${unit}/log?after=${after}&limit=${limit}`);
  if (!answer.ok) throw new Error(`the log answered ${answer.status}`);
  return ((await answer.json()) as { facts: Fact[] }).facts;
}
