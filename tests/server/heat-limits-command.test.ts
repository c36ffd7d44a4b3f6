import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { Command } from 'commander';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { addLimits, inputBytesMax, limitsCommand, questionsMax } from '../../server/cli/limits.ts';
import type { CommandOutcome, CommandStreams } from '../../server/cli/json-command.ts';
import { adjustmentSets } from '../../server/heat/clothing.ts';
import { limitsFieldNames } from '../../server/heat/limits-input.ts';

const question = {
  airTemperatureC: 40,
  relativeHumidityPct: 33.85,
  airSpeedMs: 0.3,
  metabolicRateWm2: 150,
  clothingInsulationClo: 0.5,
  permeabilityIndex: 0.38,
  posture: 'standing',
  acclimatised: true,
  drinkingFreely: true,
  weightKg: 75,
  heightM: 1.8,
  durationMin: 480,
};

interface Printed {
  predictedHeatStrain: Record<string, unknown> & { outsideRange: string[]; limitWaterLoss95Min: number };
  screening: Record<string, number | string | boolean>;
  governing: { minutes: number; reason: string; source: string; caution: string };
}

function answered<Answer = Printed>(input: unknown, ...set: [(typeof adjustmentSets)['iso-7243']?]): Answer {
  const outcome = limitsCommand(JSON.stringify(input), ...set);
  expect(outcome).toMatchObject({ exitCode: 0, stderr: '' });
  return JSON.parse(outcome.stdout) as Answer;
}

/** One clear line, nothing on standard output. */
function refusedFor(input: string): string {
  const outcome = limitsCommand(input);
  expect(outcome).toMatchObject({ exitCode: 2, stdout: '' });
  expect(outcome.stderr).toMatch(/^limits: [^\n]{5,400}\n$/);
  expect(outcome.stderr.trimEnd()).not.toMatch(/[\u0000-\u001f]/);
  return outcome.stderr;
}

const refused = (change: object) => refusedFor(JSON.stringify({ ...question, ...change }));
const without = (...names: (keyof typeof question)[]) =>
  Object.fromEntries(Object.entries(question).filter(([name]) => !names.includes(name as keyof typeof question)));

describe('an answer', () => {
  test('has all that docs/limits.md promises, by its name, and nothing else', () => {
    const answer = answered(question);
    expect(Object.keys(answer)).toEqual(['predictedHeatStrain', 'screening', 'governing', 'caution']);
    expect(Object.keys(answer.predictedHeatStrain)).toEqual([
      'rectalTemperatureC',
      'waterLossG',
      'limitCoreTemperatureMin',
      'limitWaterLossMeanMin',
      'limitWaterLoss95Min',
      'outsideRange',
    ]);
    expect(Object.keys(answer.screening)).toEqual([
      'wbgtC',
      'effectiveWbgtC',
      'ralC',
      'relC',
      'firstCheckMin',
      'over',
      'clothingAdjustmentC',
      'adjustmentSet',
      'caution',
    ]);
    expect(Object.keys(answer.governing)).toEqual(['minutes', 'reason', 'source', 'caution']);
  });

  test('is the standard’s own for the first row of ISO 7933:2004 Annex F', () => {
    const { relativeHumidityPct: _, ...dry } = question;
    const { predictedHeatStrain, governing } = answered({ ...dry, vapourPressureKPa: 2.5, walkingSpeedMs: 0 });
    expect(predictedHeatStrain).toEqual({
      rectalTemperatureC: expect.closeTo(37.5, 1) as number,
      waterLossG: expect.closeTo(6168, -0.3) as number,
      limitCoreTemperatureMin: 480,
      limitWaterLossMeanMin: 439,
      limitWaterLoss95Min: 298,
      outsideRange: [],
    });
    expect(governing).toMatchObject({ minutes: 298, source: 'ISO 7933:2004, predicted heat strain' });
    expect(governing.reason).toContain('water loss');
  });

  test('to an array is an array, in the same order, also when it is empty', () => {
    const [hot, cool] = answered<Printed[]>([question, { ...question, airTemperatureC: 20 }]);
    expect(hot).toEqual(answered(question));
    expect(cool).toEqual(answered({ ...question, airTemperatureC: 20 }));
    expect(answered<Printed[]>([])).toEqual([]);
  });

  test('takes watts for the whole body or per square metre alike', () => {
    const surface = 0.202 * 75 ** 0.425 * 1.8 ** 0.725;
    const inWatts = answered({ ...without('metabolicRateWm2'), metabolicRateW: 150 * surface });
    expect(inWatts).toEqual(answered(question));
  });

  test('takes the globe for the walls, and the walls for the globe', () => {
    const byGlobe = answered({ ...question, globeTemperatureC: 45 });
    expect(byGlobe.screening.wbgtC).toBeGreaterThan(answered(question).screening.wbgtC as number);
    expect(byGlobe.predictedHeatStrain.limitWaterLoss95Min).toBeLessThan(298);
    const sameAsAir = answered({ ...question, radiantTemperatureC: 40, globeTemperatureC: 40 });
    expect(sameAsAir).toEqual(answered(question));
  });

  test('without a limit reached says that none is, and how far it looked', () => {
    const { governing } = answered({ ...question, airTemperatureC: 20, durationMin: 90 });
    expect(governing.minutes).toBe(90);
    expect(governing.reason).toBe('no heat limit is reached in the 90 min asked about');
  });

  test('names the clothing table, and an impermeable suit is outside of what was validated', () => {
    const suit = answered({ ...question, ensemble: 'limited-use vapour-barrier coverall' });
    expect(suit.screening).toMatchObject({ clothingAdjustmentC: 11, adjustmentSet: 'niosh-2016-106', over: true });
    expect(suit.screening.firstCheckMin).toBe(15);
    expect(suit.predictedHeatStrain.outsideRange).toEqual(['ensemble']);
    expect(suit.governing.caution).toContain('outside the validated clothing');
    const iso = { ...question, ensemble: 'vapour-barrier-coverall-no-hood' };
    expect(answered(iso, adjustmentSets['iso-7243']).screening).toMatchObject({
      clothingAdjustmentC: 10,
      adjustmentSet: 'iso-7243',
    });
  });

  test('no first check where nothing asks for one', () => {
    const cool = answered({ ...question, airTemperatureC: 20, ensemble: 'work clothes' });
    expect(cool.screening.over).toBe(false);
    expect(cool.screening).not.toHaveProperty('firstCheckMin');
  });

  const vapourBarrier = 'limited-use-vapour-barrier-coverall';
  test('over the limit in a room cooler than the table: its longest interval', () => {
    const suit = {
      ...question,
      airTemperatureC: 21,
      relativeHumidityPct: 60,
      acclimatised: false,
      ensemble: vapourBarrier,
    };
    expect(answered(suit).screening).toMatchObject({ over: true, firstCheckMin: 120 });
  });
});

