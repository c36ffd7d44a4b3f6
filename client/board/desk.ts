import type { UnitState } from '../../machines/unit/state.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import type { Refusal } from '../../machines/wire/refusal.ts';
import type { ReportData, ReportKind } from '../../machines/wire/report.ts';
import type { Ahead } from '../forecast/forecast-feed.svelte.ts';
import type { FloorNames } from './floor-names.ts';
import type { StandAt } from './standing.ts';

/** What the sheets of the board work with: the unit as it is seen, and a way to ask and to send. */
export interface Desk {
  state: UnitState;
  names: FloorNames;
  now: number;
  me: PersonId;
  /** What the forecast says, as far as this screen knows it. */
  ahead?: Ahead;
  /** Why the unit would refuse this now; undefined when it would not. */
  refusal: <K extends ReportKind>(kind: K, data: ReportData<K>) => Refusal | undefined;
  send: <K extends ReportKind>(kind: K, data: ReportData<K>) => void;
}

/** What may be asked about a person where they stand, in the order in which it is offered. */
export type PersonAct = 'call' | 'call-out' | 'assign' | 'hold-lane' | 'emergency' | 'breach' | 'cancel' | 'stand-down';

const actsAt: Readonly<Record<StandAt, readonly PersonAct[]>> = {
  ready: ['call', 'stand-down', 'breach'],
  resting: ['call', 'stand-down', 'breach'],
  'stood-down': ['call', 'breach'],
  'pre-check': ['assign', 'cancel', 'breach'],
  door: ['assign', 'hold-lane', 'emergency', 'breach'],
  room: ['call-out', 'assign', 'hold-lane', 'emergency', 'breach'],
  threshold: ['assign', 'hold-lane', 'emergency', 'breach'],
  lane: ['assign', 'emergency', 'breach'],
  assisting: [],
  'post-check': ['assign', 'stand-down', 'breach'],
};

export const actsFor = (at: StandAt): readonly PersonAct[] => actsAt[at];
