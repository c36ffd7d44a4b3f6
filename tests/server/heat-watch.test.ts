import { pino } from 'pino';
import { describe, expect, it, onTestFinished, vi } from 'vitest';
import type { Fact } from '../../machines/wire/fact.ts';
import { DrillClock } from '../../server/drill/drill-clock.ts';
import { openAuthority, type Authority } from '../../server/unit/authority.ts';
import { LimitWatch } from '../../server/watch/limit-watch.ts';
import * as advising from '../../server/heat/live/advice.ts';
import { boardOf, partsWith, quiet, small, Tablet, wholeLog, writeWorld } from '../support/authority-fixture.ts';
import { FakeClock, settled } from '../support/fake-clock.ts';
import { heatOpening, senses } from '../support/heat-fixture.ts';
import { MoodyLog } from '../support/moody-log.ts';
import {
  given,
  inside,
  minute,
  onDuty,
  openedAt,
  passes,
  second,
  unitChanges,
  workerOf,
} from '../support/unit-fixture.ts';

vi.mock(import('../../server/heat/live/advice.ts'), async (original) => {
  const real = await original();
  return { ...real, adviceFor: vi.fn(real.adviceFor) };
});

type Story = Parameters<typeof given>;
const withHeat = unitChanges(() => heatOpening);
const working: Story = [withHeat, onDuty('o1'), inside('o1', 'w1')];
const hot = { airTemperatureC: 32, relativeHumidityPct: 70 };
const reading = (climate = hot, room = 'r1') => ({ room, climate }) as Parameters<Authority['readings']>[0][number];

async function authorityOn(log: MoodyLog, clock: FakeClock): Promise<Authority> {
  return openAuthority({ id: small, opening: heatOpening }, partsWith(log, { clock }));
}

/** A server in the middle of a story, and its watch over the limits. */
async function watching(story: Story, log = new MoodyLog()) {
  const { world } = given(...story);
  if ((await wholeLog(log)).length === 0) await writeWorld(log, world);
  const clock = new FakeClock(world.now);
  const authority = await authorityOn(log, clock);
  const advised = vi.spyOn(authority, 'advise');
  const published: Fact[] = [];
  authority.onFacts((facts) => published.push(...facts));
  const watch = new LimitWatch(authority, clock, quiet);
  onTestFinished(() => watch.stop());
  await settled();
  const measures = (climate = hot, room = 'r1') =>
    authority.readings([{ ...reading(climate, room), measuredAt: clock.now() }], 'wall');
  return { log, clock, authority, advised, published, watch, measures };
}

const limitOf = ({ state }: Authority) => workerOf(state, 'w1').entry?.limit;
const kinds = (facts: readonly Fact[]) => facts.map((fact) => fact.kind);

