import { framed, nothing, rows, single, stack, type Block } from './blocks.ts';
import type { LaneView } from './lane-view.ts';
import { byUrgency, isInEquipment, type Standing } from './standing.ts';
import {
  airBesideFrom,
  areaHead,
  atLeast44,
  clockHeights,
  clockRoomyFrom,
  clockWideFrom,
  gap,
  groupHead,
  laneFoot,
  laneHead,
  pad,
  planHeight,
  roomHead,
  rowHeight,
  stageHeight,
  twoLineHeight,
  type AreaId,
  type ClockForm,
  type Drawing,
  type FloorSize,
  type GroupId,
  type PersonForm,
  type RoomView,
  type Tile,
} from './tiles.ts';

/** What each area of the floor holds, as blocks of known height. `limit` is the height an area may have. */
export function areaBlock(on: Drawing, area: AreaId, width: number, limit: number): Block<Tile> {
  const left = limit - areaHead - pad;
  return framed<Tile>(
    width,
    { head: areaHead, foot: 0, pad },
    (w) => inside(on, area, w, left),
    (box) => ({ kind: 'area', key: `area ${area}`, area, box }),
  );
}

function inside(on: Drawing, area: AreaId, w: number, left: number): Block<Tile> {
  switch (area) {
    case 'cold':
      return asManyAsFit(coldPeople(on).length, left, (count) => coldBlock(on, w, count));
    case 'pre-check':
    case 'post-check':
      return asManyAsFit(peopleAt(on, area).length, left, (count) => stages(on, w, area, count));
    case 'door':
      return clockRows(on, w, peopleAt(on, 'door'));
    case 'rooms':
      return roomsBlock(on, w);
    case 'lanes':
      return stack([thresholdBlock(on, w), lanesBlock(on, w)], gap);
    case 'equipment':
      return asManyAsFit(byUrgency(on.view.people).length, left, (count) => equipmentBlock(on, w, count));
    default: {
      const never: never = area;
      throw new Error(`no area ${String(never)}`);
    }
  }
}

const peopleAt = ({ view }: Drawing, at: Standing['stand']['at']): Standing[] =>
  view.people.filter((one) => one.stand.at === at);

/** Everybody if there is room; else as many as there is room for, beside how many more there are. */
function asManyAsFit(people: number, limit: number, build: (count: number) => Block<Tile>): Block<Tile> {
  for (let count = people; count > 0; count--) {
    const block = build(count);
    if (block.height <= limit) return block;
  }
  return build(0);
}

function moreTile(area: AreaId, w: number, size: FloorSize, people: readonly Standing[]): Block<Tile> {
  if (people.length === 0) return nothing();
  const ids = people.map((one) => one.id);
  return single(w, rowHeight(size), (box) => ({ kind: 'more', key: `more ${area}`, area, people: ids, box }));
}

const personCell =
  (one: Standing, form: PersonForm, h: number, withPlan = false) =>
  (w: number): Block<Tile> =>
    single(w, h, (box) => ({ kind: 'person', key: one.id, person: one.id, form, withPlan, box }));

/** Tiles beside each other are alike: where one has a line about the plan, all have the height for it. */
const planLine = ({ view, style }: Drawing, people: readonly Standing[]): number =>
  style.withPlan && people.some(({ id }) => view.planned?.has(id)) ? planHeight : 0;
/** In equipment and on the way there everybody has one, also whoever is not in the plan. */
const planLineInEntry = ({ view, style }: Drawing): number => (style.withPlan && view.planned ? planHeight : 0);

const groupTile = (group: GroupId, count: number, w: number): Block<Tile> =>
  single(w, groupHead, (box) => ({ kind: 'group', key: `group ${group}`, group, count, box }));

// ---- cold side, pre-check, post-check ----

const coldGroups = ['ready', 'resting', 'stood-down'] as const;
const coldPeople = (on: Drawing): Standing[] => coldGroups.flatMap((at) => peopleAt(on, at));

function coldBlock(on: Drawing, w: number, count: number): Block<Tile> {
  const all = coldPeople(on);
  const shown = all.slice(0, count);
  const groups = coldGroups.flatMap((at) => {
    const people = shown.filter((one) => one.stand.at === at);
    // Somebody ready has one line, unless the last entry leaves something to say about the next.
    const isPlain = at === 'ready' && !people.some((one) => one.again);
    const plan = planLine(on, people);
    const height = isPlain && plan === 0 ? rowHeight(on.size) : twoLineHeight(on.size) + (isPlain ? 0 : plan);
    const cells = people.map((one) => personCell(one, 'row', height, plan > 0));
    const least = at === 'ready' ? 7.4 : 8.5;
    return people.length === 0
      ? []
      : [groupTile(at, peopleAt(on, at).length, w), rows({ width: w, least, gap }, cells)];
  });
  return stack([...groups, moreTile('cold', w, on.size, all.slice(count))], gap);
}

function stages(on: Drawing, w: number, area: 'pre-check' | 'post-check', count: number): Block<Tile> {
  const all = peopleAt(on, area);
  const plan = planLineInEntry(on);
  const cells = all.slice(0, count).map((one) => personCell(one, 'stage', stageHeight + plan, plan > 0));
  return stack([rows({ width: w, least: 10.5, gap }, cells), moreTile(area, w, on.size, all.slice(count))], gap);
}

// ---- people in equipment ----

const clockCell =
  (on: Drawing, one: Standing) =>
  (w: number): Block<Tile> => {
    const form: ClockForm = w < clockWideFrom ? 'clock-tall' : on.style.oneLine ? 'clock-line' : 'clock-wide';
    // A single line has no second one for the plan: it is in the sheet.
    const plan = form === 'clock-line' ? 0 : planLineInEntry(on);
    return personCell(one, form, clockHeights[form] + plan, plan > 0)(w);
  };

