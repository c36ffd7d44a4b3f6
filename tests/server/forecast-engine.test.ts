import fc from 'fast-check';
import { describe, expect, it, test } from 'vitest';
import {
  forecast,
  tallyOf,
  waitForExit,
  type Forecast,
  type PersonForecast,
} from '../../server/rotation/forecast/forecast.ts';
import { readScenario, type Scenario, type ScenarioInput } from '../../server/rotation/forecast/scenario.ts';

/** Times that are always the same, so that every figure can be worked out by hand. */
const always = (median: number) => ({ median, sigma: 0 });
const fixed = {
  runs: 20,
  postCheckMinutes: 0,
  donning: always(20),
  inside: always(60),
  leaving: always(5),
  doffing: always(25),
};

function read(input: ScenarioInput): Scenario {
  const answer = readScenario(input);
  if (!answer.ok) throw new Error(answer.refusal.message);
  return answer.value;
}

const play = (input: Partial<ScenarioInput>): Forecast =>
  forecast(
    read({
      lanes: [{ id: 'l1', turnoverMinutes: 10 }],
      observers: [{ id: 'o1' }, { id: 'o2' }, { id: 'o3' }],
      people: [],
      ...input,
      settings: { ...fixed, ...input.settings },
    }),
  );

const of = (found: Forecast, id: string): PersonForecast => found.people.find((one) => one.id === id)!;
const waits = (found: Forecast) => Object.fromEntries(found.people.map((one) => [one.id, one.waitMinutes.mean]));

const calledOut = (id: string, callOutInMinutes: number, more: object = {}) => ({
  id,
  stage: 'inside' as const,
  elapsedMinutes: 30,
  callOutInMinutes,
  ...more,
});
const waiting = (id: string, elapsedMinutes: number, more: object = {}) => ({
  id,
  stage: 'waiting' as const,
  elapsedMinutes,
  ...more,
});

describe('one lane, times that are always the same', () => {
  it('the second of two who come together waits for doffing and turnover', () => {
    // a: at the threshold at 5, out at 30, lane free at 40. b: comes at 15, waits 25, out at 65.
    const found = play({ people: [calledOut('a', 0), calledOut('b', 10)] });
    expect(waits(found)).toEqual({ a: 0, b: 25 });
    expect(of(found, 'b').chanceOfWaiting).toEqual({ lane: 1, observer: 0, either: 1 });
    expect(of(found, 'a').outInMinutes).toEqual({ mean: 30, atQuantile: 30 });
    expect(of(found, 'b').outInMinutes).toEqual({ mean: 65, atQuantile: 65 });
    expect(waitForExit(found, 'b')).toBe(25);
    expect(found.quarters[1]).toEqual({ fromMinute: 15, laneClashes: 1, observerClashes: 0 });
    expect(found.quarters.reduce((sum, one) => sum + one.laneClashes, 0)).toBe(1);
  });

  it('tells when the lane and the observers are in use', () => {
    const found = play({ people: [calledOut('a', 0), calledOut('b', 10)], settings: { horizonMinutes: 90 } });
    expect(found.lanes[0]!.uses).toEqual([
      { person: 'a', chance: 1, startMinute: 5, endMinute: 30 },
      { person: 'b', chance: 1, startMinute: 40, endMinute: 65 },
    ]);
    // Given at 5, in turnover to 40, given again at once, in turnover to 75.
    expect(found.lanes[0]!.chanceBusy.map((one) => Math.round(one * 15))).toEqual([10, 15, 15, 15, 15, 0]);
    const guided = found.observers.flatMap(({ uses }) => uses.map((use) => [use.person, use.guiding, use.startMinute]));
    expect(guided.sort()).toEqual([
      ['a', 'doffing', 5],
      ['b', 'doffing', 40],
    ]);
  });

  it('whoever has waited longest is next, whoever is listed first', () => {
    const people = [waiting('short', 1), waiting('long', 9), waiting('middle', 4)];
    expect(waits(play({ people }))).toEqual({ long: 0, middle: 35, short: 70 });
  });

  it('an emergency goes before all who wait, and takes the place of the one who only holds the lane', () => {
    const lanes = [{ id: 'l1', turnoverMinutes: 10, heldFor: 'holder' }];
    const people = [calledOut('holder', 20), waiting('w', 9), waiting('e', 0, { emergency: true })];
    const found = play({ lanes, people });
    expect(of(found, 'e').waitMinutes.mean).toBe(0);
    expect(waits(found)).toEqual({ e: 0, w: 35, holder: 45 });
  });

  it('an emergency takes a lane in turnover or a closed one; others do not', () => {
    for (const lane of [{ freeInMinutes: 12 }, { closedForMinutes: 12 }]) {
      const lanes = [{ id: 'l1', turnoverMinutes: 10, ...lane }];
      expect(waits(play({ lanes, people: [waiting('w', 3)] }))).toEqual({ w: 12 });
      expect(waits(play({ lanes, people: [waiting('w', 3), waiting('e', 0, { emergency: true })] }))).toEqual({
        w: 35,
        e: 0,
      });
    }
  });

  it('a lane that is held for somebody is kept for them', () => {
    const lanes = [{ id: 'l1', turnoverMinutes: 10, heldFor: 'late' }];
    expect(waits(play({ lanes, people: [waiting('w', 3), calledOut('late', 10)] }))).toEqual({ w: 50, late: 0 });
  });

  it('a lane that never opens leaves them in equipment, and says so', () => {
    const lanes = [{ id: 'l1', turnoverMinutes: 10, closedForMinutes: null }];
    const found = of(play({ lanes, people: [waiting('w', 3, { limitInMinutes: 30 })] }), 'w');
    expect(found).toMatchObject({ chanceNotOut: 1, chanceOverLimit: 1, waitMinutes: { mean: 240 } });
    expect(found).not.toHaveProperty('outInMinutes');
  });

  it('time in a stage that has passed is not waited for again', () => {
    const people = [
      { id: 'd', stage: 'doffing' as const, lane: 'l1', guidedBy: 'o1', elapsedMinutes: 20 },
      waiting('w', 1),
    ];
    // Five minutes of doffing are left, then ten of turnover.
    expect(waits(play({ people }))).toEqual({ d: 0, w: 15 });
  });

  it('a limit is passed or not, to the minute', () => {
    const people = (limitInMinutes: number) => [calledOut('a', 0, { limitInMinutes })];
    expect(of(play({ people: people(30) }), 'a').chanceOverLimit).toBe(0);
    expect(of(play({ people: people(29.9) }), 'a').chanceOverLimit).toBe(1);
    expect(of(play({ people: [calledOut('a', 0)] }), 'a')).not.toHaveProperty('chanceOverLimit');
  });
});