describe('the watch over the limits', () => {
  it('shortens the limit within a second of a hot reading, and lengthens it when the air cools', async () => {
    const { clock, authority, measures } = await watching(working);
    expect(limitOf(authority)).toMatchObject({ kind: 'rule', minutes: 60 });
    await measures();
    await clock.advance(second);
    expect(limitOf(authority)?.kind).toBe('core-temperature');
    expect(limitOf(authority)?.minutes).toBeLessThan(45);
    await clock.advance(5 * minute);
    await measures({ airTemperatureC: 20, relativeHumidityPct: 40 });
    await clock.advance(second);
    expect(limitOf(authority)).toMatchObject({ kind: 'rule', minutes: 60 });
  });

  it('raises what the new limit leads to at once', async () => {
    const { clock, authority, measures, published } = await watching([...working, passes(40 * minute)]);
    await authority.tick();
    await authority.readings([{ ...reading(), measuredAt: openedAt }], 'wall');
    await clock.advance(second);
    expect(kinds(published)).toContain('check-set');
    expect(limitOf(authority)!.limitAt).toBeLessThan(clock.now());
    const raised = published.flatMap((fact) => (fact.kind === 'alert-raised' ? [fact.data.alertKind] : []));
    expect(raised).toContain('limit-reached');
    await measures();
  });

  it('says nothing twice: an hour under the same conditions is one word, and no fact', async () => {
    const { clock, advised, published } = await watching(working);
    expect(advised).toHaveBeenCalledTimes(1);
    await clock.advance(50 * minute);
    expect(advised).toHaveBeenCalledTimes(1);
    expect(published).toEqual([]);
  });

  it('leaves a unit alone in which nobody is in equipment, or that has no heat section', async () => {
    for (const story of [
      [withHeat, onDuty('o1')],
      [onDuty('o1'), inside('o1', 'w1')],
    ] satisfies Story[]) {
      const { clock, advised, log } = await watching(story);
      const { appends } = log;
      await clock.advance(30 * minute);
      expect(advised).not.toHaveBeenCalled();
      expect(log.appends).toBe(appends);
    }
  });

  it('says it again when somebody else has set the limit', async () => {
    const { clock, authority, advised, measures } = await watching([...working, passes(20 * minute)]);
    await measures();
    await clock.advance(second);
    const count = advised.mock.calls.length;
    const limit = limitOf(authority);
    const tablet = await new Tablet('tablet-o1', 'o1', 'observer', () => clock.now(), 100).joins(authority);
    const check = { worker: 'w1', vitals: { temperatureC: 39 } };
    expect(await tablet.sends(authority, tablet.report('record-check', check))).toMatchObject({ accepted: true });
    await clock.advance(second);
    expect(advised).toHaveBeenCalledTimes(count + 1);
    expect(limitOf(authority)!.limitAt).toBeLessThanOrEqual(limit!.limitAt);
  });

  it('follows the work rate that a coordinator sets', async () => {
    const { clock, authority } = await watching([...working, senses('r1', { ...hot, airTemperatureC: 30 })]);
    const board = await boardOf('c1', () => clock.now()).joins(authority);
    const moderate = limitOf(authority)!.minutes;
    await board.sends(authority, board.report('set-work', { worker: 'w1', work: 'heavy' }));
    await clock.advance(second);
    expect(limitOf(authority)!.minutes).toBeLessThan(moderate);
  });

  it('of two servers write each limit once', async () => {
    const log = new MoodyLog();
    const one = await watching([...working, passes(10 * minute)], log);
    const other = await watching([...working, passes(10 * minute)], log);
    await one.measures();
    await settled();
    for (const { clock } of [one, other]) await clock.advance(3 * minute);
    const written = kinds(await wholeLog(log));
    expect(written.filter((kind) => kind === 'limit-set')).toHaveLength(2);
    expect(written.filter((kind) => kind === 'check-set')).toHaveLength(1);
    expect(limitOf(one.authority)).toEqual(limitOf(other.authority));
  });

  it('after a restart finds the same limit and writes nothing', async () => {
    const log = new MoodyLog();
    const first = await watching([...working, passes(10 * minute)], log);
    await first.measures();
    await first.clock.advance(2 * minute);
    first.watch.stop();
    const before = await wholeLog(log);
    const clock = new FakeClock(first.clock.now());
    const authority = await authorityOn(log, clock);
    const watch = new LimitWatch(authority, clock, quiet);
    onTestFinished(() => watch.stop());
    await clock.advance(5 * minute);
    expect(kinds((await wholeLog(log)).slice(before.length))).toEqual([]);
    expect(limitOf(authority)).toEqual(limitOf(first.authority));
  });

  it('tries again when the log was away', async () => {
    const { clock, authority, log, measures } = await watching(working);
    await measures();
    log.mood = 'gone';
    await clock.advance(5 * second);
    expect(limitOf(authority)?.kind).toBe('rule');
    log.mood = undefined;
    await clock.advance(2 * minute);
    expect(limitOf(authority)?.kind).toBe('core-temperature');
  });

  it('notes a mistake in the journal and goes on', async () => {
    const lines: string[] = [];
    const journal = pino({ level: 'error' }, { write: (line: string) => lines.push(line) });
    const { clock, authority } = await watching(working);
    vi.mocked(advising.adviceFor).mockImplementationOnce(() => {
      throw new Error('a slip');
    });
    const watch = new LimitWatch(authority, clock, journal);
    onTestFinished(() => watch.stop());
    expect(lines.join()).toContain('the heat limits could not be computed');
    expect(lines.join()).toContain('a slip');
    const calls = vi.mocked(advising.adviceFor).mock.calls.length;
    await clock.advance(minute);
    expect(vi.mocked(advising.adviceFor).mock.calls.length).toBeGreaterThan(calls);
  });

  it('looks once a minute at the most on the jumping clock of a drill, whatever happens', async () => {
    const { world } = given(...working);
    const log = new MoodyLog();
    await writeWorld(log, world);
    const real = new FakeClock(world.now + 600 * minute);
    const clock = new DrillClock(real, world.now);
    const authority = await openAuthority({ id: small, opening: heatOpening }, { ...partsWith(log), clock });
    const looks = vi.mocked(advising.adviceFor);
    looks.mockClear();
    const watch = new LimitWatch(authority, clock, quiet);
    onTestFinished(() => watch.stop());
    for (let at = 1; at <= 60; at += 1) {
      clock.advanceTo(world.now + at * 10 * second);
      await authority.readings(
        [{ ...reading({ ...hot, airTemperatureC: 20 + at / 10 }), measuredAt: clock.now() }],
        'w',
      );
    }
    await settled();
    expect(looks.mock.calls.length).toBeGreaterThan(8);
    expect(looks.mock.calls.length).toBeLessThanOrEqual(11);
  });
});
