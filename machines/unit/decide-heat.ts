import { afterEntry, afterEntryDefaults, type AfterEntry, type AfterEntryBounds } from '../heat/after-entry.ts';
import { physiologicalStrainIndex } from '../heat/person.ts';
import type { HeatAnswer } from '../heat/heat-refusal.ts';
import type { DraftFact, AfterEntryEffect } from '../wire/fact.ts';
import { accept, draft, elsewhere, onDuty, refuse, withEntry, type Case, type Decider } from './decision.ts';
import type { HeatSettings, StrainMeasured } from './heat-settings.ts';
import { governingLimit, minutesMs, noAdvice } from './limit.ts';
import { isAt, isInPpe, procedureOf } from './questions.ts';
import type { Vitals } from './settings.ts';
import { at, type UnitRules, type UnitWorker } from './state.ts';

/** Reports about heat: the air of a room, how hard somebody works, a check inside. */

export const recordClimate: Decider<'record-climate'> = (one) => {
  const { room, climate } = one.report.data;
  if (!one.state.rules.rooms.some((known) => known.id === room))
    return refuse('room/unknown', `There is no room "${room}" in this unit.`);
  return accept(draft(one, 'climate-recorded', { room, climate }));
};

export const setWork: Decider<'set-work'> = (one) =>
  withEntry(one, one.report.data.worker, (worker, entry) => {
    const { worker: id, work } = one.report.data;
    if (isAt(worker.machine, 'post-check')) return elsewhere(worker, 'before or in equipment');
    if (workRateOf(one.state.rules, worker) === work) return accept();
    return accept(draft(one, 'work-set', { worker: id, entry: entry.id, work }));
  });

/** How hard somebody is taken to work now: as it was set last, else as the unit usually works. */
export const workRateOf = (rules: UnitRules, worker: UnitWorker) => worker.work?.at(-1)?.work ?? rules.heat?.work.usual;

/** A look after somebody in equipment. Any observer on duty may do it; who is found over a bound is to come out at once. */
export const recordCheck: Decider<'record-check'> = (one) =>
  onDuty(one, () =>
    withEntry(one, one.report.data.worker, (worker, entry) => {
      const { worker: id, vitals, strain } = one.report.data;
      const { heat } = one.state.rules;
      if (!isInPpe(worker.machine)) return elsewhere(worker, 'in equipment');
      if (!heat) return refuse('point/unknown', "This unit's settings have no heat section, so no check is asked for.");
      if (Object.keys(vitals).length === 0 && !strain)
        return refuse('measurement/absurd', 'Nothing was measured. Give the pulse or the temperature.');
      const judged = judge(heat, strain);
      if (!judged.ok) return refuse('measurement/absurd', `${judged.refusal.message}. Measure again.`);
      const findings = [...overBounds(heat, vitals), ...judged.value.because.map((rule) => rule.words)];
      const confidential = { salt: one.salt, vitals, findings, ...(strain && { strain }) };
      const about = { worker: id, entry: entry.id };
      if (findings.length > 0)
        return accept(
          draft(one, 'check-recorded', { ...about, verdict: 'over' }, confidential),
          ...comeOut(one, worker, about),
        );
      const next = worker.check && { nextDueAt: one.at + minutesMs(worker.check.everyMinutes) };
      return accept(draft(one, 'check-recorded', { ...about, verdict: 'within-bounds', ...next }, confidential));
    }),
  );

function comeOut(
  one: Case,
  worker: UnitWorker,
  about: Pick<Parameters<typeof draft<'limit-set'>>[2], 'worker' | 'entry'>,
): DraftFact[] {
  const { entry } = worker.machine.context;
  if (entry?.donnedAt === undefined) return [];
  const found = { ...worker, overSince: one.at };
  const limit = governingLimit(one.state.rules, procedureOf(one.state, entry), found, entry.donnedAt, noAdvice);
  return [draft(one, 'limit-set', { ...about, ...limit })];
}

/** Signs that were measured and are over the bound of the check; what was not measured is not judged. */
function overBounds({ check }: HeatSettings, { temperatureC, pulsePerMin }: Vitals): string[] {
  const over = (value: number | undefined, bound: number | undefined, what: string) =>
    value !== undefined && bound !== undefined && value > bound ? [`${what} ${value}, above ${bound}`] : [];
  return [
    ...over(temperatureC, check.temperatureC, 'temperature (°C)'),
    ...over(pulsePerMin, check.pulsePerMin, 'pulse (per min)'),
  ];
}

/** Occupational health has cleared somebody whom a measurement keeps from going in again today. */
export const allowAgain: Decider<'allow-again'> = (one) => {
  const { worker: id, reason } = one.report.data;
  const worker = at(one.state.workers, id);
  if (!worker) return refuse('worker/unknown', `Nobody called "${id}" is a worker of this unit.`);
  if (worker.after?.barredUntil === undefined) return accept();
  return accept(draft(one, 'again-allowed', { worker: id, reason }));
};

/** What the measurements say by the unit's bounds: machines/heat/after-entry.ts has the rules and their sources. */
export function judge(heat: HeatSettings, strain: StrainMeasured | undefined): HeatAnswer<AfterEntry> {
  const { coreTemperatureStartC, pulseStartPerMin, ...measured } = strain ?? {};
  const { coreTemperatureC, pulseAtRestStartPerMin: pulsePerMin } = measured;
  const whole = [coreTemperatureStartC, pulseStartPerMin, coreTemperatureC, pulsePerMin];
  const index = whole.some((value) => value === undefined)
    ? undefined
    : physiologicalStrainIndex({ coreTemperatureStartC, pulseStartPerMin, coreTemperatureC, pulsePerMin } as Parameters<
        typeof physiologicalStrainIndex
      >[0]);
  if (index && !index.ok) return index;
  const findings = {
    ...measured,
    acclimatised: heat.person.acclimatised,
    ...(index && { strainIndex: index.value.index }),
  };
  return afterEntry(withoutAbsent(findings), boundsOf(heat));
}

const withoutAbsent = <T extends object>(values: T): T =>
  Object.fromEntries(Object.entries(values).filter(([, value]) => value !== undefined)) as T;

function boundsOf({ afterEntry: own }: HeatSettings): AfterEntryBounds {
  const { longerRestMinutes, ...bounds } = own;
  return {
    ...afterEntryDefaults,
    ...withoutAbsent(bounds),
    ...(longerRestMinutes !== undefined && { longerRestMin: longerRestMinutes }),
  } as AfterEntryBounds;
}

/** How long somebody who is not to go in again today stays out: until the rolling day of the unit is over. */
const barredMs = minutesMs(24 * 60);

/** What is open of the judgement: the share of the next entry, or none today. Which measurement it was stays confidential. */
export function effectOf(judged: AfterEntry, heat: HeatSettings, now: number): AfterEntryEffect | undefined {
  if (judged.nextEntryShare >= 1 && !judged.notAgainToday) return undefined;
  const because = judged.notAgainToday
    ? 'a measurement after the last entry rules out another one today'
    : 'a measurement after the last entry shortens this one';
  return {
    nextShare: judged.nextEntryShare,
    ...(judged.notAgainToday && { barredUntil: now + barredMs }),
    because,
    // The rule's own source would say which measurement it was.
    source: heat.source,
  };
}
