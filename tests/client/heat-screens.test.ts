import { describe, expect, it } from 'vitest';
import { limitReason } from '../../client/board/clock-words.ts';
import { refusalOf } from '../../client/board/dry-run.ts';
import { standings } from '../../client/board/standing.ts';
import { againFor, againLong, againShort } from '../../client/heat/again.ts';
import { airOf, airWords, nothingTyped, readAir, readNumber, typedOf } from '../../client/heat/air.ts';
import { limitView } from '../../client/heat/limit-view.ts';
import { workOf, workWords } from '../../client/heat/work.ts';
import { deedsFor, reportOf } from '../../client/safety/deeds.ts';
import { isBarred } from '../../client/safety/whereabouts.ts';
import { furtherFields, recoveryAt, withFurther } from '../../client/observer/further.ts';
import { words } from '../../client/words/words.ts';
import { latelyOf } from '../../client/observer/lately.ts';
import { lookAfterOf } from '../../client/observer/look-after.ts';
import { furtherPad, vitalPad } from '../../client/observer/pad.ts';
import { numberFields } from '../../machines/heat/heat-fields.ts';
import { strainMeasured } from '../../machines/unit/heat-settings.ts';
import type { RoomId } from '../../machines/wire/ids.ts';
import { advised, everyTwenty, heatOpening, senses } from '../support/heat-fixture.ts';
import {
  atThreshold,
  doffed,
  enters,
  inside,
  minute,
  onDuty,
  openedUnit,
  passes,
  play,
  reports,
  vitals,
  type Act,
} from '../support/unit-fixture.ts';
import { id, officer } from './safety-fixture.ts';

const after = (...acts: (Act | Act[])[]) => play(openedUnit(heatOpening), acts.flat());
const w1 = id('w1');
const room = 'r1' as RoomId;
const duty = onDuty('o1');
const limitOf = (world: ReturnType<typeof after>) => world.state.workers[w1]!.machine.context.entry!.limit!;
/** Through the lane and to the post-check, with what was measured there. */
const measured = (strain: object) => [
  ...inside('o1', 'w1'),
  ...atThreshold('o1', 'w1'),
  enters('o1', 'w1', 'l1'),
  ...doffed('o1', 'w1'),
  reports('o1', 'record-post-check', { worker: 'w1', vitals, strain }),
];

describe('a limit on a screen', () => {
  it('says which limit it is, why, who says so and how long it still is', () => {
    const world = after(duty, inside('o1', 'w1'));
    const told = limitView(limitOf(world), world.now);
    expect(told.which).toBe('the unit’s rule for this equipment');
    expect(told.reason).toBe(limitOf(world).reason);
    expect(told.source).toBe(limitOf(world).source);
    expect(told.toIt).toMatch(/^\d+ min to it$/);
    expect(told.indicative).toBeUndefined();
  });

  it('calls a limit from heat indicative in words, with the caution of the fact', () => {
    const world = after(duty, inside('o1', 'w1'), advised('w1', { minutes: 30 }));
    const told = limitView(limitOf(world), world.now);
    expect(told).toMatchObject({
      which: 'predicted body temperature',
      indicative: 'Indicative: outside validated clothing',
    });
    expect(told.caution).toBe('Indicative: outside the validated clothing.');
    expect(limitReason(limitOf(world))).toMatch(
      /^Limit 30 min \(predicted body temperature\): .+ Indicative: outside validated clothing\.$/,
    );
  });

  it('says how long ago it was passed', () => {
    const world = after(duty, inside('o1', 'w1'), advised('w1', { minutes: 30 }), passes(40 * minute));
    expect(limitView(limitOf(world), limitOf(world).limitAt + 3 * minute).toIt).toBe('passed 3 min ago');
  });

  it('of before heat was computed has no kind, and says so rather than guess', () => {
    const { kind: _kind, ...old } = limitOf(after(duty, inside('o1', 'w1')));
    expect(limitView(old, 0).which).toBe('the limit on record');
  });
});