describe('a refusal', () => {
  test.each(Object.keys(question).filter((name) => !['relativeHumidityPct', 'metabolicRateWm2'].includes(name)))(
    'names the missing field %s',
    (name) => {
      const asked = without(name as keyof typeof question);
      expect(refusedFor(JSON.stringify(asked))).toBe(`limits: the field ${name} is missing\n`);
    },
  );

  test('names an unknown field, also one that every object has', () => {
    expect(refused({ airTemperature: 40 })).toContain('"airTemperature"');
    expect(refused({ airTemperatureF: 104 })).toContain('"airTemperatureF"');
    expect(refused({ toString: 1 })).toContain('"toString"');
    const own = JSON.stringify(question).replace('{', '{"__proto__":{"airTemperatureC":20},');
    expect(refusedFor(own)).toContain('"__proto__"');
  });

  test('of both or neither of two names for one thing', () => {
    expect(refused({ vapourPressureKPa: 2.5 })).toContain('relativeHumidityPct or vapourPressureKPa, not both');
    expect(refused({ metabolicRateW: 300 })).toContain('metabolicRateWm2 or metabolicRateW, not both');
    const [noAir, noWork] = [without('relativeHumidityPct'), without('metabolicRateWm2')];
    expect(refusedFor(JSON.stringify(noAir))).toContain('give relativeHumidityPct or vapourPressureKPa');
    expect(refusedFor(JSON.stringify(noWork))).toContain('give metabolicRateWm2 or metabolicRateW');
  });

  test.each([
    ['airTemperatureC', 'NaN'],
    ['airTemperatureC', null],
    ['airTemperatureC', true],
    ['airTemperatureC', [40]],
    ['airTemperatureC', 104],
    ['airTemperatureC', 313.15],
    ['relativeHumidityPct', -1],
    ['relativeHumidityPct', 101],
    ['heightM', 180],
    ['weightKg', 75_000],
    ['permeabilityIndex', 38],
    ['acclimatised', 'yes'],
    ['drinkingFreely', 1],
    ['posture', 'lying'],
    ['durationMin', 30.5],
    ['durationMin', 0],
    ['durationMin', 1441],
    ['walkingSpeedMs', null],
    ['ensemble', 7],
    ['ensemble', 'armour'],
  ])('of %s = %j names the field', (name, value) => expect(refused({ [name]: value })).toContain(name));

  test('of numbers that JSON cannot hold', () => {
    const endless = JSON.stringify(question).replace('"airTemperatureC":40', '"airTemperatureC":1e999');
    expect(refusedFor(endless)).toContain('airTemperatureC must be a number');
    const notNumber = JSON.stringify(question).replace('"airTemperatureC":40', '"airTemperatureC":NaN');
    expect(refusedFor(notNumber)).toContain('not complete JSON');
  });

  test('of more vapour than the air can hold, and of a globe no walls could explain', () => {
    const cold = { ...without('relativeHumidityPct'), airTemperatureC: 15, vapourPressureKPa: 4 };
    expect(refusedFor(JSON.stringify(cold))).toContain('vapourPressureKPa must be at most 1.705');
    expect(refused({ globeTemperatureC: -20, airSpeedMs: 20 })).toContain('globeTemperatureC cannot be -20');
  });

  test.each(['', ' ', '{', '{"airTemperatureC":', '[{}', 'limits', 'undefined', '{"a":1}}', '\u001b[31m', "{'a':1}"])(
    'of %j, which is no JSON',
    (text) => expect(refusedFor(text)).toContain('not complete JSON'),
  );

  test.each(['null', '7', '"text"', 'true', '[[]]', '[null]', '[[[[1]]]]'])('of %s, which is no question', (text) => {
    expect(refusedFor(text)).toContain('expected an object');
  });

  test('of one question of many says which, and answers none', () => {
    expect(refusedFor(JSON.stringify([question, { ...question, airSpeedMs: -1 }, 7]))).toMatch(
      /question 2: airSpeedMs/,
    );
  });

  test('of too much: bytes, questions, depth, a long name', () => {
    expect(refusedFor(' '.repeat(inputBytesMax + 1))).toContain('larger than');
    expect(refusedFor(`[${'0,'.repeat(questionsMax)}0]`)).toContain(`at most ${questionsMax}`);
    expect(refusedFor('['.repeat(200_000) + ']'.repeat(200_000))).toContain('question 1: expected an object');
    expect(refused({ ['x'.repeat(1_000_000)]: 1 }).length).toBeLessThan(100);
    expect(refused({ ensemble: 'x'.repeat(1_000_000) }).length).toBeLessThan(400);
  });
});

