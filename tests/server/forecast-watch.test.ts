import { describe, expect, it, onTestFinished } from 'vitest';
import { pino } from 'pino';
import type { ForecastSettings } from '../../machines/unit/forecast-settings.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { ForecastThread, type ForecastPlayer } from '../../server/rotation/live/forecast-thread.ts';
import { openAuthority, type Authority } from '../../server/unit/authority.ts';
import { ForecastWatch } from '../../server/watch/forecast-watch.ts';
import { LimitWatch } from '../../server/watch/limit-watch.ts';
import { boardOf, partsWith, small, tabletOf, writeWorld } from '../support/authority-fixture.ts';
import { FakeClock, settled } from '../support/fake-clock.ts';
import { CountingPlayer, SlowPlayer } from '../support/forecast-players.ts';
import { heatOpening } from '../support/heat-fixture.ts';
import { MoodyLog } from '../support/moody-log.ts';
import { given, inside, minute, onDuty, opening, reports, second, workerOf } from '../support/unit-fixture.ts';

type Story = Parameters<typeof given>;
const few: ForecastSettings = { runs: 200, source: 'invented for tests' };
const oneLane = [reports('c1', 'close-lane', { lane: 'l2', reason: 'spill' })];
/** Two in equipment who will want out at nearly the same time, and one lane. */
const clash: Story = [onDuty('o1', 'o2'), oneLane, inside('o1', 'w1'), inside('o1', 'w2')];

async function watching(story: Story, player: ForecastPlayer, { heat = false, log = new MoodyLog() } = {}) {
  const { world } = given(...story);
  await writeWorld(log, world);
  const clock = new FakeClock(world.now);
  const journal: string[] = [];
  const logger = pino({ level: 'trace' }, { write: (line: string) => void journal.push(line) });
  const unit = { id: small, opening: heat ? heatOpening : opening() };
  const authority = await openAuthority(unit, partsWith(log, { clock }));
  const published: Fact[] = [];
  authority.onFacts((facts) => published.push(...facts));
  const forecasts = new ForecastWatch(authority, clock, logger, player, few);
  onTestFinished(() => forecasts.stop());
  const limits = () => {
    const watch = new LimitWatch(authority, clock, logger, forecasts);
    onTestFinished(() => watch.stop());
  };
  return { authority, clock, forecasts, journal, published, limits };
}

const limitOf = ({ state }: Authority, worker: string) => workerOf(state, worker).entry?.limit;
const limitFacts = (facts: readonly Fact[]) =>
  facts.flatMap((fact) => (fact.kind === 'limit-set' ? [`${fact.data.worker} ${fact.data.waitMinutes}`] : []));

