import { describe, expect, it } from 'vitest';
import type { Forecast } from '../../client/forecast/forecast.ts';
import { ForecastFeed, goneAfterMs } from '../../client/forecast/forecast-feed.svelte.ts';
import type { Asked } from '../../client/heat/ask.ts';
import { minute, openedAt, second } from '../support/unit-fixture.ts';

const forecastAt = (at: number, runs = 2000): Forecast => ({
  ...{ number: 7, at, horizonMinutes: 240, runs, waitQuantile: 0.9, chanceHalfWidth95: 0.022 },
  ...{ people: [], lanes: [], observers: [], clashes: [], moves: [] },
});

/** A feed whose timers ring, and whose questions are answered, when the test says so. */
function feeding() {
  const waiting: ((asked: Asked<Forecast>) => void)[] = [];
  const timers: { ms: number; ring: () => void }[] = [];
  const feed = new ForecastFeed(
    () => new Promise((resolve) => waiting.push(resolve)),
    (ms, ring) => {
      const timer = { ms, ring };
      timers.push(timer);
      return () => void timers.splice(timers.indexOf(timer), timers.includes(timer) ? 1 : 0);
    },
  );
  const stop = feed.start();
  return {
    feed,
    stop,
    asked: () => waiting.length,
    timers: () => timers.map(({ ms }) => ms),
    ring: () => timers.shift()?.ring(),
    answers: async (asked: Asked<Forecast>) => {
      waiting.shift()?.(asked);
      await new Promise(setImmediate);
    },
  };
}

const answered = (at: number): Asked<Forecast> => ({ is: 'answered', answer: forecastAt(at) });
const failed: Asked<Forecast> = { is: 'failed' };

describe('the forecast on a screen', () => {
  it('is asked for at once, and then every half minute', async () => {
    const { feed, asked, answers, timers, ring } = feeding();
    expect(feed.ahead(openedAt)).toEqual({ is: 'asking' });
    expect(asked()).toBe(1);
    await answers(answered(openedAt));
    expect(feed.ahead(openedAt + second)).toMatchObject({ is: 'known', forecast: { at: openedAt } });
    expect(timers()).toEqual([30_000]);
    ring();
    expect(asked()).toBe(1);
  });

  it('is asked for soon after the state has moved on, once for many facts', async () => {
    const { feed, answers, timers } = feeding();
    await answers(answered(openedAt));
    feed.noteNumber(8);
    feed.noteNumber(9);
    feed.noteNumber(9);
    expect(timers()).toEqual([1_500]);
  });

  it('asks one question at a time: what came meanwhile is asked afterwards', async () => {
    const { feed, asked, answers, timers } = feeding();
    feed.noteNumber(8);
    expect(asked()).toBe(1);
    expect(timers()).toEqual([]);
    await answers(answered(openedAt));
    expect(timers()).toEqual([1_500]);
  });

  it('keeps what is known when a question fails, until that is too old, and asks again sooner', async () => {
    const { feed, answers, timers, ring } = feeding();
    await answers(answered(openedAt));
    ring();
    await answers(failed);
    expect(timers()).toEqual([10_000]);
    expect(feed.ahead(openedAt + minute)).toMatchObject({ is: 'known' });
    expect(feed.ahead(openedAt + goneAfterMs)).toEqual({ is: 'none' });
    ring();
    await answers(answered(openedAt + goneAfterMs));
    expect(feed.ahead(openedAt + goneAfterMs)).toMatchObject({ is: 'known' });
  });

  it('is still coming while a server that has just been started plays its first, and asked for more often', async () => {
    const { feed, answers, timers, ring } = feeding();
    await answers(failed);
    expect(timers()).toEqual([2_000]);
    expect(feed.ahead(openedAt)).toEqual({ is: 'asking' });
    ring();
    await answers(answered(openedAt));
    expect(feed.ahead(openedAt)).toMatchObject({ is: 'known' });
  });

  it('says that there is none when none was ever had and it has been asked for in vain for a while', async () => {
    const { feed, answers, timers, ring } = feeding();
    for (let asked = 1; asked < 8; asked++) {
      await answers(failed);
      expect(feed.ahead(openedAt)).toEqual({ is: 'asking' });
      ring();
    }
    await answers(failed);
    expect(feed.ahead(openedAt)).toEqual({ is: 'none' });
    expect(timers()).toEqual([10_000]);
  });

  it('of a unit with nobody in an entry does not grow old', async () => {
    const { feed, answers } = feeding();
    await answers({ is: 'answered', answer: forecastAt(openedAt, 0) });
    expect(feed.ahead(openedAt + 60 * minute)).toMatchObject({ is: 'known', forecast: { runs: 0 } });
  });

  it('asks nothing more once the page is left', async () => {
    const { feed, stop, answers, timers } = feeding();
    stop();
    await answers(answered(openedAt));
    feed.noteNumber(12);
    expect(timers()).toEqual([]);
  });
});
