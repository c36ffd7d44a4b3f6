import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import type { RotationInstance } from '../../server/rotation/instance.ts';
import { EnoughSearch } from '../../server/rotation/proof/enough-search.ts';
import { findShortage, isUncoveredForSure } from '../../server/rotation/proof/shortage.ts';
import { slottedOf } from '../../server/rotation/proof/slotted.ts';
import { Solver } from '../../server/rotation/proof/solver.ts';
import { windowShortage } from '../../server/rotation/proof/window-shortage.ts';
import { shortageText } from '../../server/rotation/shortage-text.ts';

// Solvers share the machine with whatever else runs: a limit on time here would be a limit on that.
vi.setConfig({ testTimeout: 120_000 });

let solver: Solver;
beforeAll(() => {
  solver = new Solver();
});
afterAll(async () => {
  await solver.stop();
});

const tools = () => ({ solver, secondsLeft: () => 30 });

function sample(name: string): RotationInstance {
  const url = new URL(`../support/rotation-instances/${name}.json`, import.meta.url);
  return (JSON.parse(readFileSync(url, 'utf8')) as { instance: RotationInstance }).instance;
}

describe('an instance with one lane too few', () => {
  const instance = sample('INFEASIBLE-X1-lane-short');
  const slotted = slottedOf(instance);

  it('is proven short, of one lane, and no number of others would help', async () => {
    expect(windowShortage(instance, slotted)).toBeUndefined();
    expect(await isUncoveredForSure(slotted, tools(), 'nothing')).toBe(true);
    const { shortage } = await findShortage(instance, slotted, tools());
    expect(shortage.resource).toBe('lanes');
    expect(shortage.atLeast).toBe(1);
    expect(shortageText(shortage.reasons)).toContain(
      '1 doffing lane is not enough to keep every room staffed: at least 1 more is needed.',
    );
    expect(shortageText(shortage.reasons)).toContain('More observers and workers alone would not help.');
  });

  it('is covered with one lane more', async () => {
    const found = await findShortage(instance, slotted, tools());
    const search = new EnoughSearch(instance, slotted, found, 1);
    while (!search.isOver) search.step(performance.now() + 50, () => performance.now());
    expect(search.enough).toBe(1);
  });
});

describe('an instance whose duties overlap too little', () => {
  const instance = sample('INFEASIBLE-X5-shift-overlap');
  const slotted = slottedOf(instance);

  it('is told without any solver, with the minutes', () => {
    const found = windowShortage(instance, slotted);
    expect(found?.shortage.resource).toBe('duty-overlap');
    expect(found?.shortage.atLeast).toBe(5);
    expect(shortageText(found!.shortage.reasons)).toContain('overlap 60 minutes; a hand-over needs 65');
    expect(shortageText(found!.shortage.reasons)).toContain('From minute 685 to 690 nobody can be covering');
  });

  it('is not told any more when the next duty starts five minutes earlier', () => {
    const workers = instance.workers.map((one) =>
      one.onDutyFromMinute === 660 ? { ...one, onDutyFromMinute: 655 } : one,
    );
    const longer = { ...instance, workers };
    expect(windowShortage(longer, slottedOf(longer))).toBeUndefined();
  });
});

describe('instances that can be covered', () => {
  it.each(['S1-12h-1pos-6w', 'M2-12h-4pos-20w'])('%s is not said to be short', async (name) => {
    const instance = sample(name);
    expect(windowShortage(instance, slottedOf(instance))).toBeUndefined();
    expect(await isUncoveredForSure(slottedOf(instance), tools(), 'nothing')).toBe(false);
  });
});

describe('variants of the one-room sample', () => {
  const instance = sample('S1-12h-1pos-6w');

  it('without anybody inside: the room is empty until the first newcomer covers it', () => {
    const empty = { ...instance, inside: [] };
    const { shortage } = windowShortage(empty, slottedOf(empty))!;
    expect(shortage.resource).toBe('workers');
    expect(shortage.atLeast).toBe(1);
    expect(shortageText(shortage.reasons)).toContain(
      'R1 needs 1 person at minute 0 and nobody of those inside can be covering it then.',
    );
    expect(shortageText(shortage.reasons)).toContain('covers from minute 30 at the earliest');
  });

  it('with two workers: workers are short, and the number proven is not above what is enough', async () => {
    const few = { ...instance, workers: instance.workers.slice(0, 2) };
    const slotted = slottedOf(few);
    expect(await isUncoveredForSure(slotted, tools(), 'nothing')).toBe(true);
    const found = await findShortage(few, slotted, tools());
    expect(found.shortage.resource).toBe('workers');
    expect(found.shortage.atLeast).toBeGreaterThanOrEqual(1);
    // Six are enough, as the sample shows.
    expect(found.shortage.atLeast).toBeLessThanOrEqual(4);
  });

  it('with no observer: observers are short', async () => {
    const unwatched = { ...instance, observers: 0 };
    const { shortage } = await findShortage(unwatched, slottedOf(unwatched), tools());
    expect(shortage.resource).toBe('observers');
    expect(shortage.atLeast).toBeGreaterThanOrEqual(1);
    expect(shortage.atLeast).toBeLessThanOrEqual(2);
  });
});
