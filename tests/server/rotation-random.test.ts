import { describe, expect, it } from 'vitest';
import { closedFormBound } from '../../server/rotation/proof/closed-form.ts';
import { slottedOf } from '../../server/rotation/proof/slotted.ts';
import { readInstance } from '../../server/rotation/read-instance.ts';
import { PlanSearch } from '../../server/rotation/search.ts';
import { checkPlan, costOf } from '../support/plan-check.ts';
import { randomInstance, type RandomInstanceOptions } from '../support/random-instance.ts';

const all: RandomInstanceOptions[] = [
  ...Array.from({ length: 150 }, (_, seed) => ({ seed, size: 'tiny' as const })),
  ...Array.from({ length: 300 }, (_, seed) => ({ seed, size: 'small' as const })),
  ...Array.from({ length: 50 }, (_, seed) => ({ seed, size: 'large' as const })),
];

function planned(options: RandomInstanceOptions) {
  const instance = randomInstance(options);
  const search = new PlanSearch(instance, { seed: options.seed });
  // A number of looks instead of a time: equal on every machine.
  let looks = 0;
  search.build(() => ++looks > 500);
  search.move(options.size === 'large' ? 20 : 60);
  return { instance, ...search.best };
}

describe('random instances', () => {
  it('are instances', () => {
    const refused = all.map(randomInstance).flatMap((instance) => {
      const read = readInstance(instance);
      return read.ok ? [] : [`${instance.name}: ${read.refusal.message}`];
    });
    expect(refused).toEqual([]);
  });

  it('differ: duties, people inside, earlier work, breaks, and uncovered time in some but not all', () => {
    const instances = all.map(randomInstance);
    const share = (test: (one: (typeof instances)[number]) => boolean) => instances.filter(test).length / all.length;
    expect(share(({ inside }) => inside.length > 0)).toBeGreaterThan(0.3);
    expect(share(({ workers }) => workers.some((one) => one.onDutyToMinute !== null))).toBeGreaterThan(0.3);
    expect(share(({ workers }) => workers.some((one) => one.busyUntilMinute > 0))).toBeGreaterThan(0.3);
    expect(share(({ workers }) => workers.some((one) => one.minutesInEquipmentSoFar > 0))).toBeGreaterThan(0.3);
    expect(share(({ observerBreak, horizonMinutes }) => observerBreak.everyMinutes <= horizonMinutes)).toBeGreaterThan(
      0.3,
    );
  });

  it('get plans that an independent checker finds nothing wrong with, at the cost the search says', () => {
    const wrong: string[] = [];
    for (const options of all) {
      const { instance, plan, cost } = planned(options);
      wrong.push(...checkPlan(instance, plan).map((sentence) => `${instance.name}: ${sentence}`));
      const { total } = costOf(instance, plan);
      if (Math.abs(total - cost.objective) > 1e-4)
        wrong.push(`${instance.name}: costs ${total}, not ${cost.objective}`);
      const bound = closedFormBound(slottedOf(instance));
      if (bound > total + 1e-6) wrong.push(`${instance.name}: costs ${total}, less than the bound ${bound}`);
    }
    expect(wrong).toEqual([]);
  });
});