describe('the air of a room', () => {
  const climate = { airTemperatureC: 27.4, relativeHumidityPct: 61 };

  it('is said not to be measured until somebody has', () => {
    const { state, now } = after();
    expect(airWords(airOf(state, room, now))).toBe('air not measured');
  });

  it('is shown with its age, and after four hours as an old reading', () => {
    const { state, now } = after(senses('r1', climate));
    expect(airWords(airOf(state, room, now + 12 * minute))).toBe('27.4 °C, 61 %, 12 min ago');
    expect(airOf(state, room, now + 240 * minute)).toMatchObject({ stale: false, sensor: 'wall-1' });
    expect(airWords(airOf(state, room, now + 241 * minute))).toBe('27.4 °C, 61 %, old reading, 4 h ago');
  });

  it('is read as typed, with a comma too, and what may be empty is left out', () => {
    const read = readAir({ ...nothingTyped, airTemperatureC: '27,4', relativeHumidityPct: ' 61 ' });
    expect(read).toEqual({ ok: true, climate });
    expect(readAir(typedOf(climate))).toEqual({ ok: true, climate });
  });

  it('is asked again field by field, by name and with the range', () => {
    const read = readAir({ airTemperatureC: '300', relativeHumidityPct: '', airSpeedMs: 'x', globeTemperatureC: '' });
    if (read.ok) throw new Error('taken');
    expect(Object.keys(read.wrong)).toEqual(['airTemperatureC', 'relativeHumidityPct', 'airSpeedMs']);
    expect(read.wrong.airTemperatureC).toBe('Air temperature: a number from −20 to 70 °C, please.');
  });

  it.each(['', '1e3', '0x10', '12 3', 'Infinity', '--1', '.'])('is not read from "%s"', (typed) => {
    expect(readNumber(typed)).toBeUndefined();
  });
});

describe('work', () => {
  it('is the unit’s usual until somebody sets it, and is not asked for without a heat section', () => {
    const world = after(duty, inside('o1', 'w1'));
    expect(workWords(workOf(world.state, w1)!)).toBe('Moderate: the unit’s usual, nobody has set it');
    const set = play(world, [reports('c1', 'set-work', { worker: 'w1', work: 'heavy' })]);
    expect(workOf(set.state, w1)).toEqual({ rate: 'heavy', since: set.now });
    expect(workOf(openedUnit().state, w1)).toBeUndefined();
  });
});

describe('looking after somebody inside', () => {
  const checked = [...inside('o1', 'w1'), advised('w1', { check: everyTwenty })];

  it('is due when its time has come, and asks for pulse and temperature against the unit’s bounds', () => {
    const early = after(duty, checked);
    expect(lookAfterOf(early.state, w1, early.now)).toMatchObject({
      check: { isDue: false },
      over: false,
      callable: true,
    });
    const due = after(duty, checked, passes(21 * minute));
    expect(lookAfterOf(due.state, w1, due.now)).toMatchObject({
      check: { isDue: true },
      bounds: { pulsePerMin: { high: 140 }, temperatureC: { high: 38 } },
    });
  });

  it('is not announced for a time after they have been called out, and is due all the same if they stay', () => {
    const late = { ...everyTwenty, everyMinutes: 500 };
    const soon = after(duty, [...inside('o1', 'w1'), advised('w1', { check: late })]);
    expect(soon.state.workers[w1]?.check?.dueAt).toBeGreaterThan(limitOf(soon).callOutAt);
    expect(lookAfterOf(soon.state, w1, soon.now)?.check).toBeUndefined();
    expect(lookAfterOf(soon.state, w1, soon.now + 501 * minute)?.check).toMatchObject({ isDue: true });
  });

  it('within bounds is due again later; over a bound it says to come out and keeps no number', () => {
    const at = (pulsePerMin: number) =>
      after(
        duty,
        checked,
        passes(21 * minute),
        reports('o1', 'record-check', { worker: 'w1', vitals: { pulsePerMin } }),
      );
    const fine = at(101);
    expect(lookAfterOf(fine.state, w1, fine.now)).toMatchObject({ over: false, check: { isDue: false } });
    const over = at(187);
    expect(lookAfterOf(over.state, w1, over.now)).toMatchObject({ over: true });
    expect(JSON.stringify(over.state)).not.toContain('187');
  });

  it('is nothing before the clock starts or after it stops', () => {
    expect(lookAfterOf(after(duty).state, w1, 0)).toBeUndefined();
  });
});

