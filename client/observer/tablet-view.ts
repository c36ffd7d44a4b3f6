import { phaseOf, placeOf } from '../../machines/unit/questions.ts';
import { at, type UnitState, type UnitWorker } from '../../machines/unit/state.ts';
import type { ObserverState } from '../../machines/observer/observer-machine.ts';
import type { Step } from '../../machines/procedure/procedure.ts';
import type { StepId } from '../../machines/wire/ids.ts';
import type { Report } from '../../machines/wire/report.ts';
import { guidedOf, type Guided, type Me } from './guided.ts';
import { needing, turnovers, type Needing, type Turnover } from './needing.ts';
import { doubtedStep } from './interruption.ts';
import { correctiveView, resumeAfter, stepView, type CorrectiveView, type StepView } from './step-view.ts';

/**
 * What the tablet shows, from the state of the unit, whose tablet it is and the time. Nothing else decides which page is open,
 * so a reload, or another tablet of the same observer, shows the same one.
 */
export type TabletView =
  | { at: 'not-an-observer' }
  | { at: 'off-duty'; inEntry: boolean }
  | { at: 'break'; since: number }
  | { at: 'free'; unwatched: Needing[]; withOthers: Needing[]; turnovers: Turnover[] }
  | GuidedView;

export type GuidedView =
  | { at: 'pre-check'; guided: Guided; held?: 'vitals-out-of-bounds' | 'not-ready' }
  | { at: 'kit'; guided: Guided }
  | ({ at: 'step'; guided: Guided } & StepView)
  | ({ at: 'corrective'; guided: Guided } & CorrectiveView)
  /** After an interruption: was this done and seen? */
  | { at: 'recheck'; guided: Guided; step: Step }
  | { at: 'inspection'; guided: Guided }
  | { at: 'door'; guided: Guided }
  | { at: 'inside'; guided: Guided }
  | { at: 'through-door'; guided: Guided; lanesFree: boolean }
  | { at: 'threshold'; guided: Guided }
  | { at: 'post-check'; guided: Guided; held: boolean };

export interface Moment {
  /** Server time. */
  now: number;
  /** When this page was opened, server time. */
  openedAt: number;
  /** Reports that have been waiting here for longer than a blink. */
  unsent: readonly Report[];
  /** The open step that the observer picked instead of the first. */
  chosen?: StepId;
  /** Steps that were done when this page began to guide this worker, and those of them asked about since. */
  before?: readonly StepId[];
  answered?: readonly StepId[];
}

export function tabletView(state: UnitState, me: Me, moment: Moment): TabletView {
  const observer = at(state.observers, me.person);
  if (!observer) return { at: 'not-an-observer' };
  const worker = observer.context.worker;
  const guided = worker && guidedOf(state, worker, moment.now);
  const found = worker && at(state.workers, worker);
  if (guided && found) return guidedView(state, observer, guided, found, moment);
  // A silent tablet that opens again is what it was before, until the server has heard it.
  const place = observer.value === 'unreachable' ? observer.context.before : observer.value;
  if (place === 'off-shift') return { at: 'off-duty', inEntry: isInEntry(state, me) };
  if (place === 'break') return { at: 'break', since: observer.context.since };
  return { at: 'free', ...needing(state, me.person), turnovers: turnovers(state, moment.now) };
}

function isInEntry(state: UnitState, me: Me): boolean {
  const worker = at(state.workers, me.person);
  return worker !== undefined && placeOf(worker.machine) !== 'rest';
}

/** On duty, but at another tablet: its silence, and not this one's, would be taken for the observer's. */
export function isOnAnotherTablet(state: UnitState, me: Me): boolean {
  const device = at(state.observers, me.person)?.context.device;
  return device !== undefined && device !== me.device;
}

function guidedView(
  state: UnitState,
  observer: ObserverState,
  guided: Guided,
  worker: UnitWorker,
  moment: Moment,
): GuidedView {
  switch (guided.place) {
    case 'screening':
      return { at: 'pre-check', guided };
    case 'held':
      return { at: 'pre-check', guided, held: heldBecause(guided) };
    case 'kit':
      return { at: 'kit', guided };
    case 'donning':
    case 'leaving':
    case 'stepping':
    case 'corrective':
      return stepping(state, observer, guided, worker, moment);
    case 'inspection':
      return { at: 'inspection', guided };
    case 'donned':
      return { at: 'door', guided };
    case 'working':
      return { at: 'inside', guided };
    case 'at-threshold':
      return { at: 'threshold', guided };
    case 'measuring':
    case 'rest':
      return { at: 'post-check', guided, held: false };
    case 'held-after':
      return { at: 'post-check', guided, held: true };
    default: {
      const never: never = guided.place;
      throw new Error(`no page for ${String(never)}`);
    }
  }
}

const heldBecause = ({ entry }: Guided): 'vitals-out-of-bounds' | 'not-ready' =>
  entry.screening === 'not-ready' ? 'not-ready' : 'vitals-out-of-bounds';

/** Steps of donning, leaving and doffing: first whatever went wrong, then the next step, then what follows the last one. */
function stepping(
  state: UnitState,
  observer: ObserverState,
  guided: Guided,
  worker: UnitWorker,
  moment: Moment,
): GuidedView {
  const { entry, procedure } = guided;
  const phase = phaseOf(worker.machine);
  const about = moment.unsent.filter((one) => 'worker' in one.data && one.data.worker === guided.worker);
  const corrective = correctiveView(procedure, entry, about);
  if (corrective) return { at: 'corrective', guided, ...corrective };
  const step = phase && stepView(procedure, entry, phase, moment.chosen);
  if (!step) return { at: 'through-door', guided, lanesFree: hasLane(state, guided) };
  const doubted = doubtedStep(procedure, entry, step.phase, moment.before ?? [], moment.answered ?? []);
  if (doubted) return { at: 'recheck', guided, step: doubted };
  const when = { lastAt: worker.lastAt, takenAt: observer.context.since, ...moment };
  const resume = resumeAfter(procedure, entry, step.phase, when);
  return { at: 'step', guided, ...step, ...(resume && { resumeAfter: resume }), unsent: about.length > 0 };
}

const hasLane = (state: UnitState, guided: Guided): boolean =>
  Object.values(state.lanes).some(
    (lane) => lane.value === 'free' || (lane.value === 'held' && lane.context.worker === guided.worker),
  );

/** Whether a page is about a worker being guided. */
export const isGuided = (view: TabletView): view is GuidedView => 'guided' in view;
