import { areaBlock, laneHeads, notShown } from './areas.ts';
import { stack, type Block } from './blocks.ts';
import { rootPxLeast } from './reading.ts';
import type { AreaId, Drawing, FloorSize, FloorView, Style, Tile } from './tiles.ts';

/**
 * The floor: everybody's place, left to right as a worker walks it. From the view of the unit and the size of the page comes
 * one flat list of tiles in reading order. When not everything fits, things are left out and said to be left out (people in
 * equipment last of all); nothing is ever made smaller.
 *
 * `floor` has the six areas beside each other, `storeys` in two rows, `walk` below each other; `clocks` is a wall that is too
 * small for any of them and shows the people in equipment.
 */
export type Arrangement = 'floor' | 'storeys' | 'walk' | 'clocks';

export interface FloorLayout {
  arrangement: Arrangement;
  tiles: Tile[];
  /** In root units, like everything here. */
  height: number;
  /** False when the floor is higher than the page: a desk scrolls. */
  fits: boolean;
  /** Whether people in equipment are down to a line each. */
  oneLine: boolean;
}

const sparing: Style = { freePlaces: false, oneLine: false };
const attempts: readonly Style[] = [
  { freePlaces: true, oneLine: false },
  sparing,
  { freePlaces: false, oneLine: true },
];
/** The plan goes before the clocks do: reality is what a wall is for. */
const attemptsWithPlan: readonly Style[] = [
  { freePlaces: true, oneLine: false, withPlan: true },
  { ...sparing, withPlan: true },
  ...attempts,
];
const attemptsFor = ({ planned }: FloorView): readonly Style[] => (planned ? attemptsWithPlan : attempts);
/** In full but for free places: for a page that scrolls. */
const inFull = ({ planned }: FloorView): Style => (planned ? { ...sparing, withPlan: true } : sparing);

export function layOutFloor(view: FloorView, size: FloorSize): FloorLayout {
  // The floor chooses for each of its areas by itself.
  const styles = arrangementFor(size.width) === 'floor' ? [inFull(view)] : attemptsFor(view);
  for (const style of styles) {
    const layout = arrange({ view, size, style });
    if (layout.fits) return layout;
  }
  if (size.wall) return clocks(view, size);
  // A desk scrolls anyway: then with everything in full, free places apart.
  return arrange({ view, size, style: inFull(view) });
}

const leastFloorWidth = 71;
const leastStoreysWidth = 44;

export function arrangementFor(width: number): Exclude<Arrangement, 'clocks'> {
  if (width >= leastFloorWidth) return 'floor';
  return width >= leastStoreysWidth ? 'storeys' : 'walk';
}

function arrange(on: Drawing): FloorLayout {
  const arrangement = arrangementFor(on.size.width);
  switch (arrangement) {
    case 'floor':
      return asFloor(on);
    case 'storeys':
      return asStoreys(on);
    case 'walk':
      return asWalk(on);
    default: {
      const never: never = arrangement;
      throw new Error(`no arrangement ${String(never)}`);
    }
  }
}

const walkOrder = ['cold', 'pre-check', 'door', 'rooms', 'lanes', 'post-check'] as const;
type WalkArea = (typeof walkOrder)[number];

/** The least widths add up to `leastFloorWidth`; what is left over goes mostly to the rooms. */
const widths: Readonly<Record<WalkArea, { least: number; share: number }>> = {
  cold: { least: 9.3, share: 0.15 },
  'pre-check': { least: 10.6, share: 0.1 },
  door: { least: 9, share: 0.07 },
  rooms: { least: 17.4, share: 0.45 },
  lanes: { least: 17.2, share: 0.15 },
  'post-check': { least: 7.5, share: 0.08 },
};

function asFloor(on: Drawing): FloorLayout {
  const spare = on.size.width - leastFloorWidth;
  const widthOf = (area: WalkArea) => widths[area].least + spare * widths[area].share;
  // Lanes that need a line each are no reason to take the bars from the rooms: each area is as generous as it can be.
  const chosen = walkOrder.map((area) => ({ area, w: widthOf(area), on: generous(on, area, widthOf(area)) }));
  // The hot side decides how high the floor is; the cold side, the pre-check and the post-check leave out what is over.
  const hot = chosen.filter(({ area }) => area === 'rooms' || area === 'lanes' || area === 'door');
  const height = Math.max(on.size.height, ...hot.map((one) => areaBlock(one.on, one.area, one.w, Infinity).height));
  const tiles = storey(chosen, height).put(0, 0);
  const oneLine = hot.some((one) => one.on.style.oneLine);
  return { arrangement: 'floor', tiles, height, fits: height <= on.size.height, oneLine };
}

/** The most generous drawing of an area that fits the page; in full where none does. */
function generous(on: Drawing, area: WalkArea, width: number): Drawing {
  const drawings = attemptsFor(on.view).map((style) => ({ ...on, style }));
  const fitting = drawings.find((one) => areaBlock(one, area, width, Infinity).height <= on.size.height);
  return fitting ?? { ...on, style: inFull(on.view) };
}

