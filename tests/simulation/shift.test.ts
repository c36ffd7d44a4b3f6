import { describe, expect, it } from 'vitest';
import { foldAll } from '../../machines/unit/fold.ts';
import { guideOf, isInPpe, placeOf, workersIn } from '../../machines/unit/questions.ts';
import { entriesOf, type UnitState } from '../../machines/unit/state.ts';
import { minutesInPpe } from '../../machines/worker/worker-machine.ts';
import { everydayLuck } from '../../server/drill/habits.ts';
import { verifyChain } from '../../server/log/hash-chain.ts';
import { demoUnit } from '../support/demo-unit.ts';
import { Rehearsal } from '../support/rehearsal.ts';

const startAt = Date.parse('2026-03-02T06:00:00Z');
const hours = (count: number): number => count * 3_600_000;
const unit = demoUnit('2026-03-02');
const seeds = [101, 102, 103, 104, 105, 106];

function play(seed: number, watchEvery: (state: UnitState, now: number) => void): Rehearsal {
  const rehearsal = new Rehearsal(unit.settings.id, unit.opening, startAt, seed, everydayLuck);
  rehearsal.play(startAt + hours(8), (state) => {
    watchEvery(state, rehearsal.now);
    return false;
  });
  return rehearsal;
}

/** What must hold at every moment of every shift. */
function expectSafe(state: UnitState): void {
  const highAlerts = Object.values(state.alerts).filter((alert) => alert.context.priority === 'high');
  for (const [id] of workersIn(state, 'doffing'))
    if (!guideOf(state, id)) expect(highAlerts.some((alert) => alert.context.worker === id)).toBe(true);
  const inLanes = Object.values(state.lanes).flatMap((lane) =>
    lane.value === 'occupied' ? [lane.context.worker] : [],
  );
  expect(new Set(inLanes).size).toBe(inLanes.length);
  const guided = Object.values(state.observers).flatMap((observer) => observer.context.worker ?? []);
  expect(new Set(guided).size).toBe(guided.length);
}

describe.each(seeds)('a shift of eight hours, seed %i', (seed) => {
  const seen = new Set<string>();
  const rehearsal = play(seed, (state) => {
    expectSafe(state);
    for (const { machine } of Object.values(state.workers)) seen.add(placeOf(machine));
  });

  it('takes people through the whole chain and out again', () => {
    const count = (kind: string) => rehearsal.facts.filter((fact) => fact.kind === kind).length;
    expect([...seen].sort()).toEqual(['doffing', 'donned', 'inside', 'post-check', 'pre-check', 'rest']);
    expect(count('post-check-recorded')).toBeGreaterThanOrEqual(8);
    expect(count('room-entered')).toBeGreaterThanOrEqual(count('room-left') + count('emergency-declared') - 1);
  });

  it('strands nobody: no one is in equipment for twice the longest limit', () => {
    const longest = Math.max(...unit.procedures.map((one) => one.limit.minutes));
    for (const [, { machine }] of entriesOf(rehearsal.state.workers))
      if (isInPpe(machine) && machine.context.entry)
        expect(minutesInPpe(machine.context.entry, rehearsal.now)).toBeLessThan(2 * longest);
  });

  it('leaves a log whose chain holds and whose fold is the state (promise 3)', async () => {
    expect(await verifyChain(rehearsal.facts)).toMatchObject({ ok: true, count: rehearsal.facts.length });
    expect(JSON.parse(JSON.stringify(foldAll(undefined, rehearsal.facts)))).toEqual(
      JSON.parse(JSON.stringify(rehearsal.state)),
    );
  });
});

it('is the same shift for the same seed', () => {
  const [once, again] = [play(7, () => undefined), play(7, () => undefined)];
  expect(again.facts.map((fact) => fact.hash)).toEqual(once.facts.map((fact) => fact.hash));
});
