import { describe, expect, it, vi } from 'vitest';
import { seededChance, wholeBelow } from '../../server/seeded-chance.ts';
import type { Plan, RotationInstance } from '../../server/rotation/instance.ts';
import { planRotation, type RotationResult } from '../../server/rotation/plan-rotation.ts';
import { countedShortage, hopelessExits } from '../../server/rotation/proof/counted-shortage.ts';
import { enlarged } from '../../server/rotation/proof/enlarged.ts';
import { slottedOf } from '../../server/rotation/proof/slotted.ts';
import { windowShortage } from '../../server/rotation/proof/window-shortage.ts';
import { PlanSearch } from '../../server/rotation/search.ts';
import { shortageText } from '../../server/rotation/shortage-text.ts';
import { brokenRule } from '../../server/rotation/verify.ts';
import { bestOfEveryPlan } from '../support/every-plan.ts';
import { checkPlan, uncoveredMinutesOf } from '../support/plan-check.ts';
import { randomInstance } from '../support/random-instance.ts';
import { instanceNamed } from '../support/rotation-instance.ts';

// Solvers share the machine with whatever else runs: a limit on time here would be a limit on that.
vi.setConfig({ testTimeout: 120_000 });

const m2 = instanceNamed('M2-12h-4pos-20w');

function countedIn(instance: RotationInstance) {
  const slotted = slottedOf(instance);
  return hopelessExits(instance, slotted) ?? windowShortage(instance, slotted) ?? countedShortage(instance, slotted);
}

/** A clock that moves on by so much whenever it is read: the work is a number of looks, on every machine the same. */
function planned(instance: RotationInstance): Promise<RotationResult> {
  let milliseconds = 0;
  return planRotation(instance, { seconds: 2, seed: 1, now: () => (milliseconds += 4) });
}

describe('a shortage is counted', () => {
  it.each([
    ['INFEASIBLE-X1-lane-short', 'lanes', 1],
    ['INFEASIBLE-X2-few-workers', 'workers', 5],
    ['INFEASIBLE-X3-few-observers', 'observers', 1],
    ['INFEASIBLE-X4-exits-clash', 'lanes', 1],
  ] as const)('%s: %s, at least %i more', (name, resource, atLeast) => {
    const instance = instanceNamed(name);
    const found = countedIn(instance)!;
    expect(found.shortage).toMatchObject({ resource, atLeast });
    // With as many more as are counted, nothing more is counted.
    expect(countedIn(enlarged(instance, slottedOf(instance), found.more, atLeast))).toBeUndefined();
  });

  it('the clash of exits is told with its minutes', () => {
    const reason = shortageText(countedIn(instanceNamed('INFEASIBLE-X4-exits-clash'))!.shortage.reasons);
    expect(reason).toContain('4 of those inside now are due out between minutes 30 and 60');
    expect(reason).toContain('one of the 3 doffing lanes for 35 minutes');
  });

  it.each(['S1-12h-1pos-6w', 'M2-12h-4pos-20w', 'B1-24h-4pos-40w', 'B2-24h-5pos-40w'])('%s: none', (name) => {
    expect(countedIn(instanceNamed(name))).toBeUndefined();
  });

  it('in a tiny instance only where each of all plans leaves something uncovered or lets somebody overrun', () => {
    const wrong: string[] = [];
    let [short, covered] = [0, 0];
    for (let seed = 0; seed < 150; seed += 1) {
      const instance = randomInstance({ seed, size: 'tiny' });
      const best = bestOfEveryPlan(instance, 400, uncoveredOrOverrun);
      if (best === undefined || best === 'too many') continue;
      const isShort = countedIn(instance) !== undefined;
      if (best.cost === 0) covered += 1;
      if (isShort) short += 1;
      if (isShort && best.cost === 0) wrong.push(instance.name!);
    }
    expect(wrong).toEqual([]);
    expect(short).toBeGreaterThan(10);
    expect(covered).toBeGreaterThan(3);
  });
});