describe('the watch over the forecast', () => {
  it('computes nothing while nobody is in an entry', async () => {
    const player = new CountingPlayer();
    const { clock, authority, forecasts } = await watching([onDuty('o1')], player);
    const tablet = await tabletOf('o2', () => clock.now()).joins(authority);
    await tablet.sends(authority, tablet.report('start-duty'));
    await clock.advance(10 * minute);
    expect(player.asked).toHaveLength(0);
    expect(forecasts.now).toEqual({ is: 'nobody' });
  });

  it('says for which number and moment it is, and looks again every half minute', async () => {
    const player = new CountingPlayer();
    const { clock, authority, forecasts } = await watching(clash, player);
    expect(forecasts.now).toEqual({ is: 'none' });
    await clock.advance(second);
    const first = forecasts.now;
    expect(first).toMatchObject({ is: 'known', known: { number: authority.head.number } });
    await clock.advance(2 * minute);
    expect(player.asked).toHaveLength(5);
    const last = forecasts.now;
    expect(last.is === 'known' && clock.now() - last.known.at).toBeLessThanOrEqual(30 * second);
  });

  it('gathers facts that come together, and leaves out those that change nothing for it', async () => {
    const player = new CountingPlayer();
    const { clock, authority, forecasts } = await watching(clash, player);
    await clock.advance(second);
    const board = await boardOf('c1', () => clock.now()).joins(authority);
    await clock.advance(second);
    expect(player.asked).toHaveLength(1);
    await board.sends(authority, board.report('hold-lane', { lane: 'l1', worker: 'w1' }));
    await board.sends(authority, board.report('release-lane-hold', { lane: 'l1' }));
    await board.sends(authority, board.report('reopen-lane', { lane: 'l2' }));
    await clock.advance(second);
    expect(player.asked).toHaveLength(2);
    expect(forecasts.now).toMatchObject({ known: { number: authority.head.number } });
  });

  it('plays one at a time, and what happened meanwhile on the newest state', async () => {
    const player = new SlowPlayer();
    const { clock, authority, forecasts } = await watching(clash, player);
    await clock.advance(second);
    const board = await boardOf('c1', () => clock.now()).joins(authority);
    for (const [kind, data] of [
      ['hold-lane', { lane: 'l1', worker: 'w1' }],
      ['release-lane-hold', { lane: 'l1' }],
      ['reopen-lane', { lane: 'l2' }],
    ] as const) {
      await board.sends(authority, board.report(kind, data));
      await clock.advance(second);
    }
    expect(player.asked).toHaveLength(1);
    player.answer();
    await settled();
    expect(player.asked).toHaveLength(2);
    player.answer();
    await settled();
    expect(forecasts.now).toMatchObject({ known: { number: authority.head.number } });
    expect(player.asked).toHaveLength(2);
  });

  it('says that there is none after a failure, notes it, and tries again', async () => {
    const player = new SlowPlayer();
    const { clock, forecasts, journal } = await watching(clash, player);
    await clock.advance(second);
    player.answer({ ok: false, why: 'failed', message: 'it fell over' });
    await settled();
    expect(forecasts.now).toEqual({ is: 'none' });
    expect(journal.some((line) => line.includes('it fell over'))).toBe(true);
    expect(forecasts.waitOf('w1' as PersonId)).toBeUndefined();
    await clock.advance(30 * second);
    player.answer();
    await settled();
    expect(forecasts.now.is).toBe('known');
  });

  it('is quiet once it is stopped, even when an answer is still to come', async () => {
    const player = new SlowPlayer();
    const { clock, authority, forecasts } = await watching(clash, player);
    await clock.advance(second);
    let told = 0;
    forecasts.onForecast(() => (told += 1));
    forecasts.stop();
    player.answer();
    const board = await boardOf('c1', () => clock.now()).joins(authority);
    await board.sends(authority, board.report('reopen-lane', { lane: 'l2' }));
    await clock.advance(5 * minute);
    expect(player.asked).toHaveLength(1);
    expect(told).toBe(0);
  });

  it('says the same of the same moment: with one seed figures do not flicker', async () => {
    const answers = await Promise.all(
      [1, 2].map(async () => {
        const { clock, forecasts } = await watching(clash, new CountingPlayer());
        await clock.advance(second);
        return forecasts.now.is === 'known' ? forecasts.now.known.forecast : undefined;
      }),
    );
    expect(answers[0]).toBeDefined();
    expect(answers[0]).toEqual(answers[1]);
  });
});

describe('the wait in a call-out time', () => {
  it('brings the call-out forward as a fact when exits will clash, with what it is made of', async () => {
    const { clock, authority, limits } = await watching(clash, new CountingPlayer());
    const before = limitOf(authority, 'w2')!;
    expect(before).toMatchObject({ waitMinutes: 0 });
    limits();
    await clock.advance(10 * second);
    const after = limitOf(authority, 'w2')!;
    expect(after.waitMinutes).toBeGreaterThan(5);
    expect(after.callOutAt).toBe(
      after.limitAt - (after.doffingMinutes! + after.waitMinutes! + after.marginMinutes!) * minute,
    );
    expect(after.limitAt).toBe(before.limitAt);
  });

  it.each([false, true])('settles: what it moves does not move it again (with heat: %s)', async (heat) => {
    const { clock, authority, published, limits } = await watching(clash, new CountingPlayer(), { heat });
    limits();
    await clock.advance(15 * second);
    const moved = limitFacts(published);
    const [first, second_] = ['w1', 'w2'].map((worker) => limitOf(authority, worker)?.waitMinutes);
    expect(Math.max(first ?? 0, second_ ?? 0)).toBeGreaterThan(5);
    expect(moved.length).toBeLessThanOrEqual(2);
    await clock.advance(10 * minute);
    expect(limitFacts(published).length - moved.length).toBeLessThanOrEqual(1);
  });

  it('leaves no room for a wait where there are lanes and observers enough', async () => {
    const story: Story = [onDuty('o1', 'o2', 'o3'), inside('o1', 'w1')];
    const { clock, authority, published, limits } = await watching(story, new CountingPlayer());
    limits();
    await clock.advance(10 * minute);
    expect(limitOf(authority, 'w1')).toMatchObject({ waitMinutes: 0 });
    expect(limitFacts(published)).toEqual([]);
  });

  it('gives the wait back when the clash is over', async () => {
    const { clock, authority, limits } = await watching(clash, new CountingPlayer());
    limits();
    await clock.advance(10 * second);
    expect(limitOf(authority, 'w2')!.waitMinutes).toBeGreaterThan(5);
    const board = await boardOf('c1', () => clock.now()).joins(authority);
    await board.sends(authority, board.report('reopen-lane', { lane: 'l2' }));
    await board.sends(authority, board.report('assign-observer', { worker: 'w2', observer: 'o2' }));
    await clock.advance(2 * minute);
    expect(limitOf(authority, 'w2')!.waitMinutes).toBeLessThan(5);
  });

  it('is not moved by a lane that is closed for a moment', async () => {
    const story: Story = [onDuty('o1', 'o2', 'o3'), inside('o1', 'w1'), inside('o2', 'w2')];
    const { clock, authority, published, limits } = await watching(story, new CountingPlayer());
    limits();
    await clock.advance(90 * second);
    const before = limitOf(authority, 'w2')!.callOutAt;
    const board = await boardOf('c1', () => clock.now()).joins(authority);
    await board.sends(authority, board.report('close-lane', { lane: 'l2', reason: 'spill' }));
    await clock.advance(20 * second);
    expect(limitFacts(published)).toEqual([]);
    expect(limitOf(authority, 'w2')!.callOutAt).toBe(before);
    await clock.advance(2 * minute);
    expect(limitOf(authority, 'w2')!.callOutAt).toBeLessThan(before);
  });

  it('stays as it is while there is no forecast of now', async () => {
    const log = new MoodyLog();
    const first = await watching(clash, new CountingPlayer(), { log });
    first.limits();
    await first.clock.advance(10 * second);
    const wait = limitOf(first.authority, 'w2')!.waitMinutes!;
    expect(wait).toBeGreaterThan(5);
    first.forecasts.stop();
    await first.clock.advance(5 * minute);
    expect(limitOf(first.authority, 'w2')!.waitMinutes).toBe(wait);
  });
});

