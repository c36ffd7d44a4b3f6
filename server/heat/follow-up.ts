import { shown } from '../../machines/heat/heat-fields.ts';
import { answered, refused, type HeatAnswer } from '../../machines/heat/heat-refusal.ts';

/** CDC guidance on viral haemorrhagic fevers: monitoring runs 21 days after the last possible exposure. */
export const monitoringDays = 21;

/** The last day of monitoring, from the day of the last exposure; both calendar days, YYYY-MM-DD, of no time zone. */
export function monitoringThrough(lastExposure: string): HeatAnswer<string> {
  const day = /^\d{4}-\d{2}-\d{2}$/.test(lastExposure) ? new Date(`${lastExposure}T00:00:00Z`) : undefined;
  // A date such as 30 February would silently become 2 March.
  if (!day || Number.isNaN(day.getTime()) || dayOf(day) !== lastExposure) {
    return refused(
      'heat/wrong-type',
      `The day of the last exposure must be a date, YYYY-MM-DD, not ${shown(lastExposure)}`,
    );
  }
  day.setUTCDate(day.getUTCDate() + monitoringDays);
  return answered(dayOf(day));
}

const dayOf = (date: Date): string => date.toISOString().slice(0, 10);
