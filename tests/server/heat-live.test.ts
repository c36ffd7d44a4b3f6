import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Climate, EnsembleHeat, HeatSettings, WorkRate } from '../../machines/unit/heat-settings.ts';
import { acceptAdvice } from '../../machines/unit/advise.ts';
import { climateReadingsKept } from '../../machines/unit/state.ts';
import { relativeHumidityPct, vapourPressureKPa } from '../../server/heat/climate.ts';
import { adviceFor } from '../../server/heat/live/advice.ts';
import { exposures, type Exposure } from '../../server/heat/live/exposure.ts';
import { LiveStrain, strainPoints, type StrainMethod } from '../../server/heat/live/live-strain.ts';
import { advance, startStrain, stepMinute } from '../../server/heat/predicted-heat-strain.ts';
import { prepareConditions } from '../../server/heat/strain-conditions.ts';
import { clothed, heat, heated, senses } from '../support/heat-fixture.ts';
import {
  atThreshold,
  donned,
  enters,
  given,
  gown,
  inside,
  minute,
  onDuty,
  passes,
  reports,
  unitChanges,
  workerOf,
  type Act,
  type UnitOpening,
  type World,
} from '../support/unit-fixture.ts';

const withHeat = unitChanges(heated);
const hot: Climate = { airTemperatureC: 31, relativeHumidityPct: 60 };
const w1 = { worker: 'w1' };
const works = (work: WorkRate, agoMs = 0): Act => reports('o1', 'set-work', { ...w1, work }, { agoMs });

const worldOf = (...acts: Parameters<typeof given>): World => given(...acts).world;
const atDoor = [withHeat, onDuty('o1'), donned('o1', 'w1')];
const working = [withHeat, onDuty('o1'), inside('o1', 'w1')];

function exposureIn({ state, now }: Pick<World, 'state' | 'now'>): Exposure {
  const [one, ...others] = exposures(state, now);
  expect(others).toEqual([]);
  return one!;
}

const spansIn = (world: World) =>
  exposureIn(world).spans.map(({ fromMinute, climate, conditions }) => [
    fromMinute,
    climate.airTemperatureC,
    conditions.metabolicRateWm2,
  ]);

describe('what an entry is exposed to', () => {
  it("is the unit's default at the door and in the lane, and the newest reading of its room inside", () => {
    const world = worldOf(
      ...atDoor,
      senses('r1', hot),
      passes(3 * minute),
      reports('o1', 'enter-room', w1),
      passes(10 * minute),
      senses('r1', { ...hot, airTemperatureC: 28 }),
      passes(10 * minute),
      ...atThreshold('o1', 'w1'),
      passes(5 * minute),
      enters('o1', 'w1', 'l1'),
    );
    // Minute 3 ends as the room is entered, minute 13 as the second reading comes: what is in force at the end counts.
    expect(spansIn(world)).toEqual([
      [1, 22, 165],
      [3, 31, 165],
      [13, 28, 165],
      [23, 22, 165],
    ]);
    expect(exposureIn(world).minutesPassed).toBe(28);
  });

  it('in a room that nobody has measured is the default; the reading of another room is not theirs', () => {
    expect(spansIn(worldOf(...working, senses('r2', hot), passes(5 * minute)))).toEqual([[1, 22, 165]]);
  });

  it('follows the work rate as it was set', () => {
    const world = worldOf(...working, passes(10 * minute), works('heavy'), passes(20 * minute), works('light'));
    expect(spansIn(world)).toEqual([
      [1, 22, 165],
      [10, 22, 230],
      [30, 22, 100],
    ]);
  });

  it('takes walls, air speed and clothing from where they are said', () => {
    const globe = { ...hot, globeTemperatureC: 35, airSpeedMs: 0.4 };
    const [unsaid, said] = [hot, globe].map((climate) => exposureIn(worldOf(...working, senses('r1', climate))));
    expect(unsaid!.spans[0].conditions).toMatchObject({ radiantTemperatureC: 31, airSpeedMs: heat.airSpeedMs });
    expect(said!.spans[0].conditions.airSpeedMs).toBe(0.4);
    expect(said!.spans[0].conditions.radiantTemperatureC).toBeGreaterThan(37);
    expect(said!.spans[0].conditions).toMatchObject({ clothingInsulationClo: 0.9, permeabilityIndex: 0.2 });
  });

  it.each([
    ['colder than any walls make it', { airTemperatureC: 40, globeTemperatureC: -20, airSpeedMs: 20 }, 40],
    ['hotter than any walls make it', { airTemperatureC: 20, globeTemperatureC: 120, airSpeedMs: 20 }, 150],
  ])('a globe that is %s still gives a number', (_, climate, radiant) => {
    const world = worldOf(...working, senses('r1', { ...hot, ...climate }));
    expect(exposureIn(world).spans[0].conditions.radiantTemperatureC).toBe(radiant);
  });

  it('is nobody’s without a heat section, without clothing in the procedure, or before the clock runs', () => {
    const none = [
      worldOf(onDuty('o1'), inside('o1', 'w1')),
      worldOf(unitChanges(withoutClothing), onDuty('o1'), inside('o1', 'w1')),
      worldOf(withHeat, onDuty('o1')),
    ];
    for (const { state, now } of none) expect(exposures(state, now)).toEqual([]);
  });

  it('beyond the readings that are kept takes the oldest of them, not the default', () => {
    const readings = Array.from({ length: climateReadingsKept + 5 }, (_, at) => [
      passes(minute),
      senses('r1', { ...hot, airTemperatureC: 25 + at / 10 }),
    ]);
    const world = worldOf(...working, readings.flat());
    expect(exposureIn(world).spans[0].climate.airTemperatureC).toBe(25.5);
  });
});

