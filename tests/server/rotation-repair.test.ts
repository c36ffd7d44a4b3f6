import { describe, expect, it } from 'vitest';
import { seededChance, wholeBelow } from '../../server/seeded-chance.ts';
import type { Plan, PlannedEntry, RotationInstance } from '../../server/rotation/instance.ts';
import { repairPlan, shiftPlan } from '../../server/rotation/repair.ts';
import type { RepairedPlan } from '../../server/rotation/repair.ts';
import { PlanSearch } from '../../server/rotation/search.ts';
import type { SearchSetting } from '../../server/rotation/search.ts';
import { costOf } from '../support/plan-check.ts';
import { wrongIn } from '../support/repair-events.ts';
import { instanceNamed, momentOf } from '../support/rotation-instance.ts';
import type { Moment } from '../support/rotation-instance.ts';

const instance = instanceNamed('B1-24h-4pos-40w');
const adopted = planFor(instance);

function planFor(of: RotationInstance): Plan {
  const search = new PlanSearch(of, { seed: 1 });
  search.build();
  search.move(300);
  return search.best.plan;
}

const { donning } = instance.durations;
const isNear = (entry: PlannedEntry): boolean => entry.donningStartMinute < 120;
const exitOf = (entry: PlannedEntry): number => entry.donningStartMinute + donning + entry.insideMinutes;

/** A clock that moves on by one whenever it is read: the budget is a number of looks at it. */
function ticking(): () => number {
  let milliseconds = 0;
  return () => (milliseconds += 1);
}

function repair(moment: Moment, changes: Partial<SearchSetting> = {}): RepairedPlan {
  const { lanesAway, observersAway } = moment;
  const setting = { seed: 1, budgetMs: 400, now: ticking(), ...changes };
  return repairPlan(moment.instance, moment.previous, {
    ...setting,
    lanesAway: [...lanesAway, ...(changes.lanesAway ?? [])],
    observersAway: [...observersAway, ...(changes.observersAway ?? [])],
  });
}

/** Minutes of the day at which nobody is just donning: a plan of a new moment can't tell of a donning that has begun. */
const quietMinutes = Array.from({ length: 200 }, (_, i) => i * 5).filter((minute) =>
  adopted.entries.every(
    (entry) => entry.ongoing || entry.donningStartMinute >= minute || entry.donningStartMinute + donning <= minute,
  ),
);

describe('a plan as it reads some minutes later', () => {
  it('leaves out what is over and calls ongoing who is inside', () => {
    const shifted = shiftPlan(instance, adopted, 200);
    const inside = adopted.entries.filter((entry) => entry.donningStartMinute + donning <= 200 && exitOf(entry) > 200);
    expect(inside.length).toBeGreaterThan(2);
    expect(shifted.entries.filter((entry) => entry.ongoing).map(({ worker }) => worker)).toEqual(
      inside.map(({ worker }) => worker),
    );
    expect(shifted.entries).toHaveLength(adopted.entries.filter((entry) => exitOf(entry) > 200).length);
  });
});

