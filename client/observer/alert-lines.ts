import type { AlertContext } from '../../machines/alert/alert-machine.ts';
import { audienceOf } from '../../machines/alert/audience.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import type { DeviationKind } from '../../machines/procedure/corrective.ts';
import type { actors } from '../../machines/wire/fact.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import type { Report } from '../../machines/wire/report.ts';
import { alertsByWorst } from '../board/alert-view.ts';

type Actor = (typeof actors)[number];

/** Alerts that call this observer and that nobody has answered, worst first; not those whose answer is on its way from here. */
export function alertLines(confirmed: UnitState, me: PersonId, waiting: readonly Report[]): AlertContext[] {
  const answered = waiting.flatMap((report) => (report.kind === 'acknowledge-alert' ? [report.data.alert] : []));
  return alertsByWorst(confirmed)
    .filter((alert) => alert.value === 'unanswered' && audienceOf(confirmed, alert, 'observer', me) === 'called')
    .map((alert) => alert.context)
    .filter((alert) => !answered.includes(alert.id));
}

/**
 * What an alert says on the tablet. What to do about a deviation or a breach fills the page below, so the line only names it; a
 * time to come is said as a time of day, because a sentence that counts down would be wrong a minute later.
 */
export type AlertText =
  | { is: 'deviation'; kind: DeviationKind; actor: Actor }
  | { is: 'breach'; name: string }
  | { is: 'call-out-at'; at: number }
  | { is: 'because'; because: string };

export function alertText(state: UnitState, alert: AlertContext): AlertText {
  const context = alert.worker && at(state.workers, alert.worker)?.machine.context;
  const about = (id: string) => alert.subject === `${alert.worker}/${id}`;
  const deviation = context?.entry?.deviations.find((one) => about(one.id));
  if (deviation) return { is: 'deviation', kind: deviation.kind as DeviationKind, actor: deviation.actor as Actor };
  const breach = context?.breaches.find((one) => about(one.id));
  if (breach)
    return { is: 'breach', name: state.rules.breaches.find((rule) => rule.kind === breach.kind)?.name ?? breach.kind };
  const limit = context?.entry?.limit;
  if (alert.kind === 'limit-approaching' && limit) return { is: 'call-out-at', at: limit.callOutAt };
  return { is: 'because', because: alert.because };
}
