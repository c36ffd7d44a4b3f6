import fc from 'fast-check';
import { describe, expect, it, test } from 'vitest';
import { compile } from '../../server/rotation/forecast/compile.ts';
import { drawRun } from '../../server/rotation/forecast/draws.ts';
import { newPlay } from '../../server/rotation/forecast/floor.ts';
import { normalAbove, normalQuantile } from '../../server/rotation/forecast/normal.ts';
import { fractionOf, philox, wordsOf } from '../../server/rotation/forecast/philox.ts';
import { readScenario, type ScenarioInput } from '../../server/rotation/forecast/scenario.ts';
import { logNormalOf, spread } from '../../server/rotation/forecast/spread.ts';

describe('Philox4x32-10', () => {
  // Random123, the library of the paper's authors, file kat_vectors: counter, key, answer.
  const known = [
    ['00000000 00000000 00000000 00000000', '00000000 00000000', '6627e8d5 e169c58d bc57ac4c 9b00dbd8'],
    ['ffffffff ffffffff ffffffff ffffffff', 'ffffffff ffffffff', '408f276d 41c83b0e a20bc7c6 6d5451fd'],
    ['243f6a88 85a308d3 13198a2e 03707344', 'a4093822 299f31d0', 'd16cfe09 94fdcceb 5001e420 24126ea1'],
  ] as const;
  const words = (text: string) => text.split(' ').map((word) => Number.parseInt(word, 16));

  it.each(known)('gives the known answer for counter %s, key %s', (counter, key, answer) => {
    const into = new Uint32Array(4);
    philox(into, ...([...words(counter), ...words(key)] as [number, number, number, number, number, number]));
    expect([...into]).toEqual(words(answer));
  });

  it('never gives 0 or 1 as a fraction', () => {
    expect(fractionOf(0)).toBeGreaterThan(0);
    expect(fractionOf(0xffffffff)).toBeLessThan(1);
  });

  it('keys names: the published FNV-1a values (RFC 9923, from memory), and others for names read from behind', () => {
    expect(wordsOf('a')).toEqual([0xe40c292c, 0xe40c292c]);
    expect(wordsOf('foobar')[0]).toBe(0xbf9cf968);
    expect(wordsOf('E12')).not.toEqual(wordsOf('21E'));
  });
});

describe('the normal distribution', () => {
  test('quantiles are the tabled ones (any table; from memory)', () => {
    const tabled = [
      [0.5, 0],
      [0.75, 0.6744897501960817],
      [0.9, 1.2815515655446004],
      [0.975, 1.959963984540054],
      [0.999, 3.090232306167813],
      [1e-9, -5.997807015007687],
    ] as const;
    for (const [probability, z] of tabled) expect(normalQuantile(probability)).toBeCloseTo(z, 9);
  });

  it('is the inverse of the chance to be above, which is computed in another way', () => {
    fc.assert(
      fc.property(fc.double({ min: -5, max: 5, noNaN: true }), (z) => {
        expect(-normalQuantile(normalAbove(z))).toBeCloseTo(z, 7);
      }),
    );
  });
});

describe('a spread', () => {
  test('means the same by median or mean, p90 or sigma', () => {
    const { sigma } = logNormalOf({ median: 25, p90: 33 });
    expect(25 * Math.exp(sigma * normalQuantile(0.9))).toBeCloseTo(33, 8);
    const mean = 25 * Math.exp((sigma * sigma) / 2);
    for (const same of [
      { median: 25, sigma },
      { mean, sigma },
      { mean, p90: 33 },
    ]) {
      expect(logNormalOf(same).median).toBeCloseTo(25, 8);
      expect(logNormalOf(same).sigma).toBeCloseTo(sigma, 8);
    }
  });

  it.each([
    { median: 20 },
    { p90: 20 },
    { median: 20, mean: 21, p90: 30 },
    { median: 20, p90: 30, sigma: 0.2 },
    { median: 20, p90: 19 },
    { mean: 20, p90: 60 },
    { median: 0, p90: 3 },
    { median: -1, p90: 3 },
    { median: 20, p90: 30, unit: 'min' },
  ])('%o is refused', (given) => {
    expect(spread.safeParse(given).success).toBe(false);
  });
});

describe('what is left of a stage', () => {
  const runs = 20_000;
  const doffingFor = (elapsedMinutes: number): ScenarioInput => ({
    lanes: [{ id: 'l' }],
    observers: [],
    people: [{ id: 'p', stage: 'doffing', lane: 'l', elapsedMinutes, doffing: { median: 20, sigma: 0.3 } }],
  });

  function drawn(elapsedMinutes: number): number[] {
    const read = readScenario(doffingFor(elapsedMinutes));
    if (!read.ok) throw new Error(read.refusal.message);
    const { floor, draws } = compile(read.value);
    const play = newPlay(floor);
    return Array.from({ length: runs }, (_, run) => {
      drawRun(draws, play, run);
      return play.doffing[0]!;
    });
  }

  const above = (minutes: number) => normalAbove(Math.log(minutes / 20) / 0.3);

  it.each([0, 5, 15, 25, 40])('after %d min is distributed as the whole, given that so much has passed', (elapsed) => {
    const left = drawn(elapsed);
    for (const more of [2, 5, 10, 20]) {
      const exact = above(elapsed + more) / (elapsed === 0 ? 1 : above(elapsed));
      const found = left.filter((one) => one > more).length / runs;
      // Four standard errors, for one fixed seed.
      expect(Math.abs(found - exact)).toBeLessThan(4 * Math.sqrt((exact * (1 - exact)) / runs) + 1e-4);
    }
  });

  it('is a positive number even for somebody slower than anybody', () => {
    for (const left of drawn(1400).slice(0, 500)) {
      expect(left).toBeGreaterThanOrEqual(0);
      expect(left).toBeLessThan(1400);
    }
  });
});
