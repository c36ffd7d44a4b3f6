import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Box } from '../../client/board/blocks.ts';
import { bottomHeight } from '../../client/board/bottom.ts';
import {
  arrangementFor,
  chooseLayout,
  layOutFloor,
  leftOut,
  type FloorLayout,
} from '../../client/board/floor-layout.ts';
import { laneViews, type LaneView } from '../../client/board/lane-view.ts';
import { isInEquipment, standings, type Stand, type Standing } from '../../client/board/standing.ts';
import { clockHeights, type FloorSize, type FloorView, type Tile } from '../../client/board/tiles.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { LaneId, PersonId, RoomId } from '../../machines/wire/ids.ts';
import { given, inside, onDuty, atThreshold, enters, called } from '../support/unit-fixture.ts';

/** A floor of any size: `people` says how many stand where. Only what the layout looks at is filled in. */
type Crowd = Partial<Record<Stand['at'], number>>;

function crowded(crowd: Crowd, rooms = 3, lanes = 2): FloorView {
  const people = Object.entries(crowd).flatMap(([at, count]) =>
    Array.from({ length: count }, (_, index) => standing(at as Stand['at'], index, rooms, lanes)),
  );
  return {
    people,
    rooms: Array.from({ length: rooms }, (_, index) => ({
      id: `r${index}` as RoomId,
      name: `Room ${index}`,
      places: 2,
      taken: 0,
    })),
    lanes: Array.from(
      { length: lanes },
      (_, index) => ({ id: `l${index}` as LaneId, name: `Lane ${index}`, since: 0, is: 'free' }) satisfies LaneView,
    ),
  };
}

function standing(at: Stand['at'], index: number, rooms: number, lanes: number): Standing {
  const equipped = ['door', 'room', 'threshold', 'lane'].includes(at);
  const limit = { minutes: 60, reason: '', source: '', limitAt: index, callOutAt: index, warnAt: index };
  const stand = {
    at,
    since: index,
    againAt: index,
    room: `r${index % rooms}`,
    ...(at === 'lane' || at === 'assisting' ? { lane: `l${index % lanes}` } : {}),
    ...(equipped && { donnedAt: index, limit, emergency: false }),
  };
  return { id: `${at}-${index}` as PersonId, stand: stand as unknown as Stand, alert: undefined };
}

const desk = (width: number, height: number): FloorSize => ({ width, height, rootPx: 16, wall: false });
const wall = (width: number, height: number): FloorSize => ({ width, height, rootPx: 25, wall: true });

const overlap = (a: Box, b: Box): boolean =>
  a.x < b.x + b.w - 0.001 && b.x < a.x + a.w - 0.001 && a.y < b.y + b.h - 0.001 && b.y < a.y + a.h - 0.001;
const within = (inner: Box, outer: Box): boolean =>
  inner.x >= outer.x - 0.001 &&
  inner.y >= outer.y - 0.001 &&
  inner.x + inner.w <= outer.x + outer.w + 0.001 &&
  inner.y + inner.h <= outer.y + outer.h + 0.001;

type PersonTile = Extract<Tile, { kind: 'person' }>;
const personTiles = (layout: FloorLayout): PersonTile[] =>
  layout.tiles.filter((tile): tile is PersonTile => tile.kind === 'person');
const boxOf = (layout: FloorLayout, key: string): Box => layout.tiles.find((tile) => tile.key === key)!.box;
const named = (layout: FloorLayout): string[] => [
  ...personTiles(layout).map((tile) => tile.person),
  ...layout.tiles.flatMap((tile) => (tile.kind === 'more' ? tile.people : [])),
];

const ordinary: Crowd = { ready: 4, resting: 2, 'pre-check': 1, door: 1, room: 4, lane: 1, 'post-check': 1 };
const many: Crowd = {
  ready: 14,
  resting: 6,
  'stood-down': 2,
  'pre-check': 3,
  door: 1,
  room: 9,
  threshold: 1,
  lane: 3,
  'post-check': 1,
};

