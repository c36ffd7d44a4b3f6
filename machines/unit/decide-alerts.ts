import { alerts } from '../alert/alert-machine.ts';
import { conditionKey, conditions } from './conditions.ts';
import { accept, draft, refuse, type Case, type Decider, type Decision } from './decision.ts';
import type { AlertState } from '../alert/alert-machine.ts';
import type { AlertId } from '../wire/ids.ts';
import { at } from './state.ts';

/** Reports about alerts and reviews. Acknowledging means "I act"; ending an alert means its cause is dealt with. */

function withAlert(one: Case, id: AlertId, then: (alert: AlertState) => Decision): Decision {
  const alert = at(one.state.alerts, id);
  return alert
    ? then(alert)
    : refuse('alert/unknown', 'This alert is over: its cause ended, or a worse one took its place.');
}

/** A screen has shown the alert to somebody. The first time per screen is a fact, repeats are nothing. */
export const tellAlert: Decider<'tell-alert'> = (one) =>
  withAlert(one, one.report.data.alert, (alert) => {
    if (!alerts.can(alert, { type: 'tell', at: one.at, device: one.device })) return accept();
    return accept(
      draft(one, 'alert-told', { alert: alert.context.id, device: one.device, person: one.person, over: 'screen' }),
    );
  });

export const acknowledgeAlert: Decider<'acknowledge-alert'> = (one) =>
  withAlert(one, one.report.data.alert, (alert) => {
    if (alert.value === 'acknowledged') return refuse('alert/answered', 'Somebody has answered this alert already.');
    return accept(draft(one, 'alert-acknowledged', { alert: alert.context.id, person: one.person }));
  });

/** Only what a person can end is ended here: the rest goes when its cause does, and not before. */
export const clearAlert: Decider<'clear-alert'> = (one) =>
  withAlert(one, one.report.data.alert, (alert) => {
    const { reason } = one.report.data;
    const { id, kind, subject, worker } = alert.context;
    if (kind === 'breach' && worker) {
      const found = at(one.state.workers, worker);
      const breach = found?.machine.context.breaches.find((one) => `${worker}/${one.id}` === subject);
      // The report names an alert and no worker, but nothing about the worker counts from before what is on record.
      const later = { ...one, at: Math.max(one.at, found?.lastAt ?? 0) };
      if (breach) return accept(draft(later, 'breach-cleared', { worker, breach: breach.id, reason }));
    }
    const stillTrue = conditions(one.state, one.receivedAt).some(
      (one) => conditionKey(one) === conditionKey(alert.context),
    );
    if (stillTrue && kind !== 'rest-too-short')
      return refuse(
        'alert/still-true',
        'What this alert is about is still so. It ends by itself when that is put right.',
      );
    return accept(draft(one, 'alert-cleared', { alert: id, reason }));
  });

export const closeReview: Decider<'close-review'> = (one) => {
  const { review, reason } = one.report.data;
  if (!one.state.reviews.some((one) => one.number === review))
    return refuse('review/unknown', 'Nothing is waiting for review under this number.');
  return accept(draft(one, 'review-closed', { review, reason }));
};
