import { words } from '../words/words.ts';
import { onPlanWithinMinutes, type AgainstPlan, type CannotGo } from './against-plan.ts';
import { wallClock } from './clock.ts';
import type { FloorNames } from './floor-names.ts';

/** The line of a tile in two parts. Where there is no room for both, the one that matters stays. */
export interface PlanLine {
  planned: string;
  off: string;
  /** Reality has left the plan: then that matters, else the planned time. */
  hasLeft: boolean;
}

export function planLine(against: AgainstPlan): PlanLine {
  const { against: text } = words.rotation;
  if (against.is === 'not-in-plan') return notInPlan(against);
  const planned = text.planned(wallClock(against.plannedAt));
  if (against.is === 'cannot-go') return { planned, off: text.cannotGo, hasLeft: true };
  if (against.is === 'to-be-called') return { planned, ...callLine(against.minutes) };
  return { planned, ...offLine(against.minutes, against.is === 'comes-out' && against.by === 'forecast') };
}

function notInPlan({ before, nextAt }: Extract<AgainstPlan, { is: 'not-in-plan' }>): PlanLine {
  const { against: text } = words.rotation;
  const planned = nextAt === undefined ? '' : text.nextPlanned(wallClock(nextAt));
  if (before) return { planned: planned || text.before, off: '', hasLeft: false };
  return { planned, off: text.notInPlan, hasLeft: true };
}

/** A call is due from its minute on, and late from when a plan no longer hides it. */
function callLine(minutes: number): Omit<PlanLine, 'planned'> {
  if (minutes >= onPlanWithinMinutes) return { off: words.rotation.against.late(minutes), hasLeft: true };
  return { off: '', hasLeft: false };
}

function offLine(minutes: number, isExpected: boolean): Omit<PlanLine, 'planned'> {
  const { against: text } = words.rotation;
  if (Math.abs(minutes) < onPlanWithinMinutes) return { off: text.onPlan, hasLeft: false };
  const off = minutes < 0 ? text.early(-minutes) : text.late(minutes);
  return { off: isExpected ? text.about(off) : off, hasLeft: true };
}

/** The same as one sentence, for the sheet and for whoever hears the board instead of seeing it. */
export function planSentence(against: AgainstPlan, names: FloorNames): string {
  const { against: text } = words.rotation;
  if (against.is === 'not-in-plan') {
    const next = against.nextAt === undefined ? '' : ` ${text.said.nextAt(wallClock(against.nextAt))}`;
    return `${against.before ? text.beforeLong : text.notInPlanLong}${next}`;
  }
  const time = wallClock(against.plannedAt);
  const off = offWords(against.minutes);
  if (against.is === 'to-be-called') return text.said.toBeCalled(time, against.minutes);
  if (against.is === 'cannot-go') return text.said.cannotGo(time, because(against.because));
  const room = against.otherRoom === undefined ? '' : ` ${text.said.otherRoom(names.room(against.otherRoom))}`;
  if (against.is !== 'comes-out') return `${text.said[against.is](time, off)}${room}`;
  return `${text.said['comes-out'][against.by](time, off)}${room}`;
}

function offWords(minutes: number): string {
  const { against: text } = words.rotation;
  if (minutes === 0) return text.toTheMinute;
  return minutes < 0 ? text.early(-minutes) : text.late(minutes);
}

const because = (reason: CannotGo): string => words.rotation.against.cannotGoBecause[reason];
