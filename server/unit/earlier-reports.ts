import { at, type UnitState } from '../../machines/unit/state.ts';
import type { ReportId } from '../../machines/wire/ids.ts';
import type { ReportAnswer } from '../../machines/wire/messages.ts';
import type { RefusalCode } from '../../machines/wire/refusal.ts';
import type { Report } from '../../machines/wire/report.ts';
import type { Log, ReportTrace } from '../log/log.ts';

/**
 * Is this report in the log already? A device whose network broke sends again what it has no answer to, so the answer must
 * be the one it would have had. A sequence above the device's last one in the log is surely new and costs no look-up.
 */
export async function earlierAnswer(
  log: Log,
  state: UnitState,
  report: Report,
  suspects: ReadonlySet<ReportId>,
): Promise<ReportAnswer | undefined> {
  const lastSequence = at(state.devices, report.device)?.context.sequence ?? 0;
  if (report.sequence > lastSequence && !suspects.has(report.id)) return undefined;
  const trace = await log.findReport(state.unit, report.id);
  if (!trace) return undefined;
  return isSame(trace, report) ? answerOf(log, state, trace) : idUsed;
}

const isSame = (trace: ReportTrace, report: Report): boolean =>
  trace.device === report.device && trace.sequence === report.sequence;

export const idUsed: ReportAnswer = {
  accepted: false,
  code: 'report/id-used',
  sentence: 'Another report has this id. Reload the page, then do it again.',
};

/** A report that was refused and kept for review is refused again, with the same words. */
async function answerOf(log: Log, state: UnitState, { numbers }: ReportTrace): Promise<ReportAnswer> {
  const first = numbers[0] ?? 0;
  const [fact] = await log.read(state.unit, first - 1, 1);
  if (fact?.kind !== 'report-kept') return { accepted: true, numbers, repeat: true };
  return { accepted: false, code: fact.data.code as RefusalCode, sentence: fact.data.sentence, keptAs: first };
}