const withoutClothing = (data: UnitOpening): UnitOpening => {
  const { rules, procedures } = heated(data);
  return { ...data, rules, procedures: procedures.map(({ heat: _heat, ...rest }) => rest) };
};

/** Counts minutes stepped and conditions prepared. */
function counting() {
  const count = { steps: 0, prepared: 0 };
  const method: StrainMethod = {
    advance: (state, prepared, minutes) => {
      count.steps += minutes;
      return advance(state, prepared, minutes);
    },
    prepareConditions: (person, conditions) => {
      count.prepared += 1;
      return prepareConditions(person, conditions);
    },
  };
  return { count, strain: new LiveStrain(method) };
}

/** The same minutes one by one, by the plainest way there is. */
function runAgain({ spans, person, minutesPassed }: Exposure) {
  let state = startStrain();
  for (let at = 1; at <= minutesPassed; at += 1) {
    const span = spans.findLast((one) => one.fromMinute <= at)!;
    state = stepMinute(state, prepareConditions(person, span.conditions));
  }
  return state;
}

const later = (world: World, minutes: number): World => ({ ...world, now: world.now + minutes * minute });

describe('live strain', () => {
  it('costs one step for each minute that passes; the look ahead is made once', () => {
    const { count, strain } = counting();
    const world = worldOf(...working);
    strain.follow([exposureIn(world)]);
    expect(count).toEqual({ steps: heat.horizonMinutes, prepared: 1 });
    for (let passed = 1; passed <= 60; passed += 1) {
      const [body] = strain.follow([exposureIn(later(world, passed))]);
      expect(body!.state).toEqual(runAgain(exposureIn(later(world, passed))));
    }
    expect(count).toEqual({ steps: heat.horizonMinutes + 60, prepared: 1 });
    strain.follow([exposureIn(later(world, 60))]);
    expect(count.steps).toBe(heat.horizonMinutes + 60);
  });

  it('prepares conditions anew and looks ahead again when they change, and runs nothing again', () => {
    const { count, strain } = counting();
    const story = [...working, passes(20.5 * minute)];
    strain.follow([exposureIn(worldOf(...story))]);
    const before = { ...count };
    const [body] = strain.follow([exposureIn(worldOf(...story, senses('r1', hot)))]);
    expect(count).toEqual({ steps: before.steps + heat.horizonMinutes - 20, prepared: before.prepared + 1 });
    expect(body!.state.minute).toBe(20);
  });

  it('runs an entry again from its start when its past changes, and only that one', () => {
    const { count, strain } = counting();
    const two = [withHeat, onDuty('o1', 'o2'), inside('o1', 'w1'), inside('o2', 'w2', 'gown', 'r2')];
    const world = worldOf(...two, passes(30 * minute));
    strain.follow(exposures(world.state, world.now));
    const { steps } = count;
    const late = worldOf(...two, passes(30 * minute), senses('r1', hot, 20 * minute));
    const [first, second] = strain.follow(exposures(late.state, late.now));
    expect(count.steps).toBe(steps + 30 + heat.horizonMinutes - 30);
    expect(first!.state).toEqual(runAgain(first!.exposure));
    expect(second!.state).toEqual(runAgain(second!.exposure));
    expect(first!.state.rectalTemperatureC).toBeGreaterThan(second!.state.rectalTemperatureC);
  });

  it('people under the same conditions share what is prepared', () => {
    const { count, strain } = counting();
    const world = worldOf(withHeat, onDuty('o1', 'o2'), inside('o1', 'w1'), inside('o2', 'w2'));
    expect(strain.follow(exposures(world.state, world.now))).toHaveLength(2);
    expect(count.prepared).toBe(1);
  });

  type Happening = { after: number; climate?: number; agoMinutes: number; work?: WorkRate };
  const happening: fc.Arbitrary<Happening> = fc.record(
    {
      after: fc.integer({ min: 0, max: 25 }),
      climate: fc.integer({ min: 16, max: 38 }),
      agoMinutes: fc.integer({ min: 0, max: 30 }),
      work: fc.constantFrom<WorkRate>('light', 'moderate', 'heavy'),
    },
    { requiredKeys: ['after', 'agoMinutes'] },
  );
  const actsOf = ({ after, climate, agoMinutes, work }: Happening): Act[] => [
    passes(after * minute + 17_000),
    ...(climate === undefined ? [] : [senses('r1', { ...hot, airTemperatureC: climate }, agoMinutes * minute)]),
    ...(work === undefined ? [] : [works(work)]),
  ];

  it('whatever happens, looking on the way ends with the same bits as one run from the start, ahead too', () => {
    fc.assert(
      fc.property(fc.array(happening, { maxLength: 8 }), (happenings) => {
        const strain = new LiveStrain();
        let story = given(...working);
        for (const act of happenings.flatMap(actsOf)) {
          const { outcome } = story.when(act);
          story = given(() => outcome);
          strain.follow(exposures(story.world.state, story.world.now));
        }
        const now = exposures(story.world.state, story.world.now);
        const [live] = strain.follow(now);
        const [fresh] = new LiveStrain().follow(now);
        expect(live).toEqual(fresh);
        expect(live!.state).toEqual(runAgain(live!.exposure));
      }),
      { numRuns: 60 },
    );
  });

  it('the plot goes through the same points', () => {
    const world = worldOf(...working, passes(15 * minute), senses('r1', hot), passes(15 * minute));
    const points = strainPoints(exposureIn(world), 5);
    expect(points.map((point) => point.minute)).toEqual(Array.from({ length: 49 }, (_, at) => at * 5));
    const { rectalTemperatureC, waterLossG } = runAgain(exposureIn(world));
    expect(points.find((point) => point.minute === 30)).toEqual({ minute: 30, rectalTemperatureC, waterLossG });
    const [body] = new LiveStrain().follow([exposureIn(world)]);
    const over = points.find((point) => point.rectalTemperatureC >= 38);
    expect(Math.ceil(body!.ahead.coreTemperatureMin! / 5) * 5).toBe(over?.minute);
  });
});