test('a byte-order mark in front is no error', () => {
  expect(limitsCommand(`\uFEFF${JSON.stringify(question)}`).exitCode).toBe(0);
});

test('every field of the question is in docs/limits.md', async () => {
  const { readFile } = await import('node:fs/promises');
  const text = await readFile(new URL('../../docs/limits.md', import.meta.url), 'utf8');
  for (const name of limitsFieldNames) expect(text, name).toContain(`\`${name}\``);
});

describe('limits --input', () => {
  let folder = '';
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'limits-'));
    writeFileSync(join(folder, 'question.json'), JSON.stringify(question));
  });
  afterAll(() => rmSync(folder, { recursive: true }));

  async function run(args: string[], stdin: Readable = Readable.from([])): Promise<CommandOutcome> {
    const outcomes: CommandOutcome[] = [];
    const { createReadStream } = await import('node:fs');
    const streams: CommandStreams = { open: createReadStream, stdin, write: (outcome) => outcomes.push(outcome) };
    const program = new Command().exitOverride().configureOutput({ writeErr: () => undefined });
    addLimits(program, streams);
    await program.parseAsync(['limits', ...args], { from: 'user' });
    expect(outcomes).toHaveLength(1);
    return outcomes[0]!;
  }

  test('reads a file, and standard input for -', async () => {
    const expected = limitsCommand(JSON.stringify(question));
    expect(await run(['--input', join(folder, 'question.json')])).toEqual(expected);
    const inTwo = Readable.from([JSON.stringify(question).slice(0, 50), JSON.stringify(question).slice(50)]);
    expect(await run(['--input', '-'], inTwo)).toEqual(expected);
  });

  test('picks the other clothing table', async () => {
    const iso = JSON.stringify({ ...question, ensemble: 'polyolefin single layer coverall' });
    const outcome = await run(['--input', '-', '--adjustments', 'iso-7243'], Readable.from([iso]));
    expect(outcome.stdout).toContain('"clothingAdjustmentC": 2');
    expect((await run(['--input', '-', '--adjustments', 'toString'])).exitCode).toBe(2);
  });

  test('a file that is not there, a folder, and an input without end', async () => {
    expect(await run(['--input', join(folder, 'none.json')])).toMatchObject({ exitCode: 3, stdout: '' });
    expect((await run(['--input', folder])).stderr).toBe(`limits: cannot read ${folder} (EISDIR)\n`);
    const endless = new Readable({
      read() {
        this.push('x'.repeat(65_536));
      },
    });
    expect((await run(['--input', '-'], endless)).stderr).toContain('larger than');
  });

  test('without --input it says what is missing', async () => {
    await expect(run([])).rejects.toThrow('--input');
  });
});
