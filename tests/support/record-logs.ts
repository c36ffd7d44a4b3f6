import { mkdirSync, writeFileSync } from 'node:fs';
import { workersIn } from '../../machines/unit/questions.ts';
import { entriesOf, type UnitState } from '../../machines/unit/state.ts';
import type { LaneId, PersonId } from '../../machines/wire/ids.ts';
import { cleanLuck } from '../../server/drill/habits.ts';
import { demoUnit } from './demo-unit.ts';
import { Rehearsal } from './rehearsal.ts';

/**
 * Records the demo logs: `npx tsx tests/support/record-logs.ts`. The same code gives the same logs, byte for byte; a test
 * replays them on every change. Three shifts of the invented unit: a clean one, one with a breach and an emergency exit, and
 * one where two people want the same lane.
 */
const minutes = (count: number): number => count * 60_000;
const startAt = Date.parse('2026-03-02T06:00:00Z');
const folder = new URL('../../demo-data/logs/', import.meta.url);

export const stories = {
  'clean-shift': cleanShift,
  'breach-and-emergency': breachAndEmergency,
  'same-lane': sameLane,
} as const;

function shift(seed: number, entriesAtMost: number): Rehearsal {
  const unit = demoUnit('2026-03-02');
  const rehearsal = new Rehearsal(unit.settings.id, unit.opening, startAt, seed, cleanLuck);
  // No more calls than the story needs: everybody is out and rested when the log ends.
  rehearsal.veto = (_, intent) => intent.kind === 'call-worker' && called(rehearsal) >= entriesAtMost;
  return rehearsal;
}

const called = (rehearsal: Rehearsal): number => rehearsal.facts.filter((fact) => fact.kind === 'worker-called').length;
/** Everybody is out and rested, and nothing is left to answer. */
const isOver = (state: UnitState): boolean =>
  Object.values(state.workers).every(({ machine }) => !machine.context.entry && !machine.context.rest) &&
  Object.keys(state.alerts).length === 0;

function cleanShift(): Rehearsal {
  const rehearsal = shift(56, 6);
  rehearsal.play(startAt + minutes(30));
  rehearsal.play(startAt + minutes(480), isOver);
  return rehearsal;
}

/** A sharp goes through both gloves of somebody inside; they leave by emergency exit, and the safety officer signs it off. */
function breachAndEmergency(): Rehearsal {
  const rehearsal = shift(11, 4);
  rehearsal.play(startAt + minutes(480), (state) => workersIn(state, 'inside', 'working').length >= 2);
  rehearsal.play(rehearsal.now + minutes(9));
  const hurt = firstInside(rehearsal.state);
  rehearsal.say('observer', 'declare-breach', { worker: hurt, breachKind: 'sharp-injury' });
  rehearsal.play(rehearsal.now + 20_000);
  rehearsal.say('observer', 'declare-emergency', { worker: hurt, reason: 'sharp injury' });
  rehearsal.play(startAt + minutes(480), isOver);
  return rehearsal;
}

/** One lane is closed for a spill while two people are inside; both are called out and only one lane is left. */
function sameLane(): Rehearsal {
  const rehearsal = shift(5, 3);
  rehearsal.play(startAt + minutes(480), (state) => workersIn(state, 'inside', 'working').length >= 3);
  rehearsal.play(rehearsal.now + minutes(12));
  const [lane] = entriesOf(rehearsal.state.lanes)[1] as [LaneId, unknown];
  rehearsal.say('coordinator', 'close-lane', { lane, reason: 'spill on the floor' });
  for (const [worker] of workersIn(rehearsal.state, 'inside', 'working').slice(0, 2))
    rehearsal.say('coordinator', 'call-out', { worker, reason: 'two are wanted elsewhere' });
  rehearsal.play(rehearsal.now + minutes(14));
  rehearsal.say('coordinator', 'reopen-lane', { lane });
  rehearsal.play(startAt + minutes(480), isOver);
  return rehearsal;
}

function firstInside(state: UnitState): PersonId {
  const first = workersIn(state, 'inside', 'working')[0];
  if (!first) throw new Error('nobody is inside');
  return first[0];
}

if (process.argv[1]?.endsWith('record-logs.ts')) {
  mkdirSync(folder, { recursive: true });
  for (const [name, play] of Object.entries(stories)) {
    const { facts } = play();
    writeFileSync(new URL(`${name}.jsonl`, folder), facts.map((fact) => `${JSON.stringify(fact)}\n`).join(''));
    console.log(`${name}: ${facts.length} facts`);
  }
}
