import { drawsOf, type DrawnStage, type Draws } from './draws.ts';
import { emptyFloor, laneClosed, laneTurnover, stageNumbers, type Floor } from './floor.ts';
import type { Scenario, ScenarioPerson } from './scenario.ts';
import { logNormalOf, remainingOf, type Remaining, type Spread } from './spread.ts';

export interface Compiled {
  floor: Floor;
  draws: Draws;
}

/** A scenario that has been read, by number: ids become places in arrays, spreads become what is drawn. */
export function compile(scenario: Scenario): Compiled {
  const { lanes, observers, people, settings } = scenario;
  const breaks = observers.flatMap((one, observer) => one.breaks.map((each) => ({ ...each, observer })));
  const floor = emptyFloor(people.length, lanes.length, observers.length, breaks.length);
  floor.postCheckMinutes = settings.postCheckMinutes;
  floor.patienceMinutes = settings.assignedObserverWaitMinutes;
  setLanes(floor, scenario);
  for (const [at, one] of observers.entries()) {
    floor.observerFrom[at] = one.availableInMinutes;
    floor.observerUntil[at] = one.dutyEndsInMinutes ?? Infinity;
  }
  for (const [at, one] of breaks.entries()) {
    floor.breakObserver[at] = one.observer;
    floor.breakStart[at] = one.startsInMinutes;
    floor.breakMinutes[at] = one.minutes;
  }
  for (const [at, one] of people.entries()) setPerson(floor, scenario, one, at);
  const names = people.map(({ id }) => id);
  return { floor, draws: drawsOf(settings.seed, names, (at, stage) => remaining(people[at]!, stage, settings)) };
}

function setLanes(floor: Floor, { lanes, people }: Scenario): void {
  for (const [at, one] of lanes.entries()) {
    floor.turnover[at] = one.turnoverMinutes;
    if (one.freeInMinutes !== undefined) {
      floor.laneStateNow[at] = laneTurnover;
      floor.laneReadyAt[at] = one.freeInMinutes;
    }
    if (one.closedForMinutes !== undefined) {
      floor.laneStateNow[at] = laneClosed;
      floor.laneReadyAt[at] = one.closedForMinutes ?? Infinity;
    }
    const holder = people.findIndex(({ id }) => id === one.heldFor);
    if (holder >= 0) floor.laneNow[holder] = at;
  }
}

function setPerson(floor: Floor, scenario: Scenario, one: ScenarioPerson, at: number): void {
  const observer = (id: string | undefined) => scenario.observers.findIndex((other) => other.id === id);
  floor.stage[at] = stageNumbers[one.stage];
  floor.isEmergency[at] = one.emergency ? 1 : 0;
  floor.assigned[at] = observer(one.observer);
  if ('guidedBy' in one) floor.guideNow[at] = observer(one.guidedBy);
  switch (one.stage) {
    case 'expected':
    case 'donning':
      floor.startAt[at] = one.stage === 'expected' ? one.startsInMinutes : 0;
      floor.callOutAfter[at] = one.callOutAfterMinutes ?? Infinity;
      floor.limitAfter[at] = one.limitAfterMinutes ?? Infinity;
      return;
    case 'inside':
      floor.callOutAfter[at] = one.callOutInMinutes ?? Infinity;
      break;
    case 'leaving':
      break;
    case 'waiting':
      floor.cameAt[at] = -one.elapsedMinutes;
      break;
    case 'doffing':
      floor.laneNow[at] = scenario.lanes.findIndex(({ id }) => id === one.lane);
      break;
    default:
      one satisfies never;
  }
  floor.limitAfter[at] = one.limitInMinutes ?? Infinity;
}

const untilCalled: Remaining = { scale: Infinity, sigma: 0, shift: 0, tail: 1, passed: 0 };

/** What is left of a stage: of the one they are in, given what has passed of it; of all others, everything. */
function remaining(one: ScenarioPerson, stage: DrawnStage, settings: Scenario['settings']): Remaining {
  const own = stage in one ? (one as Partial<Record<DrawnStage, Spread>>)[stage] : undefined;
  if (stage === 'inside' && own === undefined && 'callOutInMinutes' in one && one.callOutInMinutes !== undefined)
    return untilCalled;
  return remainingOf(logNormalOf(own ?? settings[stage]), one.stage === stage ? one.elapsedMinutes : 0);
}
