import type { LaneId, PersonId, RoomId } from '../../machines/wire/ids.ts';
import type { Box } from './blocks.ts';
import type { LaneView } from './lane-view.ts';
import type { Standing } from './standing.ts';

/** What lies on the floor, and the sizes of it in root units. */
export type AreaId = 'cold' | 'pre-check' | 'door' | 'rooms' | 'lanes' | 'post-check' | 'equipment';
export type GroupId = 'ready' | 'resting' | 'stood-down' | 'threshold';
/** How somebody is drawn: one line, a stage of a check, or with a clock in one of three shapes. */
export type ClockForm = 'clock-wide' | 'clock-tall' | 'clock-line';
export type PersonForm = 'row' | 'stage' | ClockForm;

export type Tile = { key: string; box: Box } & (
  | { kind: 'area'; area: AreaId }
  | { kind: 'group'; group: GroupId; count: number }
  | {
      kind: 'room';
      room: RoomId;
      name: string;
      people: number;
      taken: number;
      places: number;
      airBelow: boolean | undefined;
    }
  | { kind: 'place' }
  | { kind: 'lane'; lane: LaneId }
  | { kind: 'person'; person: PersonId; form: PersonForm; withPlan: boolean }
  | { kind: 'more-lanes'; count: number }
  /** People for whom there is no room, by name as far as somebody can ask for them, and always by number. */
  | { kind: 'more'; area: AreaId; people: PersonId[] }
);

export interface RoomView {
  id: RoomId;
  name: string;
  places: number;
  /** Places taken by people inside or promised to people on their way in. */
  taken: number;
  /** The unit goes by the air of its rooms, so each says what is known of it. */
  measured?: boolean;
}

export interface FloorView {
  people: readonly Standing[];
  rooms: readonly RoomView[];
  lanes: readonly LaneView[];
  /** Whose tile has a line about the adopted rotation; absent where there is none. */
  planned?: ReadonlySet<PersonId>;
}

export interface FloorSize {
  /** In root units. */
  width: number;
  height: number;
  /** Pixels per root unit: what is pressed is never smaller than 44 of them. */
  rootPx: number;
  /** A wall is neither pressed nor scrolled. */
  wall: boolean;
}

/** How generous a drawing is: free places drawn or not, clocks in full or in one line, the plan beside reality or not. */
export interface Style {
  freePlaces: boolean;
  oneLine: boolean;
  withPlan?: boolean;
  /** Where place does not tell where somebody is, there is room to say it. */
  roomy?: boolean;
}

export interface Drawing {
  view: FloorView;
  size: FloorSize;
  style: Style;
}

export const gap = 0.4;
export const pad = 0.5;
export const areaHead = 2.1;
export const groupHead = 1.6;
export const laneHead = 2.2;
export const laneFoot = 1.7;
export const stageHeight = 4.6;
/** What a line about the adopted rotation adds to a tile. */
export const planHeight = 1.25;
/** From this width on a clock has its figure, bar and times in one line. */
export const clockWideFrom = 15.5;
export const clockRoomyFrom = 20;
export const clockHeights: Readonly<Record<ClockForm, number>> = {
  'clock-wide': 4.2,
  'clock-tall': 5.8,
  'clock-line': 2.75,
};

export const atLeast44 = (rem: number, { wall, rootPx }: FloorSize): number =>
  wall ? rem : Math.max(rem, 44 / rootPx);
export const rowHeight = (size: FloorSize): number => atLeast44(size.wall ? 1.9 : 2.75, size);
export const twoLineHeight = (size: FloorSize): number => atLeast44(3.1, size);
/** A room says its name, its places and its air in one line where that is wide enough, else the air in a line of its own. */
export const roomHead = (size: FloorSize): number => atLeast44(size.wall ? 1.9 : 2.75, size);
export const airBesideFrom = 30;
