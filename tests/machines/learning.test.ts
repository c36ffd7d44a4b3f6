import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { hotSpotOf, published } from '../../machines/procedure/hot-spots.ts';
import { learn, nothingLearned, type Learning } from '../../machines/procedure/learning.ts';
import { lessonsOf, type Lessons } from '../../machines/procedure/lessons.ts';
import { enoughEntries, expectedTimes, medianOf, ninetiethOf, ownMinutes } from '../../machines/procedure/own-times.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import { demoProcedure } from '../support/demo-unit.ts';
import {
  atThreshold,
  dressed,
  enters,
  given,
  gown,
  inside,
  minute,
  onDuty,
  passes,
  reports,
  second,
  trip,
  verified,
  type Act,
  type Given,
} from '../support/unit-fixture.ts';

/** What the record teaches: counts and times per version and step, and nothing concluded from too little. */
const learnedFrom = (story: Given): Learning => (story.world.log as readonly Fact[]).reduce(learn, nothingLearned);

function lessons(...acts: Parameters<typeof given>): Lessons {
  const learned = learnedFrom(given(...acts)).versions['gown@1'];
  if (!learned) throw new Error('nothing was learned');
  return lessonsOf(gown, learned);
}
const stepOf = (all: Lessons, id: string) => all.steps.find((one) => one.step === id)!;

const again: Act[] = [passes(26 * 60 * minute), reports('c1', 'clear-lane', { lane: 'l1' })];
const trips = (count: number, more: (index: number) => Act[] = () => []): Act[] =>
  Array.from({ length: count }, (_, index) => [
    ...more(index),
    ...trip('o1', `w${(index % 3) + 1}`, 'l1', 5 * minute),
    ...again,
  ]).flat();

describe('what is counted', () => {
  it('each verified step, and an entry once its clock has started', () => {
    const all = lessons(onDuty('o1'), trips(2), dressed('o1', 'w3'));
    expect([all.entries, all.enough]).toEqual([2, false]);
    expect(all.steps.map((one) => [one.step, one.verified])).toEqual([
      ['rub-hands', 3],
      ['gloves-on', 3],
      ['gown-on', 3],
      ['wipe-gloves', 2],
      ['clean-gloves', 2],
      ['gown-off', 2],
      ['gloves-off', 2],
      ['mask-off', 2],
    ]);
  });

  it('deviations by kind and by who made them, and what was put right', () => {
    const deviation = (step: string, deviationKind: string, actor = 'worker') =>
      reports('o1', 'note-deviation', { worker: 'w1', step, deviationKind, actor });
    const all = lessons(
      onDuty('o1'),
      inside('o1', 'w1'),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
      deviation('clean-gloves', 'missed', 'observer'),
      (world) => {
        const open = world.state.workers['w1' as never] as unknown as {
          machine: { context: { entry: { deviations: { id: string }[] } } };
        };
        const [first] = open.machine.context.entry.deviations;
        return reports('o1', 'correct-deviation', { worker: 'w1', deviation: first?.id })(world);
      },
      verified('o1', 'w1', 'clean-gloves'),
    );
    expect(stepOf(all, 'clean-gloves')).toMatchObject({
      verified: 1,
      missed: 1,
      corrected: 1,
      deviations: 1,
      byKind: { missed: 1 },
      byActor: { observer: 1 },
      perHundred: 100,
      months: [{ month: '2026-03', deviations: 1 }],
    });
  });
});

describe('how long things take', () => {
  const slowDoffing = (minutes: number): Act[] => [
    ...inside('o1', 'w1'),
    ...atThreshold('o1', 'w1'),
    enters('o1', 'w1', 'l1'),
    passes(minutes * minute),
    ...['clean-gloves', 'gown-off', 'gloves-off', 'mask-off'].map((step) => verified('o1', 'w1', step)),
  ];

  it('a step that was measured counts as measured, one that was not from the step before', () => {
    const plain = (step: string) => reports('o1', 'verify-step', { worker: 'w1', step });
    const all = lessons(
      onDuty('o1'),
      dressed('o1', 'w1').slice(0, -3),
      passes(40 * second),
      verified('o1', 'w1', 'rub-hands'),
      passes(25 * second),
      plain('gloves-on'),
    );
    expect(stepOf(all, 'rub-hands').seconds).toEqual({ n: 1, median: 60, ninetieth: 60, measured: 'contact-time' });
    expect(stepOf(all, 'gloves-on').seconds).toEqual({
      n: 1,
      median: 25,
      ninetieth: 25,
      measured: 'since-step-before',
    });
  });

  it('doffing runs from the lane to the last step', () => {
    expect(lessons(onDuty('o1'), slowDoffing(14)).doffing).toEqual({ n: 1, median: 14, ninetieth: 14 });
  });

  it('an emergency says nothing about the next doffing', () => {
    const emergency = reports('o1', 'declare-emergency', { worker: 'w1' });
    const all = lessons(
      onDuty('o1'),
      inside('o1', 'w1'),
      emergency,
      reports('o1', 'take-worker', { worker: 'w1' }),
      enters('o1', 'w1', 'l1'),
      ['clean-gloves', 'gown-off', 'gloves-off', 'mask-off'].map((step) => verified('o1', 'w1', step)),
    );
    expect(stepOf(all, 'mask-off').verified).toBe(1);
    expect(all.doffing).toEqual({ n: 0, median: null, ninetieth: null });
  });

  it('donning runs from the complete kit to the passed inspection', () => {
    const acts = dressed('o1', 'w1');
    const all = lessons(onDuty('o1'), acts, passes(9 * minute), reports('o1', 'pass-inspection', { worker: 'w1' }));
    expect(all.donning).toEqual({ n: 1, median: 9, ninetieth: 9 });
  });
});

