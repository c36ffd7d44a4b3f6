import { pino } from 'pino';
import { describe, expect, it, onTestFinished } from 'vitest';
import { rotation as rotationSchema, type Rotation } from '../../machines/unit/rotation.ts';
import { changesBetween, withNamesOf } from '../../server/rotation/live/changes.ts';
import { departuresOf } from '../../server/rotation/live/departures.ts';
import { SearchThread } from '../../server/rotation/live/search-thread.ts';
import { openAuthority } from '../../server/unit/authority.ts';
import { RotationWatch, type RepairOffer } from '../../server/watch/rotation-watch.ts';
import { boardOf, partsWith, small, writeWorld } from '../support/authority-fixture.ts';
import { FakeClock } from '../support/fake-clock.ts';
import { MoodyLog } from '../support/moody-log.ts';
import { plannedFor, rotationRules } from '../support/rotation-fixture.ts';
import {
  atThreshold,
  given,
  inside,
  minute,
  onDuty,
  openedAt,
  opening,
  passes,
  reports,
  second,
  unitChanges,
} from '../support/unit-fixture.ts';

type Story = Parameters<typeof given>;
const opened = opening((unit) => ({ ...unit, rules: { ...unit.rules, rotation: rotationRules } }));
const o2 = { observerDonning: 'o2', observerDoffing: 'o2' } as Partial<Rotation['trips'][number]>;
const rotation: Rotation = {
  startAt: openedAt,
  endAt: openedAt + 240 * minute,
  trips: [
    plannedFor('w1', 0),
    plannedFor('w2', 35, o2),
    plannedFor('w3', 70, { lane: 'l2' as never }),
    plannedFor('w1', 105, o2),
    plannedFor('w2', 140),
    plannedFor('w3', 175, o2),
  ],
  breaks: [],
  staffInside: { r1: 1 } as Rotation['staffInside'],
};
const set = unitChanges(() => opened);
const adopts = reports('c1', 'adopt-rotation', { rotation });

const watching = (...story: Story) => watchingOf(opened, ...story);

async function watchingOf(unit: typeof opened, ...story: Story) {
  const { world } = given(...story);
  const log = new MoodyLog();
  await writeWorld(log, world);
  const clock = new FakeClock(world.now);
  const logger = pino({ level: 'silent' });
  const authority = await openAuthority({ id: small, opening: unit }, partsWith(log, { clock }));
  const watch = new RotationWatch(authority, clock, logger, new SearchThread());
  onTestFinished(() => watch.close());
  const board = await boardOf('c1', () => clock.now()).joins(authority);
  return { authority, clock, watch, board };
}

async function offered({ clock, watch }: Awaited<ReturnType<typeof watching>>, isLast = false): Promise<RepairOffer> {
  await clock.advance(second);
  await expect
    .poll(() => watch.now.is === 'offered' && (!isLast || watch.now.offer.isLast), { timeout: 15_000 })
    .toBe(true);
  if (watch.now.is !== 'offered') throw new Error('no offer');
  return watch.now.offer;
}