const adviceIn = ({ state, now }: Pick<World, 'state' | 'now'>, waitOf?: () => number) =>
  adviceFor(state, now, new LiveStrain(), waitOf);

describe('the advice', () => {
  it('names the limits that are reached within the horizon, with reason, source and caution', () => {
    const [one] = adviceIn(worldOf(...working, senses('r1', hot)), () => 7);
    expect(one).toMatchObject({ worker: 'w1', waitMinutes: 7 });
    expect(one!.candidates.map(({ kind }) => kind)).toEqual(['core-temperature', 'water-loss']);
    const [core] = one!.candidates;
    expect(core!.minutes).toBeGreaterThan(20);
    expect(core!.minutes).toBeLessThan(60);
    expect(core).toMatchObject({
      reason: 'the predicted rectal temperature reaches 38.0 °C',
      source: 'ISO 7933:2004, predicted heat strain',
      caution: 'Indicative: outside the validated clothing. Watch the person, not the number.',
      indicative: true,
    });
  });

  it('is not indicative inside the validated ranges, and has no limit where none is reached', () => {
    const ordinary = (data: UnitOpening): UnitOpening => dressed(data, { permeabilityIndex: 0.38 });
    const [cool] = adviceIn(worldOf(unitChanges(ordinary), onDuty('o1'), inside('o1', 'w1')));
    expect(cool!.candidates).toEqual([]);
    const hotter = worldOf(unitChanges(ordinary), onDuty('o1'), inside('o1', 'w1'), senses('r1', hot));
    const [warm] = adviceIn(hotter);
    expect(warm!.candidates[0]).not.toHaveProperty('indicative');
  });

  it('asks for checks over the screening limit, at the interval of the table', () => {
    expect(adviceIn(worldOf(...working))[0]!.check).toBeUndefined();
    const [warm] = adviceIn(worldOf(...working, senses('r1', hot)));
    expect(warm!.check).toMatchObject({
      everyMinutes: 30,
      reason: 'over the screening limit for people who are not acclimatised',
    });
    expect(warm!.check?.source).toContain('NIOSH 2016-106, Table 3-2');
  });

  it('averages the work of the last hour for the screening', () => {
    const tepid: Climate = { airTemperatureC: 28, relativeHumidityPct: 60 };
    const ordinary = unitChanges((data) => dressed(data, { permeabilityIndex: 0.38 }));
    const start = [
      ordinary,
      onDuty('o1'),
      inside('o1', 'w1'),
      senses('r1', tepid),
      works('light'),
      passes(60 * minute),
    ];
    const checkAfter = (heavyMinutes: number) =>
      adviceIn(worldOf(...start, works('heavy'), passes(heavyMinutes * minute)))[0]!.check !== undefined;
    expect([0, 5, 60].map(checkAfter)).toEqual([false, false, true]);
  });

  it('takes a heat limit back when the unit gives its heat section up', () => {
    const { state, now } = worldOf(...working, senses('r1', hot));
    const limited = acceptAdvice(state, adviceIn({ state, now }), now).state;
    expect(workerOf(limited, 'w1').entry?.limit?.kind).toBe('core-temperature');
    const { heat: _heat, ...rules } = limited.rules;
    const without = { ...limited, rules };
    const back = acceptAdvice(without, adviceIn({ state: without, now }), now).state;
    expect(workerOf(back, 'w1').entry?.limit).toMatchObject({ kind: 'rule', minutes: gown.limit.minutes });
    expect(adviceIn({ state: back, now })).toEqual([]);
  });
});