describe('observers, times that are always the same', () => {
  const twoLanes = [
    { id: 'l1', turnoverMinutes: 10 },
    { id: 'l2', turnoverMinutes: 10 },
  ];

  it('the second exit waits for the only observer, with a lane already held', () => {
    const found = play({ lanes: twoLanes, observers: [{ id: 'o1' }], people: [calledOut('a', 0), calledOut('b', 10)] });
    expect(waits(found)).toEqual({ a: 0, b: 15 });
    expect(of(found, 'b').chanceOfWaiting).toEqual({ lane: 0, observer: 1, either: 1 });
    expect(found.quarters.map((one) => [one.laneClashes, one.observerClashes])[1]).toEqual([0, 1]);
  });

  it('the post-check keeps the observer longer', () => {
    const found = play({
      lanes: twoLanes,
      observers: [{ id: 'o1' }],
      people: [calledOut('a', 0), calledOut('b', 10)],
      settings: { postCheckMinutes: 8 },
    });
    expect(waits(found)).toEqual({ a: 0, b: 23 });
  });

  it('a break is taken when it is due, or after the exit that is under way', () => {
    const during = (startsInMinutes: number) => [{ id: 'o1', breaks: [{ startsInMinutes, minutes: 30 }] }];
    const people = [calledOut('a', 0), calledOut('b', 10)];
    // Due at 2: a comes at 5 and waits to 32; b is then next at 57.
    expect(waits(play({ lanes: twoLanes, observers: during(2), people }))).toEqual({ a: 27, b: 42 });
    // Due at 10, while a doffs to 30: away from 30 to 60.
    expect(waits(play({ lanes: twoLanes, observers: during(10), people }))).toEqual({ a: 0, b: 45 });
  });

  it('a break waits for an emergency that waits', () => {
    const observers = [{ id: 'o1', breaks: [{ startsInMinutes: 10, minutes: 30 }] }];
    const people = [calledOut('a', 0), calledOut('e', 10, { emergency: true })];
    expect(waits(play({ lanes: twoLanes, observers, people }))).toEqual({ a: 0, e: 15 });
  });

  it('exits come before donnings, and a donning waits without being counted as an exit', () => {
    const people = [
      { id: 'd', stage: 'expected' as const, startsInMinutes: 1 },
      calledOut('a', 0),
      { id: 'now', stage: 'donning' as const, guidedBy: 'o1', elapsedMinutes: 10 },
    ];
    const found = play({ observers: [{ id: 'o1' }], people });
    // o1 is free at 10: a (since 5) is first, to 35; then d begins.
    expect(of(found, 'a').waitMinutes.mean).toBe(5);
    expect(of(found, 'd').donningDelayMinutes).toBe(34);
    expect(of(found, 'd').outInMinutes?.mean).toBe(35 + 20 + 60 + 5 + 25);
    expect(of(found, 'a').chanceOfWaiting.observer).toBe(1);
  });

  it('an assigned observer is waited for, but not for ever', () => {
    const observers = [{ id: 'o1', availableInMinutes: 60 }, { id: 'o2' }];
    const people = [waiting('w', 0, { observer: 'o1' })];
    expect(waits(play({ observers, people }))).toEqual({ w: 10 });
    expect(waits(play({ observers, people, settings: { assignedObserverWaitMinutes: 90 } }))).toEqual({ w: 60 });
    const emergency = [waiting('w', 0, { observer: 'o1', emergency: true })];
    expect(waits(play({ observers, people: emergency }))).toEqual({ w: 0 });
  });

  it('an observer whose duty ends finishes first and takes nobody new', () => {
    const observers = [{ id: 'o1', dutyEndsInMinutes: 20 }];
    const found = play({ lanes: twoLanes, observers, people: [calledOut('a', 0), calledOut('b', 20)] });
    expect(of(found, 'a').outInMinutes?.mean).toBe(30);
    expect(of(found, 'b').chanceNotOut).toBe(1);
  });

  it('an observer who is with somebody already is not asked for again', () => {
    const people = [waiting('with', 1, { guidedBy: 'o1' }), waiting('without', 5)];
    expect(waits(play({ lanes: twoLanes, observers: [{ id: 'o1' }], people }))).toEqual({ with: 0, without: 25 });
  });
});