describe('a plan is repaired', () => {
  const minute = quietMinutes.find((quiet) => quiet > 150)!;
  const moment = momentOf(instance, adopted, minute);

  const lanesFreeMoment = (): Moment => {
    const moments = quietMinutes.filter((quiet) => quiet > 150).map((quiet) => momentOf(instance, adopted, quiet));
    return moments.find(({ lanesAway }) => lanesAway.length < instance.lanes)!;
  };

  it('without any event it stays as it is for the next two hours', () => {
    const repaired = repair(moment);
    expect(wrongIn(moment.instance, repaired.plan, moment)).toEqual([]);
    expect(repaired.changed).toBe(0);
    expect(repaired.cost.uncoveredSlots).toBe(0);
    // The lanes that are away are not in the plan, so that only the search knows when all are busy.
    const { total: _, allLanesBusySlots: __, ...parts } = costOf(moment.instance, repaired.plan);
    expect(repaired.cost).toMatchObject(parts);
  });

  it('when somebody must leave now, they leave within a slot where a lane is free', () => {
    const moment = lanesFreeMoment();
    const { worker } = moment.instance.inside[0]!;
    const repaired = repair(moment, { mustLeave: [{ worker, byMinute: 0 }] });
    expect(wrongIn(moment.instance, repaired.plan, moment)).toEqual([]);
    const leaving = repaired.plan.entries.find((entry) => entry.worker === worker && entry.ongoing)!;
    expect(exitOf(leaving)).toBe(instance.slotMinutes);
  });

  it('when the next two workers are sick, others take over and not everything changes', () => {
    const next = moment.previous.entries.filter((entry) => !entry.ongoing).slice(0, 2);
    const sick = next.map(({ worker }) => worker);
    const workers = moment.instance.workers.filter(({ id }) => !sick.includes(id));
    const fewer = { ...moment, instance: { ...moment.instance, workers } };
    const repaired = repair(fewer);
    expect(wrongIn(fewer.instance, repaired.plan, moment)).toEqual([]);
    expect(repaired.cost.uncoveredSlots).toBe(0);
    expect(repaired.changed).toBeGreaterThanOrEqual(2);
    expect(repaired.changed).toBeLessThan(moment.previous.entries.filter(isNear).length);
  });

  it('when two observers are away for two hours, nobody counts on them', () => {
    const observersAway = [0, 1].map((observer) => ({ observer, fromMinute: 0, toMinute: 120 }));
    const repaired = repair(moment, { observersAway });
    const away = { lanesAway: moment.lanesAway, observersAway: [...moment.observersAway, ...observersAway] };
    expect(wrongIn(moment.instance, repaired.plan, away)).toEqual([]);
    expect(repaired.cost.uncoveredSlots).toBe(0);
  });

  it('even with no time at all it gives a plan with what is still possible', () => {
    const lanesAway = [{ lane: 1, fromMinute: 0, toMinute: 120 }];
    const noTime = { ...moment, lanesAway: [...moment.lanesAway, ...lanesAway] };
    const { instance: now, previous, observersAway } = noTime;
    const repaired = repairPlan(now, previous, {
      seed: 1,
      budgetMs: 0,
      now: () => 0,
      lanesAway: noTime.lanesAway,
      observersAway,
    });
    expect(wrongIn(now, repaired.plan, noTime)).toEqual([]);
    expect(repaired.plan.entries.filter((entry) => entry.ongoing)).toHaveLength(now.inside.length);
  });
});

describe('at any time of the day, whatever happens', () => {
  const chance = seededChance(11);
  const minutes = Array.from({ length: 4 }, () => quietMinutes[wholeBelow(chance, quietMinutes.length)]!);
  const events = ['must leave', 'lane away', 'observers away', 'sick', 'slow doffing'] as const;

  it.each(minutes.flatMap((minute) => events.map((event) => [minute, event] as const)))(
    'minute %i, %s: the repaired plan breaks no rule',
    (minute, event) => {
      const moment = momentOf(instance, adopted, minute);
      const changes = changesFor(event, moment);
      const fewer = event === 'sick' ? withoutNext(moment) : moment;
      const repaired = repair(fewer, changes);
      const away = {
        lanesAway: [...fewer.lanesAway, ...(changes.lanesAway ?? [])],
        observersAway: [...fewer.observersAway, ...(changes.observersAway ?? [])],
      };
      expect(wrongIn(fewer.instance, repaired.plan, away)).toEqual([]);
    },
  );

  function changesFor(event: (typeof events)[number], { instance: now, lanesAway }: Moment): Partial<SearchSetting> {
    switch (event) {
      case 'must leave':
        return { mustLeave: now.inside.slice(0, 1).map(({ worker }) => ({ worker, byMinute: 0 })) };
      case 'lane away':
        return { lanesAway: [{ lane: 0, fromMinute: 0, toMinute: 120 }] };
      case 'observers away':
        return { observersAway: [2, 3].map((observer) => ({ observer, fromMinute: 0, toMinute: 120 })) };
      case 'sick':
        return {};
      case 'slow doffing':
        return { lanesAway: lanesAway.slice(0, 1).map((span) => ({ ...span, toMinute: span.toMinute + 20 })) };
      default:
        return event satisfies never;
    }
  }

  function withoutNext(moment: Moment): Moment {
    const sick = moment.previous.entries.find((entry) => !entry.ongoing)!.worker;
    const workers = moment.instance.workers.filter(({ id }) => id !== sick);
    return { ...moment, instance: { ...moment.instance, workers } };
  }
});