describe('more measurements after an entry', () => {
  it('are fields of the wire, each with words, and a pad that lets nothing stand that the server would refuse', () => {
    for (const field of furtherFields) {
      const { low, high } = numberFields[field];
      const pad = furtherPad(field);
      expect(pad.ask(low)).toBeUndefined();
      expect(pad.ask(high)).toBeUndefined();
      expect(pad.ask(high * 10)).toMatchObject({ mayStand: false });
      expect(strainMeasured.safeParse({ [field]: high }).success).toBe(true);
      expect(strainMeasured.safeParse({ [field]: high * 10 }).success).toBe(false);
    }
  });

  it('ask whether a slipped decimal point was meant otherwise', () => {
    expect(furtherPad('oralTemperatureC').ask(378)).toEqual({ about: 'unlikely', mayStand: false, perhaps: 37.8 });
    expect(vitalPad({ name: 'pulsePerMin' }, {}).hint).toBe('per minute');
  });

  it('are put in and taken out again', () => {
    const one = withFurther({ pulseP1PerMin: 120 }, 'pulseP3PerMin', 99);
    expect(one).toEqual({ pulseP1PerMin: 120, pulseP3PerMin: 99 });
    expect(withFurther(one, 'pulseP1PerMin', undefined)).toEqual({ pulseP3PerMin: 99 });
  });

  it.each([
    [0, 'before-p1'],
    [29, 'before-p1'],
    [30, 'p1'],
    [59, 'p1'],
    [60, 'before-p3'],
    [150, 'p3'],
    [179, 'p3'],
    [180, 'over'],
  ] as const)('know what to count %i s after sitting down', (seconds, expected) => {
    expect(recoveryAt(5_000, 5_000 + seconds * 1000)).toBe(expected);
  });
});

describe('somebody whom a measurement keeps from going in again', () => {
  const barred = after(duty, measured({ massBeforeKg: 80, massAfterKg: 78 }));
  const shortened = after(duty, measured({ oralTemperatureC: 37.8 }));

  it('is shown so on the cold side, without a word about health', () => {
    const again = againFor(barred.state, w1, barred.now)!;
    expect(againShort(again)).toBe('not again today');
    expect(againLong(again)).toMatch(/^Not again before [A-Z][a-z]+day, \d\d:\d\d\./);
    expect(`${againLong(again)} ${again.because}`).not.toMatch(/symptom|temperature|pulse|nausea/i);
    expect(standings(barred.state).find((one) => one.id === w1)?.again).toEqual(barred.state.workers[w1]!.after);
  });

  it('or whose next entry is shortened, by how much', () => {
    const again = againFor(shortened.state, w1, shortened.now)!;
    expect(againShort(again)).toBe('next entry shorter');
    expect(againLong(again)).toBe('The next entry is shortened to 67 % of the usual limit.');
  });

  it('is said so to the observer who measured, instead of "within bounds" alone', () => {
    const lately = latelyOf(barred.state, id('o1'), w1);
    expect(lately?.is === 'resting' && lately.again?.is).toBe('barred');
    expect(words.tablet.lately.resting('Ada', '16:10', 'rest', true)).not.toContain('within bounds');
  });

  it('cannot be called, and the form says why', () => {
    const data = { worker: w1, room, procedure: 'gown' as never, despiteRest: 'asked' };
    const coordinator = { device: 'board' as never, role: 'coordinator' as const, person: id('c1') };
    expect(refusalOf(barred.state, coordinator, 'call-worker', data, barred.now)?.code).toBe('worker/not-again-today');
    expect(refusalOf(shortened.state, coordinator, 'call-worker', data, shortened.now)).toBeUndefined();
  });

  it('can be allowed by the safety officer with a reason, and only while it holds', () => {
    const offered = (world: typeof barred, now = world.now) =>
      deedsFor(world.state, officer, w1, now).open.find((one) => one.kind === 'allow-again');
    expect(offered(shortened)).toBeUndefined();
    expect(offered(barred, barred.now + 25 * 60 * minute)).toBeUndefined();
    const deed = offered(barred)!;
    expect(reportOf(deed, { reason: 'seen' })).toEqual({ kind: 'allow-again', data: { worker: w1, reason: 'seen' } });
    const allowed = play(barred, [reports('s1', 'allow-again', { worker: 'w1', reason: 'seen' })]);
    expect(offered(allowed)).toBeUndefined();
    const standing = (world: typeof barred) => standings(world.state).find((one) => one.id === w1)!;
    expect([isBarred(standing(barred), barred.now), isBarred(standing(allowed), allowed.now)]).toEqual([true, false]);
  });
});
