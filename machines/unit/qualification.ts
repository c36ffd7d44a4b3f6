import type { Procedure } from '../procedure/procedure.ts';
import { refuse, type Decision } from './decision.ts';
import { at, type RosterEntry, type UnitRules } from './state.ts';

const millisecondsPerDay = 86_400_000;

/** Days since a date (UTC), or infinity when there is none. */
function daysSince(date: string | undefined, now: number): number {
  return date === undefined ? Infinity : (now - Date.parse(`${date}T00:00:00Z`)) / millisecondsPerDay;
}

/**
 * Nobody is called for an entry without a fit test and a competency in date. A tight-fitting respirator needs the fit test
 * (29 CFR 1910.134(f)(2): at least annually); a loose-fitting powered hood does not. How fresh a competency must be is the
 * unit's own setting: no binding interval is published.
 */
export function qualificationRefusal(
  rules: UnitRules,
  person: RosterEntry | undefined,
  procedure: Procedure,
  now: number,
): Decision | undefined {
  const { fitTestDays, competencyDays } = rules.qualification;
  if (procedure.ensemble.respirator === 'tight-fitting' && daysSince(person?.fitTestOn, now) > fitTestDays)
    return refuse(
      'qualification/fit-test',
      person?.fitTestOn
        ? `The fit test of ${person.fitTestOn} is older than ${fitTestDays} days. A new one is needed for a tight-fitting respirator.`
        : 'There is no fit test on record, which a tight-fitting respirator needs.',
    );
  const competentOn = person && at(person.competencyOn, procedure.id);
  if (daysSince(competentOn, now) > competencyDays)
    return refuse(
      'qualification/competency',
      competentOn
        ? `The competency of ${competentOn} in "${procedure.title}" is older than ${competencyDays} days.`
        : `No competency in "${procedure.title}" is on record.`,
    );
  return undefined;
}