function asStoreys(on: Drawing): FloorLayout {
  const shares = (list: [WalkArea, number][]) => list.map(([area, share]) => ({ area, w: on.size.width * share, on }));
  const hot = shares([
    ['rooms', 0.44],
    ['lanes', 0.34],
    ['post-check', 0.22],
  ]);
  const cold = shares([
    ['cold', 0.38],
    ['pre-check', 0.38],
    ['door', 0.24],
  ]);
  const lower = storey(hot, Infinity);
  const upper = storey(cold, on.size.wall ? on.size.height - lower.height : Infinity);
  const spare = Math.max(0, on.size.height - upper.height - lower.height);
  const both = stack([upper, stretched(lower, lower.height + spare)], 0);
  return {
    arrangement: 'storeys',
    tiles: both.put(0, 0),
    height: both.height,
    fits: both.height <= on.size.height,
    oneLine: on.style.oneLine,
  };
}

/** From a distance only the beginning of a walk is in sight: then it begins with the people in equipment. */
const distantOrder = ['rooms', 'lanes', 'door', 'pre-check', 'post-check', 'cold'] as const;

function asWalk(on: Drawing): FloorLayout {
  const order = on.size.rootPx > rootPxLeast ? distantOrder : walkOrder;
  const all = stack(
    order.map((area) => areaBlock(on, area, on.size.width, Infinity)),
    0,
  );
  return {
    arrangement: 'walk',
    tiles: all.put(0, 0),
    height: all.height,
    fits: all.height <= on.size.height,
    oneLine: on.style.oneLine,
  };
}

/** Areas beside each other, all as high as the highest, or as `limit` where that is given. */
function storey(columns: readonly { area: AreaId; w: number; on: Drawing }[], limit: number): Block<Tile> {
  const blocks = columns.map(({ area, w, on }) => ({ block: areaBlock(on, area, w, limit), w }));
  const highest = Math.max(...blocks.map(({ block }) => block.height));
  const height = limit < Infinity ? Math.max(limit, highest) : highest;
  return {
    height,
    put(x, y) {
      let left = x;
      return blocks.flatMap(({ block, w }) => {
        const tiles = stretched(block, height).put(left, y);
        left += w;
        return tiles;
      });
    },
  };
}

/** The ground of each area reaches to the end of its storey. */
function stretched(block: Block<Tile>, height: number): Block<Tile> {
  const more = Math.max(0, height - block.height);
  return {
    height: block.height + more,
    put: (x, y) =>
      block
        .put(x, y)
        .map((tile) => (tile.kind === 'area' ? { ...tile, box: { ...tile.box, h: tile.box.h + more } } : tile)),
  };
}

function clocks(view: FloorView, size: FloorSize): FloorLayout {
  const lanesWidth = size.width >= 40 && view.lanes.length > 0 ? Math.min(17, size.width * 0.3) : 0;
  const width = size.width - lanesWidth;
  const drawing = (style: Partial<Style>): Drawing => ({ view, size, style: { ...sparing, ...style } });
  const line = notShown(drawing({}), width);
  const left = size.height - line.height;
  const { people, oneLine } = equipmentThatFits(drawing, width, left);
  const others = theOthers(drawing({}), width, size.height - people.height);
  const column = others ? stack([people, others], 0) : stack([stretched(people, left), line], 0);
  const heads = laneHeads(drawing({ oneLine: true }), lanesWidth);
  const tiles = [...column.put(0, 0), ...(lanesWidth > 0 ? stretched(heads, size.height).put(width, 0) : [])];
  const height = Math.max(size.height, column.height);
  return { arrangement: 'clocks', tiles, height, fits: column.height <= size.height, oneLine };
}

/** People in equipment as generously as the height allows; at the last in a line each, and as many as there is room for. */
function equipmentThatFits(drawing: (style: Partial<Style>) => Drawing, width: number, left: number) {
  for (const style of [{ roomy: true }, {}]) {
    const people = areaBlock(drawing(style), 'equipment', width, Infinity);
    if (people.height <= left) return { people, oneLine: false };
  }
  return { people: areaBlock(drawing({ oneLine: true }), 'equipment', width, left), oneLine: true };
}

/** Whoever is not in equipment, below those who are, if there is height for at least a row of them. */
function theOthers(on: Drawing, width: number, height: number): Block<Tile> | undefined {
  if (height < leastOthersHeight || width < leastOthersWidth) return undefined;
  const areas = (['cold', 'pre-check', 'post-check'] as const).map((area, index) => ({
    area,
    w: width * ([0.45, 0.32, 0.23][index] ?? 0),
    on,
  }));
  return storey(areas, height);
}
const leastOthersHeight = 9;
const leastOthersWidth = 36;

/**
 * What a wall gives up when it is too small for everything: first the hour ahead below the floor, then the bars and observers
 * of the people in equipment, then the floor itself. Who is in equipment, and for how long, stays. A desk scrolls instead.
 */
export function chooseLayout(
  wall: boolean,
  layOut: (withBottom: boolean) => FloorLayout,
): { layout: FloorLayout; withBottom: boolean } {
  const full = { layout: layOut(true), withBottom: true };
  if (!wall || rank(full.layout) === 0) return full;
  const alone = { layout: layOut(false), withBottom: false };
  return !full.layout.fits || rank(alone.layout) < rank(full.layout) ? alone : full;
}

function rank(layout: FloorLayout): number {
  if (layout.arrangement !== 'clocks') return layout.oneLine ? 1 : 0;
  return 2 + (layout.oneLine ? 1 : 0) + leftOut(layout);
}

/** How many people in equipment there is no room for. */
export const leftOut = (layout: FloorLayout): number =>
  layout.tiles.reduce(
    (sum, tile) => sum + (tile.kind === 'more' && tile.area === 'equipment' ? tile.people.length : 0),
    0,
  );
