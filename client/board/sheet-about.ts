import type { LaneId, PersonId, RoomId } from '../../machines/wire/ids.ts';

/** What a sheet is about. One is open at a time. */
export type SheetAbout =
  | { open: 'person'; person: PersonId }
  | { open: 'lane'; lane: LaneId }
  | { open: 'call'; room: RoomId }
  | { open: 'air'; room: RoomId }
  | { open: 'what-if'; person?: PersonId }
  | { open: 'people'; people: PersonId[] }
  | { open: 'alerts' }
  | { open: 'ahead' }
  | { open: 'ahead-what-if' }
  | { open: 'reading' };
