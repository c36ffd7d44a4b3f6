import type { Forecast, PersonForecast } from './forecast.ts';
import type { Scenario, ScenarioObserver, ScenarioPerson } from './scenario.ts';

/** What a coordinator can do within the next minutes; every move is one act of one person. */
export type Move =
  /** Minutes: negative is earlier. */
  | { kind: 'call-out'; person: string; minutes: number }
  | { kind: 'reopen-lane'; lane: string }
  | { kind: 'shift-break'; observer: string; minutes: number }
  | { kind: 'swap-breaks'; observers: [string, string] }
  /** null: whoever is free. */
  | { kind: 'assign-observer'; person: string; observer: string | null };

export interface PossibleMove {
  move: Move;
  sentence: string;
  /** As it would be after the move. */
  scenario: Scenario;
}

const callOutShifts = [-20, -15, -10, -5, 5, 10, 15, 20];
const breakShifts = [-30, -15, 15, 30];
/** So many of those with the most trouble are thought about, and so many moves in all. */
const troubledMost = 8;
const movesMost = 200;

/** Every move there is for those who are likely to wait or to pass their limit, and for those they would meet. */
export function possibleMoves(scenario: Scenario, now: Forecast): PossibleMove[] {
  const troubled = now.people
    .filter((one) => troubleOf(one) > 0.25)
    .sort((a, b) => troubleOf(b) - troubleOf(a) || (a.id < b.id ? -1 : 1))
    .slice(0, troubledMost);
  if (troubled.length === 0) return [];
  return [
    ...reopenings(scenario),
    ...breakShiftsOf(scenario),
    ...breakSwaps(scenario),
    ...assignments(scenario, troubled),
    ...callOuts(scenario, now, troubled),
  ].slice(0, movesMost);
}

/** Expected minutes of waiting, a passed limit counted as an hour. */
const troubleOf = ({ waitMinutes, chanceOverLimit = 0 }: PersonForecast): number =>
  waitMinutes.mean + 60 * chanceOverLimit;

// ---- lanes and observers ---------------------------------------------------------------------------------------------------

/** A lane that reopens is cleaned before anybody uses it. */
function reopenings(scenario: Scenario): PossibleMove[] {
  return scenario.lanes.flatMap((lane) => {
    const closedFor = lane.closedForMinutes;
    if (closedFor === undefined || (closedFor !== null && closedFor <= lane.turnoverMinutes)) return [];
    const { closedForMinutes: _closed, ...open } = lane;
    const changed = { ...open, freeInMinutes: lane.turnoverMinutes };
    return {
      move: { kind: 'reopen-lane' as const, lane: lane.id },
      sentence: `Reopen lane ${lane.id} now; it is free after its turnover of ${lane.turnoverMinutes} min.`,
      scenario: { ...scenario, lanes: scenario.lanes.map((one) => (one === lane ? changed : one)) },
    };
  });
}

function withObservers(scenario: Scenario, changed: readonly ScenarioObserver[]): Scenario {
  const observers = scenario.observers.map((one) => changed.find(({ id }) => id === one.id) ?? one);
  return { ...scenario, observers };
}

/** Only the next break is moved: that is the one somebody is about to take. */
function breakShiftsOf(scenario: Scenario): PossibleMove[] {
  return scenario.observers.flatMap((observer) => {
    const next = nextBreak(observer);
    if (!next) return [];
    return breakShifts
      .filter((minutes) => next.startsInMinutes + minutes >= observer.availableInMinutes)
      .map((minutes) => ({
        move: { kind: 'shift-break' as const, observer: observer.id, minutes },
        sentence: `Move the next break of ${observer.id} ${direction(minutes)}.`,
        scenario: withObservers(scenario, [withBreak(observer, next.startsInMinutes + minutes)]),
      }));
  });
}

const nextBreak = ({ breaks }: ScenarioObserver) =>
  breaks.reduce<(typeof breaks)[number] | undefined>(
    (first, one) => (first && first.startsInMinutes <= one.startsInMinutes ? first : one),
    undefined,
  );

function withBreak(observer: ScenarioObserver, startsInMinutes: number): ScenarioObserver {
  const next = nextBreak(observer);
  return { ...observer, breaks: observer.breaks.map((one) => (one === next ? { ...one, startsInMinutes } : one)) };
}