// ---- properties ------------------------------------------------------------------------------------------------------------

const minute = (max: number) => fc.integer({ min: 0, max });
const anyPerson = fc.oneof(
  fc.record({ stage: fc.constant('expected' as const), startsInMinutes: minute(100), callOutAfterMinutes: minute(90) }),
  fc.record({ stage: fc.constant('inside' as const), elapsedMinutes: minute(90), callOutInMinutes: minute(60) }),
  fc.record({ stage: fc.constant('leaving' as const), elapsedMinutes: minute(5) }),
  fc.record({ stage: fc.constant('waiting' as const), elapsedMinutes: minute(20) }),
);
const anyUnit = fc.record({
  lanes: fc.array(fc.record({ turnoverMinutes: minute(15) }), { minLength: 1, maxLength: 3 }),
  observers: fc.array(
    fc.record({
      breaks: fc.array(fc.record({ startsInMinutes: minute(120), minutes: fc.constant(20) }), { maxLength: 1 }),
    }),
    { minLength: 1, maxLength: 4 },
  ),
  people: fc.array(anyPerson, { minLength: 1, maxLength: 9 }),
});
type AnyUnit = typeof anyUnit extends fc.Arbitrary<infer Unit> ? Unit : never;

const named = <One extends object>(list: readonly One[], letter: string) =>
  list.map((one, at) => ({ id: `${letter}${at + 1}`, ...one }));
const unitOf = ({ lanes, observers, people }: AnyUnit, runs = 200): Scenario =>
  read({
    lanes: named(lanes, 'l'),
    observers: named(observers, 'o'),
    people: named(people, 'p'),
    settings: { runs, seed: 11 },
  });
const totalWait = (scenario: Scenario) => {
  const { runWait, runs } = tallyOf(scenario);
  return runWait.reduce((sum, one) => sum + one, 0) / runs;
};

