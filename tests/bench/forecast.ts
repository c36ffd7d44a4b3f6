import { forecast } from '../../server/rotation/forecast/forecast.ts';
import { readScenario, type ScenarioInput } from '../../server/rotation/forecast/scenario.ts';

/**
 * How many runs of four hours with forty people one core plays in a second. The machine's own speed is measured in turns with
 * it, by a computation that never changes, so that figures of two machines, or of two days, can be compared.
 */
const rounds = 9;
const runs = 10_000;

/** Forty people: some in every stage, the others expected one after the other; four lanes, twelve observers with breaks. */
export const fortyPeople: ScenarioInput = {
  lanes: Array.from({ length: 4 }, (_, at) => ({ id: `lane ${at + 1}`, turnoverMinutes: 10 + (at % 2) * 2 })),
  observers: Array.from({ length: 12 }, (_, at) => ({
    id: `observer ${at + 1}`,
    breaks: [{ startsInMinutes: 20 + 15 * at, minutes: 30 }],
  })),
  people: [
    { id: 'in lane', stage: 'doffing', lane: 'lane 1', guidedBy: 'observer 1', elapsedMinutes: 9, limitInMinutes: 30 },
    { id: 'at threshold', stage: 'waiting', elapsedMinutes: 2, limitInMinutes: 35 },
    { id: 'on the way', stage: 'leaving', elapsedMinutes: 1, emergency: true, limitInMinutes: 50 },
    { id: 'donning', stage: 'donning', guidedBy: 'observer 2', elapsedMinutes: 8, limitAfterMinutes: 120 },
    ...Array.from({ length: 8 }, (_, at) => ({
      id: `inside ${at + 1}`,
      stage: 'inside' as const,
      elapsedMinutes: 5 + 6 * at,
      callOutInMinutes: 75 - 7 * at,
      limitInMinutes: 120 - 7 * at,
      inside: { median: 70, p90: 90 },
    })),
    ...Array.from({ length: 28 }, (_, at) => ({
      id: `expected ${at + 1}`,
      stage: 'expected' as const,
      startsInMinutes: 5 + 7 * at,
      callOutAfterMinutes: 80,
      limitAfterMinutes: 125,
    })),
  ],
  settings: { runs, horizonMinutes: 240, seed: 7 },
};

const read = readScenario(fortyPeople);
if (!read.ok) throw new Error(read.refusal.message);
const scenario = read.value;

/** Twenty million steps of a multiplicative generator (Park and Miller 1988): whole numbers, one core, no memory. */
function fixedComputation(): number {
  let value = 1;
  for (let step = 0; step < 20_000_000; step += 1) value = (value * 48_271) % 2_147_483_647;
  return value;
}

function secondsOf(work: () => unknown): number {
  const start = process.hrtime.bigint();
  work();
  return Number(process.hrtime.bigint() - start) / 1e9;
}

const times: { machine: number; ours: number }[] = [];
for (let round = -2; round < rounds; round += 1) {
  const seed = 100 + round;
  const machine = secondsOf(fixedComputation);
  const ours = secondsOf(() => forecast({ ...scenario, settings: { ...scenario.settings, seed } }));
  if (round >= 0) times.push({ machine, ours });
}

const middle = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[(values.length - 1) / 2]!;
const range = (values: readonly number[]): string =>
  `${Math.min(...values).toFixed(3)} to ${Math.max(...values).toFixed(3)}`;
const ours = times.map((one) => one.ours);
const machine = times.map((one) => one.machine);
console.log(`${runs} runs of 4 h with 40 people: ${middle(ours).toFixed(3)} s   (${range(ours)})`);
console.log(`that is ${Math.round(runs / middle(ours))} runs/s   (goal 10 000)`);
console.log(`fixed computation of this machine: ${middle(machine).toFixed(3)} s   (${range(machine)})`);
console.log(`runs per fixed computation: ${Math.round(middle(times.map((one) => (runs * one.machine) / one.ours)))}`);
console.log(`medians of ${rounds} interleaved rounds, node ${process.version}`);