function clockRows(on: Drawing, w: number, people: readonly Standing[]): Block<Tile> {
  const least = w < clockWideFrom ? 8.5 : on.style.roomy ? Math.min(w, clockRoomyFrom) : clockWideFrom;
  return rows(
    { width: w, least, gap },
    people.map((one) => clockCell(on, one)),
  );
}

/** Everybody in equipment in one place, whoever must come out first on top, for a page that has no room for the floor. */
function equipmentBlock(on: Drawing, w: number, count: number): Block<Tile> {
  const all = byUrgency(on.view.people);
  return stack([clockRows(on, w, all.slice(0, count)), moreTile('equipment', w, on.size, all.slice(count))], gap);
}

/** Everybody who is not in equipment, as one line of numbers. */
export function notShown(on: Drawing, width: number): Block<Tile> {
  const others = on.view.people.filter((one) => !isInEquipment(one.stand));
  return moreTile('cold', width, on.size, others);
}

function roomsBlock(on: Drawing, w: number): Block<Tile> {
  const cells = on.view.rooms.map((room) => (each: number) => roomBlock(on, room, each));
  return rows({ width: w, least: 16.2, gap, fill: true }, cells);
}

function roomBlock(on: Drawing, room: RoomView, width: number): Block<Tile> {
  const people = peopleAt(on, 'room').filter((one) => 'room' in one.stand && one.stand.room === room.id);
  const free = on.style.freePlaces ? Math.max(0, room.places - people.length) : 0;
  const places = Array.from({ length: free }, (_, index) => placeCell(on, `place ${room.id} ${index}`));
  const airBelow = room.measured ? width < airBesideFrom : undefined;
  return framed<Tile>(
    width,
    { head: roomHead(on.size) * (airBelow ? 2 : 1), foot: 0, pad: 0.3 },
    (w) => rows({ width: w, least: clockWideFrom, gap }, [...people.map((one) => clockCell(on, one)), ...places]),
    (box) => ({
      kind: 'room',
      key: `room ${room.id}`,
      room: room.id,
      name: room.name,
      people: people.length,
      taken: room.taken,
      places: room.places,
      airBelow,
      box,
    }),
  );
}

const placeHeight = (on: Drawing, w: number): number =>
  clockHeights[w < clockWideFrom ? 'clock-tall' : 'clock-wide'] + planLineInEntry(on);
const placeCell =
  (on: Drawing, key: string) =>
  (w: number): Block<Tile> =>
    single(w, placeHeight(on, w), (box) => ({ kind: 'place', key, box }));

// ---- threshold and lanes ----

function thresholdBlock(on: Drawing, w: number): Block<Tile> {
  const waiting = peopleAt(on, 'threshold');
  if (waiting.length === 0) return nothing();
  return stack([groupTile('threshold', waiting.length, w), clockRows(on, w, waiting)], gap);
}

function lanesBlock(on: Drawing, w: number): Block<Tile> {
  const cells = on.view.lanes.map((lane) => (each: number) => laneBlock(on, lane, each));
  return rows({ width: w, least: clockWideFrom + 0.6, gap, fill: true }, cells);
}

function laneBlock(on: Drawing, lane: LaneView, width: number): Block<Tile> {
  const inLane = (one: Standing) => 'lane' in one.stand && one.stand.lane === lane.id;
  const doffing = peopleAt(on, 'lane').filter(inLane);
  const assisting = peopleAt(on, 'assisting').filter(inLane);
  return framed<Tile>(
    width,
    { head: atLeast44(laneHead, on.size), foot: laneFoot, pad: 0.3 },
    (w) =>
      stack(
        [
          // A lane keeps the place of whoever comes, so that the lanes stay where they are.
          ...(doffing.length === 0 && lane.is !== 'closed' && on.style.freePlaces
            ? [{ ...nothing<Tile>(), height: placeHeight(on, w) }]
            : []),
          ...doffing.map((one) => clockCell(on, one)(w)),
          ...assisting.map((one) => {
            const plan = planLine(on, [one]);
            return personCell(one, 'row', plan > 0 ? twoLineHeight(on.size) : rowHeight(on.size), plan > 0)(w);
          }),
        ],
        gap,
      ),
    (box) => ({ kind: 'lane', key: `lane ${lane.id}`, lane: lane.id, box }),
  );
}

/** Lanes without the people in them, as many as the height takes. */
export function laneHeads(on: Drawing, width: number): Block<Tile> {
  const height = atLeast44(laneHead, on.size) + laneFoot;
  const left = on.size.height - areaHead - pad;
  const fit = (room: number) => Math.max(0, Math.floor((room + gap) / (height + gap)));
  const all = on.view.lanes;
  const shown = all.length <= fit(left) ? all : all.slice(0, fit(left - rowHeight(on.size) - gap));
  const cells = shown.map(
    (lane) => (w: number) =>
      single<Tile>(w, height, (box) => ({ kind: 'lane', key: `lane ${lane.id}`, lane: lane.id, box })),
  );
  const count = all.length - shown.length;
  const more = (w: number): Block<Tile> =>
    count === 0
      ? nothing()
      : single(w, rowHeight(on.size), (box) => ({ kind: 'more-lanes', key: 'more lanes', count, box }));
  return framed<Tile>(
    width,
    { head: areaHead, foot: 0, pad },
    (w) => stack([rows({ width: w, least: w, gap }, cells), more(w)], gap),
    (box) => ({ kind: 'area', key: 'area lanes', area: 'lanes', box }),
  );
}
