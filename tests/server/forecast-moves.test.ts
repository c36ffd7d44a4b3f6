import { describe, expect, it } from 'vitest';
import { clashMoves } from '../../server/rotation/forecast/clash-moves.ts';
import { forecast } from '../../server/rotation/forecast/forecast.ts';
import { possibleMoves } from '../../server/rotation/forecast/moves.ts';
import { readScenario, type Scenario, type ScenarioInput } from '../../server/rotation/forecast/scenario.ts';

function read(input: ScenarioInput): Scenario {
  const answer = readScenario(input);
  if (!answer.ok) throw new Error(answer.refusal.message);
  return answer.value;
}

const inside = (id: string, callOutInMinutes: number, more: object = {}) => ({
  id,
  stage: 'inside' as const,
  elapsedMinutes: 40,
  callOutInMinutes,
  limitInMinutes: callOutInMinutes + 60,
  ...more,
});

/** Two come to one lane at the same time; another is closed. */
const sameLane: ScenarioInput = {
  lanes: [
    { id: 'l1', turnoverMinutes: 10 },
    { id: 'l2', turnoverMinutes: 10, closedForMinutes: null },
  ],
  observers: [{ id: 'o1' }, { id: 'o2' }],
  people: [inside('a', 30), inside('b', 32)],
  settings: { runs: 600 },
};

const kinds = (scenario: ScenarioInput) => clashMoves(read(scenario)).map(({ move }) => move.kind);

describe('two exits at one lane', () => {
  const moves = clashMoves(read(sameLane));

  it('offers the closed lane and calling one of them out at another time, best first', () => {
    expect(moves[0]?.move).toEqual({ kind: 'reopen-lane', lane: 'l2' });
    expect(moves.map(({ move }) => move.kind)).toContain('call-out');
    expect(moves.length).toBeLessThanOrEqual(5);
    const left = moves.map(({ after }) => after.waitMinutes + 60 * after.overLimit);
    expect(left).toEqual([...left].sort((a, b) => a - b));
  });

  it('tells what each does to those it touches, as playing it says', () => {
    const now = forecast(read(sameLane));
    for (const { people, before, after } of moves) {
      expect(people.length).toBeGreaterThan(0);
      expect(after.waitMinutes + 60 * after.overLimit).toBeLessThan(before.waitMinutes + 60 * before.overLimit);
      for (const one of people) {
        const figures = now.people.find(({ id }) => id === one.id)!;
        expect(one.before).toEqual({
          chanceOfWaiting: figures.chanceOfWaiting.either,
          waitMinutesAtQuantile: figures.waitMinutes.atQuantile,
          waitMinutesMean: figures.waitMinutes.mean,
          chanceOverLimit: figures.chanceOverLimit,
        });
      }
    }
    const reopened = read({
      ...sameLane,
      lanes: [sameLane.lanes[0]!, { id: 'l2', turnoverMinutes: 10, freeInMinutes: 10 }],
    });
    const then = forecast(reopened).people.find(({ id }) => id === 'b')!;
    const told = moves[0]!.people.find(({ id }) => id === 'b')!;
    expect(told.after.waitMinutesMean).toBe(then.waitMinutes.mean);
    expect(told.after.chanceOverLimit).toBe(then.chanceOverLimit);
  });

  it('gives the same moves each time', () => {
    expect(clashMoves(read(sameLane))).toEqual(moves);
  });

  it('tells only one time of calling the same person out', () => {
    const called = moves.flatMap(({ move }) => (move.kind === 'call-out' ? [move.person] : []));
    expect(new Set(called).size).toBe(called.length);
  });
});

describe('what is offered', () => {
  it('is nothing where nobody waits', () => {
    expect(clashMoves(read({ ...sameLane, people: [inside('a', 30)] }))).toEqual([]);
    expect(clashMoves(read({ ...sameLane, people: [] }))).toEqual([]);
  });

  it('is nothing where nothing helps: one who waits, and no move there is', () => {
    const alone: ScenarioInput = {
      lanes: [{ id: 'l1', freeInMinutes: 30 }],
      observers: [{ id: 'o1' }],
      people: [{ id: 'w', stage: 'waiting', elapsedMinutes: 3 }],
    };
    expect(forecast(read(alone)).people[0]?.waitMinutes.mean).toBe(30);
    expect(clashMoves(read(alone))).toEqual([]);
  });

  it('moves a break that falls into an exit, or has two observers swap theirs', () => {
    const breaks: ScenarioInput = {
      lanes: [{ id: 'l1' }, { id: 'l2' }],
      observers: [
        { id: 'o1', breaks: [{ startsInMinutes: 33, minutes: 30 }] },
        { id: 'o2', dutyEndsInMinutes: 20 },
      ],
      people: [inside('a', 30)],
      settings: { runs: 400 },
    };
    expect(kinds(breaks)).toContain('shift-break');
    const two: ScenarioInput = {
      ...breaks,
      observers: [
        { id: 'o1', breaks: [{ startsInMinutes: 30, minutes: 40 }] },
        { id: 'o2', breaks: [{ startsInMinutes: 120, minutes: 40 }] },
      ],
      people: [inside('a', 30, { observer: 'o1' })],
      settings: { runs: 400, assignedObserverWaitMinutes: 60 },
    };
    expect(possibleMoves(read(two), forecast(read(two))).map(({ move }) => move.kind)).toContain('swap-breaks');
    expect(kinds(two)).toContain('swap-breaks');
  });

  it('assigns another observer when two were promised the same one', () => {
    const promised: ScenarioInput = {
      lanes: [{ id: 'l1' }, { id: 'l2' }],
      observers: [{ id: 'o1' }, { id: 'o2' }],
      people: [inside('a', 30, { observer: 'o1' }), inside('b', 31, { observer: 'o1' })],
      settings: { runs: 400, assignedObserverWaitMinutes: 60 },
    };
    const best = clashMoves(read(promised))[0];
    expect(best?.move.kind).toBe('assign-observer');
    expect(best?.before.waitMinutes).toBeGreaterThan(10);
    expect(best?.after.waitMinutes).toBeLessThan(1);
  });

  it('never calls later who may pass their limit, and never raises such a chance for others by more than a point', () => {
    const tight: ScenarioInput = {
      ...sameLane,
      lanes: [{ id: 'l1', turnoverMinutes: 10 }],
      people: [inside('a', 30, { limitInMinutes: 62 }), inside('b', 32, { limitInMinutes: 90 }), inside('c', 80)],
    };
    const scenario = read(tight);
    const risky = forecast(scenario).people.filter((one) => one.chanceOverLimit! > 0.05);
    expect(risky.length).toBeGreaterThan(0);
    const moves = clashMoves(scenario);
    expect(moves.length).toBeGreaterThan(0);
    for (const { move, people } of moves) {
      if (move.kind === 'call-out' && risky.some(({ id }) => id === move.person)) expect(move.minutes).toBeLessThan(0);
      for (const { before, after } of people)
        expect(after.chanceOverLimit!).toBeLessThanOrEqual(before.chanceOverLimit! + 0.01);
    }
  });

  it('calls nobody out before now', () => {
    const soon = { ...sameLane, people: [inside('a', 3), inside('b', 4)] };
    const moves = possibleMoves(read(soon), forecast(read(soon)));
    const earlier = moves.filter(({ move }) => move.kind === 'call-out' && move.minutes < 0);
    expect(earlier).toEqual([]);
    expect(moves.length).toBeGreaterThan(0);
  });
});
