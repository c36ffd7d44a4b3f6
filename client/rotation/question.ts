import type { PlannedTrip } from '../../machines/unit/rotation.ts';
import { entriesOf, type UnitState } from '../../machines/unit/state.ts';
import type { ProcedureId, RoomId } from '../../machines/wire/ids.ts';

/** What is asked of the planner, and what is typed into the form until it is that. */
export interface Question {
  hours: number;
  procedure: ProcedureId;
  staffInside: Record<RoomId, number>;
  observers: 'roster' | 'on-duty';
  locked: readonly PlannedTrip[];
  whatIf?: { observersLess: number; lanesMore: number; doffingLongerPct: number };
  seconds: number;
}

export interface Typed {
  hours: string;
  procedure: ProcedureId | undefined;
  staff: Readonly<Record<RoomId, number>>;
  observers: Question['observers'];
  seconds: string;
  observersLess: string;
  lanesMore: string;
  doffingLongerPct: string;
}

export const bounds = {
  hours: [4, 24],
  seconds: [1, 120],
  observersLess: [0, 20],
  lanesMore: [0, 10],
  doffingLongerPct: [0, 200],
} as const satisfies Record<string, readonly [number, number]>;
export type NumberField = keyof typeof bounds;

/** One person in each room over the coming eight hours: something to begin with. */
export function typedAtFirst(state: UnitState): Typed {
  const staff: Record<RoomId, number> = {};
  for (const { id } of state.rules.rooms) staff[id] = state.rotation?.staffInside?.[id] ?? 1;
  return {
    ...{ hours: '8', seconds: '10', observersLess: '0', lanesMore: '0', doffingLongerPct: '0' },
    ...{ staff, observers: 'roster' },
    procedure: state.rotation?.trips[0]?.procedure ?? entriesOf(state.adopted)[0]?.[0],
  };
}

export type QuestionRead =
  { ok: true; question: Omit<Question, 'locked'> } | { ok: false; wrong: readonly NumberField[]; nobody: boolean };

export function readTyped(typed: Typed): QuestionRead {
  const fields = Object.keys(bounds) as NumberField[];
  const wrong = fields.filter((field) => numberIn(typed, field) === undefined);
  const nobody = Object.values(typed.staff).every((count) => count === 0);
  const { procedure, observers } = typed;
  if (wrong.length > 0 || nobody || !procedure) return { ok: false, wrong, nobody };
  const value = (field: NumberField) => numberIn(typed, field) ?? 0;
  const whatIf = {
    observersLess: value('observersLess'),
    lanesMore: value('lanesMore'),
    doffingLongerPct: value('doffingLongerPct'),
  };
  const isWhatIf = Object.values(whatIf).some((one) => one > 0);
  const about = { hours: value('hours'), seconds: value('seconds'), procedure, observers };
  return { ok: true, question: { ...about, staffInside: { ...typed.staff }, ...(isWhatIf && { whatIf }) } };
}

function numberIn(typed: Typed, field: NumberField): number | undefined {
  const text = typed[field].trim();
  const [least, most] = bounds[field];
  if (!/^\d{1,4}$/.test(text)) return undefined;
  const value = Number(text);
  return value >= least && value <= most ? value : undefined;
}