describe('the thread that plays', () => {
  it('plays what this thread would, run for run', async () => {
    const thread = new ForecastThread();
    onTestFinished(() => thread.close());
    const here = new CountingPlayer();
    const { clock, forecasts } = await watching(clash, here);
    await clock.advance(second);
    const [work] = here.asked;
    if (work?.kind !== 'look') throw new Error('nothing was asked');
    const there = await thread.play<'look'>(work);
    expect(there.ok && there.worked.forecast).toEqual(forecasts.now.is === 'known' && forecasts.now.known.forecast);
  });

  it('names a scenario that does not fit together, and goes on', async () => {
    const thread = new ForecastThread();
    onTestFinished(() => thread.close());
    const { forecasts } = await watching(clash, new CountingPlayer());
    const { scenario } = forecasts.scenarioNow();
    const broken = { ...scenario, lanes: [...scenario.lanes, ...scenario.lanes] };
    const refused = await thread.play<'compare'>({ kind: 'compare', before: broken, after: scenario });
    expect(refused).toMatchObject({ ok: false, why: 'failed' });
    expect(!refused.ok && refused.why === 'failed' && refused.message).toContain('is there twice');
    expect(await thread.play<'compare'>({ kind: 'compare', before: scenario, after: scenario })).toMatchObject({
      ok: true,
    });
  });

  it('that ends by itself is told to whoever waits, and replaced', async () => {
    const thread = new ForecastThread({ program: new URL('../support/falling-worker.mjs', import.meta.url) });
    onTestFinished(() => thread.close());
    const { forecasts } = await watching(clash, new CountingPlayer());
    const { scenario } = forecasts.scenarioNow();
    const work = { kind: 'compare', before: scenario, after: scenario } as const;
    for (const _ of [1, 2]) {
      const outcome = await thread.play<'compare'>(work);
      expect(!outcome.ok && outcome.why === 'failed' && outcome.message).toContain('fell on purpose');
    }
  });

  it('takes no more than it can answer soon, and nothing once it is closed', async () => {
    const thread = new ForecastThread();
    const { forecasts } = await watching(clash, new CountingPlayer());
    const { scenario } = forecasts.scenarioNow();
    const work = { kind: 'compare', before: scenario, after: scenario } as const;
    const all = Array.from({ length: 9 }, () => thread.play<'compare'>(work));
    expect(await all[8]).toEqual({ ok: false, why: 'busy' });
    await thread.close();
    expect(await all[7]).toEqual({ ok: false, why: 'closed' });
    expect(await thread.play<'compare'>(work)).toEqual({ ok: false, why: 'closed' });
  });
});
