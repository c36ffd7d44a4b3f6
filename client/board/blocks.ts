/**
 * Boxes on the floor, in root units. The floor is laid out here and not by the browser, so that one person stays one element
 * that moves, that every row has a height known beforehand, and that "does it fit?" can be asked before anything is drawn.
 */
export interface Box {
  x: number;
  y: number;
  w: number;
  h: number;
}

/** Something of a known size that can be put anywhere. What it puts down comes in the order in which it is read. */
export interface Block<Tile> {
  height: number;
  put(x: number, y: number): Tile[];
}

export const single = <Tile>(w: number, h: number, make: (box: Box) => Tile): Block<Tile> => ({
  height: h,
  put: (x, y) => [make({ x, y, w, h })],
});

/** Blocks below each other; empty ones take no gap. */
export function stack<Tile>(blocks: readonly Block<Tile>[], gap: number): Block<Tile> {
  const some = blocks.filter((one) => one.height > 0);
  const height = some.reduce((sum, one) => sum + one.height, 0) + gap * Math.max(0, some.length - 1);
  return {
    height,
    put(x, y) {
      let top = y;
      return some.flatMap((one) => {
        const tiles = one.put(x, top);
        top += one.height + gap;
        return tiles;
      });
    },
  };
}

export const nothing = <Tile>(): Block<Tile> => ({ height: 0, put: () => [] });

/**
 * Cells beside each other, as many as the width takes at `least` each, then in the next row; a row is as high as its highest
 * cell. `fill` lets few cells share the whole width; without it a cell is as wide as it would be in a full row, so that
 * people do not change size when somebody joins them.
 */
export function rows<Tile>(
  { width, least, gap, fill = false }: { width: number; least: number; gap: number; fill?: boolean },
  cells: readonly ((w: number) => Block<Tile>)[],
): Block<Tile> {
  if (cells.length === 0) return nothing();
  const most = Math.max(1, Math.floor((width + gap) / (least + gap)));
  const columns = fill ? Math.min(cells.length, most) : most;
  const w = (width - gap * (columns - 1)) / columns;
  const built = cells.map((cell) => cell(w));
  const lines: Block<Tile>[] = [];
  for (let first = 0; first < built.length; first += columns)
    lines.push(beside(built.slice(first, first + columns), w + gap));
  return stack(lines, gap);
}

function beside<Tile>(cells: readonly Block<Tile>[], step: number): Block<Tile> {
  return {
    height: Math.max(...cells.map((one) => one.height)),
    put: (x, y) => cells.flatMap((one, index) => one.put(x + index * step, y)),
  };
}

/** A frame around a block: `head` above it, `foot` below it, `pad` at its sides and its end. */
export function framed<Tile>(
  width: number,
  room: { head: number; foot: number; pad: number },
  inside: (w: number) => Block<Tile>,
  frame: (box: Box) => Tile,
  least = 0,
): Block<Tile> {
  const block = inside(width - 2 * room.pad);
  const height = Math.max(least, room.head + block.height + (block.height > 0 ? room.pad : 0) + room.foot);
  return {
    height,
    put: (x, y) => [frame({ x, y, w: width, h: height }), ...block.put(x + room.pad, y + room.head)],
  };
}