describe('the floor', () => {
  it('is read left to right as a worker walks it', () => {
    const layout = layOutFloor(crowded(ordinary), desk(120, 48));
    expect(layout.arrangement).toBe('floor');
    const xs = ['cold', 'pre-check', 'door', 'rooms', 'lanes', 'post-check'].map(
      (area) => boxOf(layout, `area ${area}`).x,
    );
    expect(xs).toEqual([...xs].sort((a, b) => a - b));
    expect(new Set(xs).size).toBe(6);
    const reading = layout.tiles.filter((tile) => tile.kind === 'area').map((tile) => tile.area);
    expect(reading).toEqual(['cold', 'pre-check', 'door', 'rooms', 'lanes', 'post-check']);
  });

  it('puts everybody into the area, room and lane they are in', () => {
    const layout = layOutFloor(crowded(many, 8, 5), desk(120, 60));
    const area: Partial<Record<Stand['at'], string>> = {
      ready: 'area cold',
      'pre-check': 'area pre-check',
      door: 'area door',
      threshold: 'area lanes',
      'post-check': 'area post-check',
    };
    for (const { person, box } of personTiles(layout)) {
      const [at, index] = [person.slice(0, person.lastIndexOf('-')) as Stand['at'], Number(person.split('-').at(-1))];
      const place = at === 'room' ? `room r${index % 8}` : at === 'lane' ? `lane l${index % 5}` : area[at];
      if (place) expect(within(box, boxOf(layout, place)), person).toBe(true);
    }
  });

  it('keeps somebody the same element when they move on', () => {
    const duty = onDuty('o1', 'o2');
    const floor = (state: UnitState) =>
      layOutFloor(
        {
          people: standings(state),
          lanes: laneViews(state),
          rooms: state.rules.rooms.map((room) => ({ ...room, taken: 0 })),
        },
        desk(80, 40),
      );
    const places = [
      given(duty).world,
      given(duty, called('w1')).world,
      given(duty, inside('o1', 'w1')).world,
      given(duty, inside('o1', 'w1'), atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1')).world,
    ].map(({ state }) => floor(state).tiles.filter((tile) => tile.key === 'w1'));
    for (const tiles of places) expect(tiles).toHaveLength(1);
    expect(new Set(places.map(([tile]) => `${tile!.box.x} ${tile!.box.y}`)).size).toBe(4);
  });

  it('lets rooms and lanes stay where they are while people come and go', () => {
    const empty = layOutFloor(crowded({ ready: 6 }), desk(120, 48));
    const busy = layOutFloor(crowded({ ready: 1, room: 4, lane: 1 }), desk(120, 48));
    for (const key of ['room r0', 'room r1', 'room r2', 'lane l0', 'lane l1'])
      expect(boxOf(busy, key)).toEqual(boxOf(empty, key));
  });

  it('makes nothing that is pressed smaller than 44 px', () => {
    for (const size of [desk(73.75, 40), desk(51, 60), desk(24, 40)])
      for (const tile of layOutFloor(crowded(many), size).tiles)
        if (tile.kind === 'person' || tile.kind === 'more' || tile.kind === 'lane')
          expect(tile.box.h * size.rootPx, tile.key).toBeGreaterThanOrEqual(44);
  });

  it('has two storeys on an upright tablet and is a walk on a phone', () => {
    expect([120, 71, 70, 51, 44, 43, 24].map(arrangementFor)).toEqual([
      'floor',
      'floor',
      'storeys',
      'storeys',
      'storeys',
      'walk',
      'walk',
    ]);
    const walk = layOutFloor(crowded(ordinary), desk(24.4, 40));
    const ys = ['cold', 'pre-check', 'door', 'rooms', 'lanes', 'post-check'].map(
      (area) => boxOf(walk, `area ${area}`).y,
    );
    expect(ys).toEqual([...ys].sort((a, b) => a - b));
  });

  it('begins a walk that is read from a distance with the people in equipment', () => {
    const far = layOutFloor(crowded(ordinary), { ...desk(24.4, 17), rootPx: 48 });
    expect(far.arrangement).toBe('walk');
    expect(boxOf(far, 'area rooms').y).toBe(0);
    expect(boxOf(far, 'area cold').y).toBeGreaterThan(boxOf(far, 'area post-check').y);
  });

  it('holds 40 people, 8 rooms and 5 lanes on a desk without losing anybody in equipment', () => {
    const view = crowded(many, 8, 5);
    expect(view.people).toHaveLength(40);
    for (const size of [desk(120, 46), desk(73.75, 32), desk(51, 48), desk(24.4, 36)]) {
      const layout = layOutFloor(view, size);
      expect(named(layout).sort()).toEqual(view.people.map((one) => one.id).sort());
      expect(leftOut(layout)).toBe(0);
      expect(personTiles(layout).filter(({ form }) => form in clockHeights)).toHaveLength(14);
    }
  });
});

describe('any floor, on any page', () => {
  const count = (max: number) => fc.integer({ min: 0, max });
  const anyView = fc
    .record({
      crowd: fc.record({
        ready: count(20),
        resting: count(10),
        'stood-down': count(3),
        'pre-check': count(5),
        door: count(3),
        room: count(16),
        threshold: count(3),
        lane: count(5),
        'post-check': count(4),
      }),
      rooms: fc.integer({ min: 1, max: 8 }),
      lanes: fc.integer({ min: 1, max: 5 }),
    })
    .map(({ crowd, rooms, lanes }) => crowded({ ...crowd, lane: Math.min(crowd.lane, lanes) }, rooms, lanes));
  const anySize = fc.record({
    width: fc.double({ min: 20, max: 140, noNaN: true }),
    height: fc.double({ min: 10, max: 80, noNaN: true }),
    rootPx: fc.constantFrom(16, 25, 48),
    wall: fc.boolean(),
  });

  it('names everybody once, in a place or in what is left out', () => {
    fc.assert(
      fc.property(anyView, anySize, (view, size) => {
        const layout = layOutFloor(view, size);
        expect(named(layout).sort()).toEqual(view.people.map((one) => one.id).sort());
        expect(new Set(layout.tiles.map((tile) => tile.key)).size).toBe(layout.tiles.length);
      }),
      { numRuns: 150 },
    );
  });

  it('lets no two people overlap and nobody stand outside the page', () => {
    fc.assert(
      fc.property(anyView, anySize, (view, size) => {
        const layout = layOutFloor(view, size);
        const page = { x: 0, y: 0, w: size.width, h: layout.height };
        const boxes = personTiles(layout).map((tile) => tile.box);
        for (const [index, box] of boxes.entries()) {
          expect(within(box, page)).toBe(true);
          expect(boxes.slice(index + 1).some((other) => overlap(box, other))).toBe(false);
        }
      }),
      { numRuns: 150 },
    );
  });

  it('tells the truth about what fits', () => {
    fc.assert(
      fc.property(anyView, anySize, (view, size) => {
        const layout = layOutFloor(view, size);
        const lowest = Math.max(...layout.tiles.map((tile) => tile.box.y + tile.box.h));
        expect(lowest).toBeLessThanOrEqual(layout.height + 0.001);
        if (layout.fits) expect(lowest).toBeLessThanOrEqual(size.height + 0.001);
      }),
      { numRuns: 150 },
    );
  });

  it('never leaves out somebody in equipment on a desk', () => {
    fc.assert(
      fc.property(anyView, anySize, (view, size) => {
        const layout = layOutFloor(view, { ...size, wall: false });
        const shown = new Set(personTiles(layout).map((tile) => tile.person));
        for (const one of view.people) if (isInEquipment(one.stand)) expect(shown.has(one.id)).toBe(true);
      }),
      { numRuns: 100 },
    );
  });
});

describe('the plan beside reality', () => {
  const view = crowded(ordinary);
  const planned = new Set(view.people.map(({ id }) => id));
  const withPlan = (layout: FloorLayout) => personTiles(layout).filter((tile) => tile.withPlan).length;

  it('has a line of its own on every tile that has something to say, and none where no rotation is adopted', () => {
    for (const size of [desk(120, 60), desk(51, 90), desk(24, 200)]) {
      const layout = layOutFloor({ ...view, planned }, size);
      expect(withPlan(layout)).toBe(personTiles(layout).length);
      expect(withPlan(layOutFloor(view, size))).toBe(0);
      for (const { form, box } of personTiles(layout))
        if (form === 'clock-wide' || form === 'clock-tall') expect(box.h).toBeGreaterThan(clockHeights[form]);
    }
  });
  it('is given up on a wall before anybody in equipment is', () => {
    for (let height = 60; height >= 12; height -= 4)
      expect(leftOut(layOutFloor({ ...view, planned }, wall(75, height)))).toBe(
        leftOut(layOutFloor(view, wall(75, height))),
      );
    expect(withPlan(layOutFloor({ ...view, planned }, wall(75, 16)))).toBe(0);
  });
});

describe('a wall that is too small', () => {
  const view = crowded(many, 8, 5);
  const choose = (size: FloorSize, below: number) =>
    chooseLayout(true, (withBottom) => layOutFloor(view, { ...size, height: size.height - (withBottom ? below : 0) }));

  it('shows people in equipment, whoever must come out first on top, when the floor has no room', () => {
    const layout = layOutFloor(view, wall(75, 24));
    expect(layout.arrangement).toBe('clocks');
    expect(leftOut(layout)).toBe(0);
    const clocked = personTiles(layout).filter(({ form }) => form in clockHeights);
    expect(clocked).toHaveLength(14);
    const limits = clocked.map(({ person }) => {
      const { stand } = view.people.find((one) => one.id === person)!;
      return isInEquipment(stand) ? stand.limit!.limitAt : NaN;
    });
    expect(limits).toEqual([...limits].sort((a, b) => a - b));
  });

  it('says how many are left out, and leaves out those with most time', () => {
    const layout = layOutFloor(view, wall(36, 14));
    const shown = personTiles(layout).filter(({ form }) => form in clockHeights);
    expect(shown.length).toBeGreaterThan(0);
    expect(leftOut(layout)).toBe(14 - shown.length);
    expect(leftOut(layout)).toBeGreaterThan(0);
    expect(named(layout)).toHaveLength(40);
  });

  it('says how many lanes are left out', () => {
    const layout = layOutFloor(view, wall(57, 14));
    const lanes = layout.tiles.filter((tile) => tile.kind === 'lane').length;
    const more = layout.tiles.find((tile) => tile.kind === 'more-lanes');
    expect(lanes + (more?.kind === 'more-lanes' ? more.count : 0)).toBe(5);
    expect(more).toBeDefined();
  });

  it('makes nobody smaller than on a large wall', () => {
    for (const size of [wall(140, 60), wall(75, 30), wall(57, 20), wall(36, 14)])
      for (const { form, box } of personTiles(layOutFloor(view, size)))
        if (form in clockHeights) expect(box.h).toBe(clockHeights[form as keyof typeof clockHeights]);
  });

  it('gives up the hour ahead before the floor, and the floor before anybody in equipment', () => {
    const small = crowded(ordinary);
    const stages = new Set<string>();
    for (let height = 60; height >= 16; height -= 0.5) {
      const { layout, withBottom } = chooseLayout(true, (bottom) =>
        layOutFloor(small, wall(75, height - (bottom ? 8 : 0))),
      );
      expect(leftOut(layout), `height ${height}`).toBe(0);
      stages.add(`${layout.arrangement}${layout.oneLine ? ', a line each' : ''}${withBottom ? ', hour ahead' : ''}`);
    }
    const order = [...stages];
    expect(order[0]).toBe('floor, hour ahead');
    expect(order[1]).toBe('floor');
    expect(order.findIndex((stage) => stage.startsWith('clocks'))).toBe(
      order.filter((stage) => stage.startsWith('floor')).length,
    );
    expect(choose(wall(75, 33), 14).withBottom).toBe(false);
    // Too small for anything: then at least nothing else takes the room.
    expect(choose(wall(30, 6), 3).withBottom).toBe(false);
  });

  it('gives nothing up on a desk, which scrolls', () => {
    const { withBottom, layout } = chooseLayout(false, () => layOutFloor(view, desk(73.75, 20)));
    expect(withBottom).toBe(true);
    expect(layout.fits).toBe(false);
    expect(layout.arrangement).toBe('floor');
  });
});

describe('what stands below the floor', () => {
  it('is as high as the higher of two on a wide page, and as both together on a narrow one', () => {
    const content = { lines: 5, observers: 4, off: false, wall: true };
    const beside = bottomHeight(content, 120);
    expect(bottomHeight(content, 51)).toBeGreaterThan(beside);
    expect(bottomHeight({ ...content, lines: 2 }, 120)).toBeLessThan(beside);
    expect(bottomHeight({ ...content, observers: 40 }, 120)).toBeGreaterThan(beside);
  });
});
