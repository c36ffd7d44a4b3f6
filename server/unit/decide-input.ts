import {
  acceptHeard,
  acceptJoin,
  acceptLeave,
  acceptReport,
  acceptSilence,
  acceptTime,
  type Accepted,
} from '../../machines/unit/accept.ts';
import { acceptAdvice, acceptReadings } from '../../machines/unit/advise.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import type { NumberedFact } from '../../machines/wire/fact.ts';
import type { ReportAnswer } from '../../machines/wire/messages.ts';
import type { RefusalCode } from '../../machines/wire/refusal.ts';
import type { Input } from './input.ts';

/** What one input leads to, decided on the state as the input before it left it. */
export interface Decided {
  facts: readonly NumberedFact[];
  state: UnitState;
  answer: ReportAnswer;
}

/** `earlier` is the answer to the same report, when it is in the log already. */
export function decideInput(state: UnitState, input: Input, earlier?: ReportAnswer): Decided {
  const now = inOrder(state, input.at);
  switch (input.what) {
    case 'report':
      return earlier ? { facts: [], state, answer: earlier } : decideReport(state, { ...input, at: now });
    case 'join':
      return accepted(acceptJoin(state, input.device, input.role, input.person, now));
    case 'heard':
      return accepted(acceptHeard(state, input.device, now));
    case 'silence':
      return accepted(acceptSilence(state, input.device, input.lastHeardAt, now));
    case 'leave':
      return accepted(acceptLeave(state, input.device, now));
    case 'tick':
      return accepted(acceptTime(state, now));
    case 'advice':
      return accepted(acceptAdvice(state, input.advice, now));
    case 'readings':
      return accepted(acceptReadings(state, input.readings, input.sensor, now));
    default:
      return input satisfies never;
  }
}

const clockSkewMostMs = 10_000;

/**
 * Several servers may write one log, and their clocks differ a little. Receipt times in a log never run backwards for that
 * reason, or an alert that is due by one clock would be cleared and raised again by the other. A larger difference is a
 * clock set wrong, and is not followed.
 */
function inOrder(state: UnitState, now: number): number {
  return state.at - now <= clockSkewMostMs ? Math.max(state.at, now) : now;
}

function decideReport(state: UnitState, input: Input & { what: 'report' }): Decided {
  const { report, role, salt, at: receivedAt } = input;
  if (report.sequence <= (at(state.devices, report.device)?.context.sequence ?? 0))
    return refused(
      state,
      'report/sequence-used',
      `Report number ${report.sequence} of this device is used already, for something else. Reload the page, then do it again.`,
    );
  const outcome = acceptReport(state, { report, role, receivedAt, salt });
  if (!('refusal' in outcome)) return accepted(outcome, report.id);
  const { refusal, kept } = outcome;
  const keptAs = kept?.facts[0]?.number;
  const answer = { accepted: false, ...refusal, ...(keptAs !== undefined && { keptAs }) } as const;
  return { facts: kept?.facts ?? [], state: kept?.state ?? state, answer };
}

/** A report is answered with its own facts; those that time or the alerts added are not its doing. */
function accepted({ facts, state, notice }: Accepted, report?: string): Decided {
  const own = facts.filter((fact) => report === undefined || fact.report?.id === report);
  return {
    facts,
    state,
    answer: { accepted: true, numbers: own.map((fact) => fact.number), ...(notice && { notice }) },
  };
}

export function refused(state: UnitState, code: RefusalCode, sentence: string): Decided {
  return { facts: [], state, answer: { accepted: false, code, sentence } };
}