function uncoveredOrOverrun(instance: RotationInstance, plan: Plan): number {
  const longest = Math.max(...instance.insideMinutesAllowed);
  const overrun = plan.entries.map(({ insideMinutes }) => Math.max(0, insideMinutes - longest));
  return uncoveredMinutesOf(instance, plan) + overrun.reduce((sum, one) => sum + one, 0);
}

describe('the answer of the planner', () => {
  it.each([
    ['INFEASIBLE-X1-lane-short', 'lanes', 1],
    ['INFEASIBLE-X2-few-workers', 'workers', 5],
    ['INFEASIBLE-X4-exits-clash', 'lanes', 1],
  ] as const)('%s: infeasible, %s, and as many as are proven are found to be enough', async (name, resource, count) => {
    const instance = instanceNamed(name);
    const result = await planned(instance);
    expect(result.status).toBe('infeasible');
    expect(result.shortOf).toMatchObject({ resource, atLeast: count, enough: count });
    expect(checkPlan(instance, result)).toEqual([]);
  });

  it('somebody whom no lane lets out in time is not planned to leave late, and the reason says who', async () => {
    const inside = m2.inside.map((one) => ({ ...one, sinceMinute: -80 }));
    const instance = { ...m2, lanes: 1, maxOverrunMinutes: 0, inside };
    const result = await planned(instance);
    expect(result.status).toBe('infeasible');
    // Exits at minutes 5, 40, 75 and 110 with one lane, all due by minute 10: with three more all leave at once.
    expect(result.shortOf).toMatchObject({ resource: 'lanes', atLeast: 3 });
    expect(result.entries.every(({ insideMinutes }) => insideMinutes <= 90)).toBe(true);
    expect(shortageText(result.shortOf!.reasons)).toContain('Not planned, because it would be too late: the exit of');
  });

  it('ends where no stay is long enough to cover anything', () => {
    const search = new PlanSearch(randomInstance({ seed: 0, size: 'tiny' }), { seed: 0 });
    search.build();
    expect(search.best.plan.entries.every((entry) => entry.ongoing)).toBe(true);
  });
});

describe('a plan is looked over before it is told', () => {
  const search = new PlanSearch(m2, { seed: 1 });
  search.build();
  const { plan } = search.best;

  it('a sound one is let through', () => {
    expect(brokenRule(m2, plan)).toBeUndefined();
  });

  it('one that was changed anywhere is judged as an independent checker judges it', () => {
    const chance = seededChance(5);
    let broken = 0;
    for (let round = 0; round < 300; round += 1) {
      const changed = changedPlan(plan, wholeBelow(chance, plan.entries.length), wholeBelow(chance, 9), chance);
      const wrong = checkPlan(m2, changed);
      if (wrong.length > 0) broken += 1;
      expect(brokenRule(m2, changed) !== undefined, wrong.join('; ')).toBe(wrong.length > 0);
    }
    expect(broken).toBeGreaterThan(150);
    expect(broken).toBeLessThan(300);
  });
});

function changedPlan(plan: Plan, index: number, kind: number, chance: () => number): Plan {
  const entries = plan.entries.map((entry) => ({ ...entry }));
  const breaks = plan.breaks.map((one) => ({ ...one }));
  const entry = entries[index]!;
  if (kind === 0) entry.donningStartMinute += [-5, 5, 3][wholeBelow(chance, 3)]!;
  if (kind === 1) entry.insideMinutes += [-10, 10, 5][wholeBelow(chance, 3)]!;
  if (kind === 2) entry.lane = wholeBelow(chance, 3);
  if (kind === 3) entry.observerDoffing = wholeBelow(chance, 7);
  if (kind === 4) entry.worker = m2.workers[wholeBelow(chance, m2.workers.length)]!.id;
  if (kind === 5) entries.splice(index, 1);
  if (kind === 6) breaks.splice(wholeBelow(chance, breaks.length), 1);
  if (kind === 7) breaks[wholeBelow(chance, breaks.length)]!.startMinute += [-5, 5, 120][wholeBelow(chance, 3)]!;
  if (kind === 8 && !entry.ongoing) entry.observerDonning = wholeBelow(chance, 7);
  return { entries, breaks };
}