describe('a rotation while the unit lives', () => {
  it('offers nothing while reality keeps to it', async () => {
    const live = await watching(set, onDuty('o1', 'o2'), adopts, inside('o1', 'w1'));
    await live.clock.advance(3 * minute);
    expect(live.watch.now).toEqual({ is: 'not-needed' });
  });

  it('a worker is stood down: a repaired one comes without them, changes nothing by itself, and is adopted when somebody takes it', async () => {
    const live = await watching(set, onDuty('o1', 'o2'), adopts, inside('o1', 'w1'));
    await live.board.sends(live.authority, live.board.report('stand-down', { worker: 'w2', reason: 'sent home' }));
    const before = live.authority.head.number;
    const offer = await offered(live);
    expect(offer.departures).toEqual([{ kind: 'not-available', worker: 'w2' }]);
    expect(offer.forNumber).toBe(before);
    expect(offer.rotation.trips.map(({ worker }) => worker)).not.toContain('w2');
    expect(offer.changes.filter(({ before: was }) => was?.worker === 'w2').map(({ what }) => what)).toEqual([
      'left-out',
      'left-out',
    ]);
    expect(rotationSchema.parse(offer.rotation)).toEqual(offer.rotation);
    expect(live.authority.head.number).toBe(before);
    const { trips } = offer.rotation;
    const sent = await live.board.sends(
      live.authority,
      live.board.report('adopt-rotation', { rotation: offer.rotation }),
    );
    expect(sent).toMatchObject({ accepted: true });
    await live.clock.advance(second);
    expect(live.watch.now).toEqual({ is: 'not-needed' });
    // Whoever is on a trip stays on it: it keeps its name and what became of it.
    const running = trips.find(({ worker, id }) => worker === 'w1' && id === 'w1-0');
    expect(Object.keys(live.authority.state.rotation?.real ?? {})).toEqual([running?.id]);
  });

  it('a lane closes: nobody is planned into it any more; and the last word comes within seconds', async () => {
    const live = await watching(set, onDuty('o1', 'o2'), adopts, inside('o1', 'w1'));
    await live.board.sends(live.authority, live.board.report('close-lane', { lane: 'l1', reason: 'spill' }));
    const offer = await offered(live, true);
    expect(offer.departures).toEqual([{ kind: 'lane-closed', lane: 'l1' }]);
    expect(new Set(offer.rotation.trips.map(({ lane }) => lane))).toEqual(new Set(['l2']));
  });

  it('being late is no fact: time alone brings an offer, and a plan that is over wants none', async () => {
    const live = await watching(set, onDuty('o1', 'o2'), adopts);
    await live.clock.advance(6 * minute);
    const offer = await offered(live);
    expect(offer.departures).toEqual([{ kind: 'late', trip: 'w1-0', worker: 'w1' }]);
    expect(offer.changes.map(({ trip, what }) => [trip, what])).toContainEqual(['w1-0', 'moved']);
    await live.clock.advance(240 * minute);
    expect(live.watch.now).toEqual({ is: 'not-needed' });
  });

  it('is told as none when the unit has no rotation settings any more', async () => {
    const live = await watchingOf(opening(), set, onDuty('o1'), adopts);
    await live.clock.advance(6 * minute);
    expect(live.watch.now.is).toBe('none');
  });
});

describe('where reality leaves the plan', () => {
  const at = (...story: Story) => {
    const { state, now } = given(...story).world;
    return departuresOf(state, now).map(({ kind }) => kind);
  };
  const running = [set, onDuty('o1', 'o2'), adopts, inside('o1', 'w1')] as const;

  it('out early, out late, over time', () => {
    expect(at(...running, passes(10 * minute), atThreshold('o1', 'w1'))).toEqual(['out-early']);
    expect(at(...running, passes(42 * minute), atThreshold('o1', 'w1'))).toEqual(['late']);
    expect(at(...running, passes(57 * minute))).toContain('over-time');
  });

  it('an observer goes off duty after it was adopted', () => {
    const before = at(set, onDuty('o1', 'o2'), adopts);
    expect(before).toEqual([]);
    expect(at(set, onDuty('o1', 'o2'), adopts, passes(minute), reports('o2', 'end-duty', {}))).toEqual([
      'observer-off',
    ]);
  });
});

describe('changes between two rotations', () => {
  const before = rotation.trips;
  it('keep the name of a trip that only moved, and say the weightiest difference', () => {
    const moved = { ...before[1]!, id: 'new-name', donningAt: before[1]!.donningAt + 10 * minute };
    const named = withNamesOf(before, {
      ...rotation,
      trips: [before[0]!, moved, { ...before[2]!, insideMinutes: 30 }],
    });
    expect(changesBetween(before.slice(0, 3), named.trips).map(({ trip, what }) => [trip, what])).toEqual([
      ['w2-35', 'moved'],
      ['w3-70', 'stay'],
    ]);
  });

  it('are none between a rotation and itself', () => {
    expect(changesBetween(before, withNamesOf(before, rotation).trips)).toEqual([]);
  });

  it('name what is new and what is left out, in the order of time', () => {
    const added = plannedFor('both', 10);
    const changes = changesBetween(before.slice(0, 2), [before[1]!, added]);
    expect(changes.map(({ trip, what }) => [trip, what])).toEqual([
      ['w1-0', 'left-out'],
      ['both-10', 'added'],
    ]);
  });
});