function breakSwaps(scenario: Scenario): PossibleMove[] {
  return scenario.observers.flatMap((one, at) =>
    scenario.observers.slice(at + 1).flatMap((other) => {
      const [mine, theirs] = [nextBreak(one), nextBreak(other)];
      if (!mine || !theirs || mine.startsInMinutes === theirs.startsInMinutes) return [];
      if (Math.abs(mine.startsInMinutes - theirs.startsInMinutes) > 120) return [];
      const swapped = [withBreak(one, theirs.startsInMinutes), withBreak(other, mine.startsInMinutes)];
      return {
        move: { kind: 'swap-breaks' as const, observers: [one.id, other.id] as [string, string] },
        sentence: `Have ${one.id} and ${other.id} swap their next breaks.`,
        scenario: withObservers(scenario, swapped),
      };
    }),
  );
}

// ---- people ----------------------------------------------------------------------------------------------------------------

function withPerson(scenario: Scenario, changed: ScenarioPerson): Scenario {
  return { ...scenario, people: scenario.people.map((one) => (one.id === changed.id ? changed : one)) };
}

function assignments(scenario: Scenario, troubled: readonly PersonForecast[]): PossibleMove[] {
  return troubled.flatMap(({ id }) => {
    const person = scenario.people.find((one) => one.id === id)!;
    if (person.observer === undefined) return [];
    const others = scenario.observers.map((one) => one.id).filter((other) => other !== person.observer);
    return [null, ...others].map((observer) => ({
      move: { kind: 'assign-observer' as const, person: id, observer },
      sentence:
        observer === null
          ? `Let whoever is free observe ${id}, instead of ${person.observer}.`
          : `Assign ${observer} to ${id}, instead of ${person.observer}.`,
      scenario: withPerson(scenario, { ...person, observer: observer ?? undefined }),
    }));
  });
}

/** Those in trouble, and those likely to be in a lane when they come. */
function callOuts(scenario: Scenario, now: Forecast, troubled: readonly PersonForecast[]): PossibleMove[] {
  const moved = new Set([...troubled.map(({ id }) => id), ...troubled.flatMap((one) => metBy(now, one))]);
  return scenario.people
    .filter((one) => moved.has(one.id))
    .flatMap((person) =>
      shiftsFor(now, person.id).flatMap((minutes) => shiftedCallOut(scenario, person, minutes) ?? []),
    );
}

/** Whoever may well pass their limit is not called out later, however much that would shorten waits. */
function shiftsFor({ people }: Forecast, id: string): number[] {
  const chance = people.find((one) => one.id === id)?.chanceOverLimit ?? 0;
  return chance > 0.05 ? callOutShifts.filter((minutes) => minutes < 0) : callOutShifts;
}

const meetingMinutes = 45;
function metBy(now: Forecast, one: PersonForecast): string[] {
  const out = one.outInMinutes?.mean;
  if (out === undefined) return [];
  return now.people
    .filter((other) => other.outInMinutes && Math.abs(other.outInMinutes.mean - out) <= meetingMinutes)
    .map(({ id }) => id);
}

function shiftedCallOut(scenario: Scenario, person: ScenarioPerson, minutes: number): PossibleMove | undefined {
  const changed = withCallOut(person, minutes);
  if (!changed) return undefined;
  return {
    move: { kind: 'call-out', person: person.id, minutes },
    sentence: `Call ${person.id} out ${direction(minutes)} than now intended.`,
    scenario: withPerson(scenario, changed),
  };
}

function withCallOut(person: ScenarioPerson, minutes: number): ScenarioPerson | undefined {
  // Nobody is called out before now, and whoever should have been out already cannot be called later.
  const shifted = (from: number | undefined) =>
    from === undefined || from <= 0 || from + minutes < 0 ? undefined : from + minutes;
  if (person.stage === 'inside') {
    const callOutInMinutes = shifted(person.callOutInMinutes);
    return callOutInMinutes === undefined ? undefined : { ...person, callOutInMinutes };
  }
  if (person.stage === 'expected' || person.stage === 'donning') {
    const callOutAfterMinutes = shifted(person.callOutAfterMinutes);
    return callOutAfterMinutes === undefined ? undefined : { ...person, callOutAfterMinutes };
  }
  return undefined;
}

const direction = (minutes: number): string => `${Math.abs(minutes)} min ${minutes < 0 ? 'earlier' : 'later'}`;
