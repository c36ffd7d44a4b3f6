import type { Procedure, ReadinessPoint } from '../../machines/procedure/procedure.ts';
import { assistantsFree, lanesFor } from '../../machines/unit/questions.ts';
import { entriesOf, type UnitState } from '../../machines/unit/state.ts';
import type { LaneId, PersonId, PointId } from '../../machines/wire/ids.ts';
import { minutesUntil } from '../board/clock.ts';

/** A lane as the observer at the threshold sees it: whether this worker may step in, and if not, why not. */
export interface LaneChoice {
  lane: LaneId;
  name: string;
  may: boolean;
  is: 'free' | 'held-for-them' | 'held' | 'occupied' | 'turnover' | 'closed';
  /** Who is in it or holds it. */
  worker?: PersonId;
  minutesLeft?: number;
  because?: string;
}

export function laneChoices(state: UnitState, worker: PersonId, now: number): LaneChoice[] {
  const may = lanesFor(state, worker);
  return entriesOf(state.lanes)
    .map(([lane, { value, context }]): LaneChoice => ({
      lane,
      name: state.rules.lanes.find((one) => one.id === lane)?.name ?? lane,
      may: may.includes(lane),
      is: value === 'held' && context.worker === worker ? 'held-for-them' : value,
      ...(context.worker && context.worker !== worker && { worker: context.worker }),
      ...(value === 'turnover' && { minutesLeft: minutesUntil(context.turnoverUntil ?? 0, now) }),
      ...(context.closedBecause && { because: context.closedBecause }),
    }))
    .sort((a, b) => laneRank(a) - laneRank(b));
}

/** The lane that is theirs, then free ones, then what only an emergency may take, cleanest first. */
function laneRank({ is, may }: LaneChoice): number {
  const order = ['held-for-them', 'free', 'turnover', 'held', 'closed', 'occupied'] as const;
  return (may ? 0 : order.length) + order.indexOf(is);
}

export interface LaneDraft {
  lane?: LaneId;
  answers: Readonly<Partial<Record<PointId, 'yes'>>>;
  assistant?: PersonId;
  /** The point that was answered "not yet": it is put right, then asked again. */
  waitingFor?: PointId;
}
export const emptyLane: LaneDraft = { answers: {} };

export type LanePage =
  /** Emergency: one press steps in; an assistant may be named but need not. */
  | { ask: 'emergency'; choices: LaneChoice[]; assistants: PersonId[]; assistant?: PersonId }
  | { ask: 'lane'; choices: LaneChoice[] }
  | { ask: 'point'; choice: LaneChoice; point: ReadinessPoint; number: number; total: number; waiting: boolean }
  | { ask: 'assistant'; choice: LaneChoice; assistants: PersonId[] }
  | { ask: 'step-in'; choice: LaneChoice; confirmed: PointId[]; assistant?: PersonId };

export function lanePage(
  state: UnitState,
  about: { worker: PersonId; me: PersonId; procedure: Procedure; emergency: boolean; now: number },
  draft: LaneDraft,
): LanePage {
  const choices = laneChoices(state, about.worker, about.now);
  const assistants = about.procedure.doffingAssistant
    ? assistantsFree(state).filter((id) => id !== about.me && id !== about.worker)
    : [];
  const assistant = draft.assistant && assistants.includes(draft.assistant) ? draft.assistant : undefined;
  if (about.emergency) return { ask: 'emergency', choices, assistants, ...(assistant && { assistant }) };
  // A lane that somebody else took meanwhile is chosen anew.
  const choice = choices.find((one) => one.lane === draft.lane && one.may);
  if (!choice) return { ask: 'lane', choices };
  const points = about.procedure.laneReadiness;
  const index = points.findIndex((point) => draft.answers[point.id] === undefined);
  const point = points[index];
  if (point)
    return {
      ask: 'point',
      choice,
      point,
      number: index + 1,
      total: points.length,
      waiting: draft.waitingFor === point.id,
    };
  if (about.procedure.doffingAssistant && !assistant) return { ask: 'assistant', choice, assistants };
  return { ask: 'step-in', choice, confirmed: points.map((one) => one.id), ...(assistant && { assistant }) };
}