function dressed(data: UnitOpening, change: Partial<EnsembleHeat>, heatChange: Partial<HeatSettings> = {}) {
  const { rules, procedures } = heated(data);
  return {
    ...data,
    rules: { ...rules, heat: { ...heat, ...heatChange } },
    procedures: procedures.map((one) => ({ ...one, heat: { ...clothed, ...change } })),
  };
}

describe('more heat never lengthens the limit of an entry', () => {
  /** Indoors, as docs/limits.md has it: there no pair was ever found the other way. */
  interface Case {
    air: number;
    vapourKPa: number;
    clo: number;
    rate: number;
    minutes: number;
  }
  const indoors: fc.Arbitrary<Case> = fc
    .record({
      air: fc.double({ min: 26, max: 30, noNaN: true }),
      humidity: fc.double({ min: 55, max: 80, noNaN: true }),
      clo: fc.double({ min: 0.9, max: 1.8, noNaN: true }),
      rate: fc.double({ min: 130, max: 165, noNaN: true }),
      minutes: fc.integer({ min: 0, max: 30 }),
    })
    .map(({ humidity, ...rest }) => ({ ...rest, vapourKPa: vapourPressureKPa(rest.air, humidity) }));
  const more = fc.double({ min: 0, max: 1, noNaN: true });

  /** Rules so wide that heat is what governs, wherever it is reached within the horizon. */
  const wide = ({ rules, procedures, ...data }: UnitOpening): UnitOpening => ({
    ...data,
    rules: { ...rules, perDay: { ...rules.perDay, minutesInPpe: 600 } },
    procedures: procedures.map((one) => ({ ...one, limit: { ...one.limit, minutes: 300 } })),
  });

  /** The limit that governs after the reading, by the unit's own way: advice, decided on the state. */
  function limitIn({ air, vapourKPa, clo, rate, minutes }: Case) {
    const unit = unitChanges((data) =>
      wide(
        dressed(
          data,
          { clothingInsulationClo: clo, permeabilityIndex: 0.25 },
          { work: { usual: 'moderate', ratesWm2: { light: 90, moderate: rate, heavy: 230 } } },
        ),
      ),
    );
    const climate = { airTemperatureC: air, relativeHumidityPct: relativeHumidityPct(air, vapourKPa) };
    const world = worldOf(unit, onDuty('o1'), inside('o1', 'w1'), passes(minutes * minute), senses('r1', climate));
    const { state } = acceptAdvice(world.state, adviceIn(world), world.now);
    return workerOf(state, 'w1').entry!.limit!;
  }

  function neverLonger(harder: (one: Case, by: number) => Case) {
    let governed = 0;
    const holds = fc.property(indoors, more, (one, by) => {
      const [limit, shorter] = [limitIn(one), limitIn(harder(one, by))];
      expect(shorter.minutes).toBeLessThanOrEqual(limit.minutes);
      if (limit.kind === 'core-temperature' && shorter.minutes < limit.minutes) governed += 1;
    });
    fc.assert(holds, { numRuns: 40 });
    expect(governed).toBeGreaterThan(0);
  }

  it('a hotter reading', () => neverLonger((one, by) => ({ ...one, air: one.air + 2 * by })));
  it('harder work', () => neverLonger((one, by) => ({ ...one, rate: one.rate + 15 * by })));
  it('warmer clothing', () => neverLonger((one, by) => ({ ...one, clo: one.clo + 0.2 * by })));
});
