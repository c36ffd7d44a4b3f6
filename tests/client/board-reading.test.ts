import { describe, expect, it } from 'vitest';
import { readFileSync } from 'node:fs';
import {
  defaultReading,
  digitHeight,
  figureMm,
  figureRem,
  readingMetres,
  readReading,
  rootPx,
  rootPxLeast,
  type Reading,
} from '../../client/board/reading.ts';

const none = new URLSearchParams();

describe('the size of the figures', () => {
  // height = distance × tan(20′); 20 to 22 minutes of arc are preferred for characters that are read at a glance
  // (ISO 9241-303, from memory).
  it('is 5.8 mm for each metre of distance', () => {
    expect(figureMm(1)).toBeCloseTo(5.818, 3);
    expect(figureMm(3)).toBeCloseTo(17.453, 3);
    expect(figureMm(8)).toBeCloseTo(46.543, 3);
  });

  it('comes out on the glass as it was asked for, whatever the width of the picture', () => {
    for (const metres of readingMetres)
      for (const pictureCm of [53, 95, 121, 190]) {
        const viewport = 1920;
        const root = rootPx({ metres, pictureCm }, viewport);
        const millimetres = root * figureRem * digitHeight * ((pictureCm * 10) / viewport);
        // Never smaller than asked, but for the rounding of the root to a tenth of a pixel.
        expect(millimetres).toBeGreaterThan(figureMm(metres) * 0.99);
        if (root > rootPxLeast) expect(millimetres).toBeLessThan(figureMm(metres) * 1.01);
      }
  });

  it('takes a pixel as 1/96 inch while nobody has measured the picture', () => {
    expect(rootPx({ metres: 1 }, 1180)).toBe(16);
    expect(rootPx({ metres: 3 }, 1180)).toBeCloseTo(47.8, 1);
  });

  it('never lets text get smaller than on any other page', () => {
    expect(rootPx({ metres: 1, pictureCm: 190 }, 1920)).toBe(rootPxLeast);
  });

  it('is the size that the page really uses', () => {
    const page = readFileSync(new URL('../../client/board/BoardPage.svelte', import.meta.url), 'utf8');
    expect(page).toContain(`--figure: ${figureRem}rem`);
  });
});

describe('the reading distance of a screen', () => {
  it('starts at arm’s length for a desk and at three metres for a wall', () => {
    expect(readReading(null, none, false)).toEqual({ metres: 1 });
    expect(readReading(null, none, true)).toEqual(defaultReading(true));
    expect(defaultReading(true).metres).toBe(3);
  });

  it('is kept as it was chosen', () => {
    const chosen: Reading = { metres: 5, pictureCm: 121 };
    expect(readReading(JSON.stringify(chosen), none, true)).toEqual(chosen);
  });

  it('can be set by address, for a wall that nobody presses', () => {
    expect(readReading(null, new URLSearchParams('distance=8&picture=150'), true)).toEqual({
      metres: 8,
      pictureCm: 150,
    });
    expect(readReading(null, new URLSearchParams('distance=5'), true)).toEqual({ metres: 5, pictureCm: 95 });
  });

  it.each(['distance=2', 'distance=far', 'picture=-4', 'picture=wide'])('is not changed by %s', (query) => {
    expect(readReading(null, new URLSearchParams(query), true)).toEqual(defaultReading(true));
  });

  it.each(['', 'half a lin', '{"metres":4}', '[]', 'null'])('is not broken by what was stored: %s', (stored) => {
    expect(readReading(stored, none, false)).toEqual(defaultReading(false));
  });
});
