import { describe, expect, it } from 'vitest';
import { deadlines } from '../../machines/unit/deadlines.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { Fact, NumberedFact } from '../../machines/wire/fact.ts';
import type { AlertId, DeviceId } from '../../machines/wire/ids.ts';
import { sealFact } from '../../server/log/hash-chain.ts';
import { MemoryPresence } from '../../server/presence/memory-presence.ts';
import type { Authority } from '../../server/unit/authority.ts';
import { DeadlineWatch } from '../../server/watch/deadline-watch.ts';
import { openWatch } from '../../server/watch/watch.ts';
import { openSmall, quiet, small, tabletOf, wholeLog, writeWorld } from '../support/authority-fixture.ts';
import { FakeClock, settled } from '../support/fake-clock.ts';
import { MoodyLog } from '../support/moody-log.ts';
import {
  atThreshold,
  donned,
  enters,
  given,
  inside,
  minute,
  onDuty,
  openAlerts,
  second,
  trip,
  type Act,
} from '../support/unit-fixture.ts';

type Story = (Act | Act[])[];

/** A server in the middle of a story, `lateBy` after its last fact, with a clock the test moves. */
async function watching(story: Story, lateBy = 0) {
  const { log, clock, authority, published } = await server(story, lateBy);
  const watch = new DeadlineWatch(authority, clock);
  await settled();
  return { log, clock, authority, published, watch };
}

async function server(story: Story, lateBy = 0, log = new MoodyLog()) {
  const { world } = given(...story);
  if ((await wholeLog(log)).length === 0) await writeWorld(log, world);
  const clock = new FakeClock(world.now + lateBy);
  const authority = await openSmall(log, { clock });
  const published: Fact[] = [];
  authority.onFacts((facts) => published.push(...facts));
  return { log, clock, authority, published };
}

const alertsIn = (facts: readonly Fact[]) =>
  facts.flatMap((fact) => (fact.kind === 'alert-raised' ? [{ kind: fact.data.alertKind, late: lateness(fact) }] : []));
const lateness = (fact: Fact): number => fact.receivedAt - fact.at;
const kinds = (facts: readonly Fact[]) => facts.map((fact) => fact.kind);

function endedByOfficer({ head }: Authority, alert: AlertId, at: number): Fact {
  const by = { device: 'safety', role: 'safety-officer', person: 's1' };
  const stamp = { v: 1, unit: small, number: head.number + 1, at, receivedAt: at, by };
  const fact = { ...stamp, kind: 'alert-cleared', data: { alert, reason: 'They are on their way.' } };
  return sealFact(fact as NumberedFact, head.hash);
}

/** At the door, clock on: 60 minutes, of which 10 are for doffing and 5 are margin; the warning comes 10 minutes before. */
const atTheDoor = [onDuty('o1'), donned('o1', 'w1')];

describe('promise 5: deadlines while a server lives', () => {
  it('raises each within a second of its time, in order', async () => {
    const { clock, published } = await watching(atTheDoor);
    await clock.advance(61 * minute);
    const raised = alertsIn(published);
    expect(raised.map(({ kind }) => kind)).toEqual(['limit-approaching', 'call-out', 'limit-reached']);
    for (const { late } of raised) expect(late).toBeLessThanOrEqual(second);
  });

  it('raises none early', async () => {
    const { clock, authority, published } = await watching(atTheDoor);
    const [next] = deadlines(authority.state);
    await clock.advance(next!.at - clock.now() - 1);
    expect(published).toEqual([]);
    await clock.advance(1);
    expect(alertsIn(published)).toEqual([{ kind: 'limit-approaching', late: 0 }]);
  });

  it('an unanswered alert climbs on the timetable of the unit', async () => {
    const { clock, published } = await watching(atTheDoor);
    await clock.advance(64 * minute);
    const climbs = published.flatMap((fact) => (fact.kind === 'alert-escalated' ? [fact.data.level] : []));
    expect(climbs).toContain('everyone');
    expect(published.filter((fact) => fact.kind === 'alert-escalated').every((fact) => lateness(fact) === 0)).toBe(
      true,
    );
  });

  it('ends a rest when it is over', async () => {
    const { clock, authority } = await watching([onDuty('o1'), trip('o1', 'w1', 'l1', 20 * minute)]);
    expect(authority.state.workers['w1' as never]).toMatchObject({ machine: { value: { rest: 'recovering' } } });
    await clock.advance(31 * minute);
    expect(authority.state.workers['w1' as never]).toMatchObject({ machine: { value: { rest: 'ready' } } });
  });

  it('goes on once the log is back when it was away at the time', async () => {
    const { log, clock, published } = await watching(atTheDoor);
    log.mood = 'gone';
    await clock.advance(50 * minute);
    expect(published).toEqual([]);
    log.release();
    await clock.advance(2 * second);
    expect(alertsIn(published).map(({ kind }) => kind)).toContain('call-out');
  });

  it('does not spin on what a person has settled', async () => {
    const { clock, log, authority } = await watching(atTheDoor);
    await clock.advance(61 * minute);
    const limit = Object.values(authority.state.alerts).find(({ context }) => context.kind === 'limit-reached');
    // No report ends this alert today; a log of other rules may say so, and replay applies what was decided.
    await log.append(small, authority.head.number, [endedByOfficer(authority, limit!.context.id, clock.now())]);
    await settled();
    expect(deadlines(authority.state).some((one) => one.at < clock.now())).toBe(true);
    const before = { timers: clock.timersSet, facts: (await wholeLog(log)).length };
    await clock.advance(minute);
    expect((await wholeLog(log)).length).toBe(before.facts);
    // One look a second for silence, and one in ten seconds for deadlines.
    expect(clock.timersSet - before.timers).toBeLessThan(80);
  });
});