describe('what is concluded', () => {
  it('nothing from fewer than ten entries; then the steps with enough deviations, critical ones first', () => {
    const learned = (entries: number) => ({
      procedure: gown.id,
      version: 1,
      entries,
      donningMinutes: [],
      doffingMinutes: [],
      steps: Object.fromEntries(
        gown.steps.map((step) => {
          const count = { 'gloves-off': 6, 'gown-off': 3, 'mask-off': 2 }[step.id as string] ?? 0;
          const deviation = { kind: 'touched', actor: 'worker', month: '2026-03' };
          const deviations = Array.from({ length: count }, () => deviation);
          return [step.id, { verified: 12, overridden: 0, corrected: 0, deviations, seconds: [] }];
        }),
      ),
    });
    expect(lessonsOf(gown, learned(9)).train).toEqual([]);
    expect(lessonsOf(gown, learned(10)).train).toEqual(['gown-off', 'gloves-off']);
  });

  it('own times take the place of the file’s from the tenth entry on', () => {
    expect(lessons(onDuty('o1'), trips(2)).expected.doffing).toEqual({
      minutes: gown.expected.doffingMinutes,
      from: 'procedure',
      entries: 2,
    });
    const times = Array.from({ length: enoughEntries }, (_, index) => index + 10.5);
    const learned = { donningMinutes: times.slice(1), doffingMinutes: times };
    expect(expectedTimes(gown, learned)).toEqual({
      donning: { minutes: gown.expected.donningMinutes, from: 'procedure', entries: 9 },
      doffing: { minutes: 19, from: 'own-entries', entries: 10 },
    });
  });
});

describe('median and ninth decile', () => {
  it('by hand', () => {
    expect([medianOf([]), medianOf([3]), medianOf([4, 1]), medianOf([9, 1, 2])]).toEqual([undefined, 3, 2.5, 2]);
    expect(ninetiethOf([1, 2, 3, 4, 5, 6, 7, 8, 9, 10])).toBe(9);
    expect(ninetiethOf([7])).toBe(7);
  });

  it('nine in ten do not pass what is planned with, and it is a time that was really needed, rounded up', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 0, max: 200, noNaN: true }), { minLength: 10, maxLength: 80 }),
        (minutes) => {
          const planned = ownMinutes(minutes) ?? -1;
          expect(minutes.filter((one) => one <= planned).length).toBeGreaterThanOrEqual(minutes.length * 0.9);
          expect(minutes.map(Math.ceil)).toContain(planned);
        },
      ),
    );
  });
});

describe('published trouble spots', () => {
  it('are found in the shipped procedures where the studies looked', () => {
    const spots = (id: string) => {
      const procedure = demoProcedure(id);
      return new Set(procedure.steps.flatMap((step) => hotSpotOf(procedure, step) ?? []));
    };
    expect(spots('respirator-gown')).toEqual(new Set(['hand-hygiene', 'garment-off', 'boot-covers', 'glove-change']));
    expect(spots('powered-coverall')).toContain('powered-hood');
  });

  it('never in donning, and every one has a finding with its source', () => {
    for (const step of gown.steps.filter((one) => one.phase === 'donning'))
      expect(hotSpotOf(gown, step)).toBeUndefined();
    for (const { finding, source } of published)
      expect([finding.length > 10, /20\d\d/.test(source)]).toEqual([true, true]);
  });
});

it('learning fact by fact, or in two parts, is the same', () => {
  const log = given(onDuty('o1'), trips(3)).world.log as readonly Fact[];
  const whole = log.reduce(learn, nothingLearned);
  const half = Math.floor(log.length / 2);
  expect(log.slice(half).reduce(learn, log.slice(0, half).reduce(learn, nothingLearned))).toEqual(whole);
  expect(whole.open).toEqual({});
});