describe('whatever the unit', () => {
  test('one lane more never makes all together wait longer, but for sampling error', () => {
    fc.assert(
      fc.property(anyUnit, (unit) => {
        const scenario = unitOf(unit);
        const more = { ...scenario, lanes: [...scenario.lanes, { id: 'new', turnoverMinutes: 5 }] };
        const [now, then] = [tallyOf(scenario), tallyOf(more)];
        const gains = Array.from(now.runWait, (wait, run) => wait - then.runWait[run]!);
        const mean = gains.reduce((sum, one) => sum + one, 0) / gains.length;
        const squares = gains.reduce((sum, one) => sum + (one - mean) ** 2, 0);
        expect(mean).toBeGreaterThanOrEqual((-3 * Math.sqrt(squares)) / gains.length - 1e-9);
      }),
      { numRuns: 60, seed: 1 },
    );
  });

  test('an emergency never waits for people who are not in a lane: as if it were alone at the threshold', () => {
    fc.assert(
      fc.property(anyUnit, (unit) => {
        const scenario = unitOf({ ...unit, observers: [{ breaks: [] }, ...unit.observers] }, 100);
        const onWay = { id: 'e', stage: 'waiting' as const, elapsedMinutes: 0, emergency: true };
        const found = forecast({ ...scenario, people: [...scenario.people, onWay] });
        expect(of(found, 'e').waitMinutes.mean).toBe(0);
      }),
      { numRuns: 60, seed: 2 },
    );
  });

  test('everybody comes out in every run, as long as there is a lane and an observer', () => {
    fc.assert(
      fc.property(anyUnit, (unit) => {
        const found = forecast(unitOf(unit, 50));
        expect(found.people.map((one) => one.chanceNotOut)).toEqual(found.people.map(() => 0));
        const used = found.lanes.flatMap(({ uses }) => uses).length;
        expect(used).toBeGreaterThanOrEqual(found.people.length);
      }),
      { numRuns: 60, seed: 3 },
    );
  });

  test('no lane and no observer has two people at once', () => {
    fc.assert(
      fc.property(anyUnit, (unit) => {
        const { lanes, observers } = forecast(unitOf(unit, 20));
        for (const one of [...lanes, ...observers])
          for (const chance of one.chanceBusy) expect(chance).toBeLessThanOrEqual(1);
        const busy = tallyOf(unitOf(unit, 20));
        for (const minutes of [...busy.laneBusy, ...busy.observerBusy])
          expect(minutes / busy.runs).toBeLessThanOrEqual(15 + 1e-9);
      }),
      { numRuns: 60, seed: 4 },
    );
  });

  test('the order in which people are listed does not matter', () => {
    fc.assert(
      fc.property(anyUnit, (unit) => {
        const scenario = unitOf(unit, 50);
        const there = forecast({ ...scenario, people: scenario.people.filter((one) => one.stage !== 'waiting') });
        const people = scenario.people.filter((one) => one.stage !== 'waiting').reverse();
        const back = forecast({ ...scenario, people });
        expect(Object.fromEntries(back.people.map((one) => [one.id, one]))).toEqual(
          Object.fromEntries(there.people.map((one) => [one.id, one])),
        );
      }),
      { numRuns: 40, seed: 5 },
    );
  });
});

describe('common random numbers', () => {
  const base = unitOf({
    lanes: [{ turnoverMinutes: 10 }],
    observers: [{ breaks: [] }, { breaks: [] }, { breaks: [{ startsInMinutes: 40, minutes: 20 }] }],
    people: [
      { stage: 'inside', elapsedMinutes: 40, callOutInMinutes: 10 },
      { stage: 'inside', elapsedMinutes: 20, callOutInMinutes: 30 },
      { stage: 'expected', startsInMinutes: 5, callOutAfterMinutes: 60 },
      { stage: 'expected', startsInMinutes: 400, callOutAfterMinutes: 60 },
    ],
  });

  it('one later person who changes leaves the figures of all others as they were', () => {
    const later = { ...base.people[3]!, callOutAfterMinutes: 25, startsInMinutes: 420 } as Scenario['people'][number];
    const changed = forecast({ ...base, people: [...base.people.slice(0, 3), later] });
    const before = forecast(base);
    expect(changed.people.slice(0, 3)).toEqual(before.people.slice(0, 3));
    expect(changed.people[3]).not.toEqual(before.people[3]);
    expect(forecast({ ...base, people: base.people.slice(0, 3) }).people).toEqual(before.people.slice(0, 3));
  });

  it('the same scenario gives the same answer, another seed another one', () => {
    expect(forecast(base)).toEqual(forecast(base));
    const other = { ...base, settings: { ...base.settings, seed: 12 } };
    expect(waits(forecast(other))).not.toEqual(waits(forecast(base)));
    const upper = { ...base, settings: { ...base.settings, seed: 11 + 2 ** 33 } };
    expect(waits(forecast(upper))).not.toEqual(waits(forecast(base)));
  });

  it('more runs make the half-width smaller, and the mean stays inside it', () => {
    const [few, many] = [200, 8_000].map((runs) => forecast({ ...base, settings: { ...base.settings, runs } }));
    const [rough, fine] = [few!.people[1]!.waitMinutes, many!.people[1]!.waitMinutes];
    expect(fine.halfWidth95).toBeLessThan(rough.halfWidth95);
    expect(Math.abs(rough.mean - fine.mean)).toBeLessThan(2 * rough.halfWidth95);
    expect(totalWait(base)).toBeGreaterThan(0);
  });
});