describe('promise 5: deadlines that passed while no server ran', () => {
  it('are written at once at the start, with their own time', async () => {
    const { published } = await watching(atTheDoor, 2 * 60 * minute);
    expect(alertsIn(published)).toMatchObject([{ kind: 'limit-reached' }]);
    // The limit of 60 minutes was passed an hour ago; people are given their time to answer from now.
    const [raised] = published;
    expect(lateness(raised!)).toBe(60 * minute);
    expect(published.filter((fact) => fact.kind === 'alert-escalated')).toEqual([]);
  });

  it('a restart finds what a running server would have found', async () => {
    const ran = await watching(atTheDoor);
    await ran.clock.advance(90 * minute);
    const slept = await watching(atTheDoor, 90 * minute);
    const open = (state: UnitState) => Object.values(state.alerts).map(({ context }) => context.kind);
    expect(open(slept.authority.state)).toEqual(open(ran.authority.state));
  });
});

describe('several watches on one log', () => {
  it('write each deadline once', async () => {
    const log = new MoodyLog();
    const servers = [await server(atTheDoor, 0, log), await server(atTheDoor, 0, log)];
    const watches = servers.map(({ authority, clock }) => new DeadlineWatch(authority, clock));
    for (let passed = 0; passed < 64; passed += 1) for (const { clock } of servers) await clock.advance(minute);
    const raised = alertsIn(await wholeLog(log));
    expect(raised.map(({ kind }) => kind)).toEqual(['limit-approaching', 'call-out', 'limit-reached']);
    expect(servers[0]!.authority.state).toEqual(servers[1]!.authority.state);
    for (const watch of watches) watch.stop();
  });
});

describe('silence', () => {
  const guiding = [onDuty('o1', 'o2'), donned('o1', 'w1')];

  async function listening(story: Story, lateBy = 0) {
    const made = await server(story, lateBy);
    const presence = new MemoryPresence();
    const watch = openWatch(made.authority, presence, made.clock, quiet);
    await settled();
    return { ...made, presence, watch };
  }
  const device = (who: string) => tabletOf(who).device;
  const silent = (facts: readonly Fact[]) =>
    facts.flatMap((fact) => (fact.kind === 'device-silent' ? [fact.data.device as string] : []));

  async function heardUntil(presence: MemoryPresence, clock: FakeClock, devices: DeviceId[], ms: number) {
    for (let passed = 0; passed < ms; passed += second) {
      for (const one of devices) await presence.heard(small, one, clock.now());
      await clock.advance(second);
    }
  }

  it('is a fact, with the alert that follows, soon after the allowance of a guiding observer', async () => {
    const { clock, presence, published, authority } = await listening(guiding);
    await heardUntil(presence, clock, [device('o2'), device('o1')], 20 * second);
    await heardUntil(presence, clock, [device('o2')], 9 * second);
    expect(silent(published)).toEqual([]);
    await heardUntil(presence, clock, [device('o2')], second);
    expect(silent(published)).toEqual([device('o1')]);
    expect(kinds(published)).toEqual(['device-silent', 'observer-unreachable', 'alert-raised']);
    expect(openAlerts(authority.state)).toEqual(['tablet-silent:o1 high coordinator']);
  });

  it('of an observer who guides nobody takes longer to be one', async () => {
    const { clock, published } = await listening([onDuty('o1')]);
    await clock.advance(30 * second);
    expect(silent(published)).toEqual([]);
    await clock.advance(2 * second);
    expect(silent(published)).toEqual([device('o1')]);
  });

  it('nobody is called silent for a time in which this server did not listen yet', async () => {
    const { clock, published } = await listening(guiding, 60 * minute);
    expect(silent(published)).toEqual([]);
    await clock.advance(10 * second);
    expect(silent(published)).toEqual([]);
    await clock.advance(2 * second);
    expect(silent(published)).toEqual([device('o1')]);
  });

  it('nor for a time in which this server itself was stopped', async () => {
    const { clock, presence, published } = await listening(guiding);
    await heardUntil(presence, clock, [device('o1'), device('o2')], 5 * second);
    clock.sleep(10 * minute);
    await clock.advance(8 * second);
    expect(silent(published)).toEqual([]);
  });

  it('is not asserted on the word of a presence that cannot be asked', async () => {
    const { clock, presence, published } = await listening(guiding);
    presence.lastHeard = () => Promise.reject(new Error('out of reach'));
    await clock.advance(2 * minute);
    expect(silent(published)).toEqual([]);
  });

  it('promise 4: in doffing it raises the high alert that nobody watches', async () => {
    const inDoffing = [onDuty('o1', 'o2'), inside('o1', 'w1'), atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1')];
    const { clock, authority } = await listening(inDoffing);
    await clock.advance(12 * second);
    expect(openAlerts(authority.state)).toContain('no-observer:w1 high coordinator');
  });

  it('stops when the watch is stopped', async () => {
    const { clock, watch, published } = await listening(atTheDoor);
    watch.stop();
    await clock.advance(70 * minute);
    expect(published).toEqual([]);
  });
});
