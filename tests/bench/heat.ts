import { phs, p_sat } from 'jsthermalcomfort';
import { limitsOf } from '../../server/heat/limits.ts';
import { readLimitsInput } from '../../server/heat/limits-input.ts';
import { advance, predict, startStrain, stepMinute } from '../../server/heat/predicted-heat-strain.ts';
import { prepareConditions } from '../../server/heat/strain-conditions.ts';
import type { StrainInput } from '../../server/heat/strain-input.ts';

/**
 * How fast the limits are: every candidate takes a short turn of 2 to 4 ms in every round, so that a slow moment of the machine hits
 * all alike; a ratio is taken within each round, and the median of the rounds counts. Inputs differ from call to call; results are
 * added up, so that nothing is optimised away.
 */
const rounds = 151;
let used = 0;

interface Candidate {
  name: string;
  calls: number;
  /** Microseconds per call, one per round. */
  times: number[];
  run: (call: number) => number;
}

const candidate = (name: string, calls: number, run: (call: number) => number): Candidate => ({
  name,
  calls,
  times: [],
  run,
});

function measure({ calls, times, run }: Candidate, isWarmUp: boolean) {
  const start = process.hrtime.bigint();
  for (let call = 0; call < calls; call += 1) used += run(call);
  const perCall = Number(process.hrtime.bigint() - start) / 1000 / calls;
  if (!isWarmUp) times.push(perCall);
}

const middle = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[(values.length - 1) / 2]!;

const tent: StrainInput = {
  weightKg: 75,
  heightM: 1.8,
  acclimatised: true,
  drinkingFreely: true,
  airTemperatureC: 32,
  radiantTemperatureC: 36,
  vapourPressureKPa: 2.8,
  airSpeedMs: 0.2,
  metabolicRateWm2: 130,
  clothingInsulationClo: 0.9,
  permeabilityIndex: 0.38,
  posture: 'standing',
  durationMin: 480,
};
const asked = (call: number): StrainInput => ({ ...tent, airTemperatureC: 32 + (call % 97) / 100 });

const wholeRun = candidate('one 480-min run, ours', 60, (call) => {
  const answer = predict(asked(call));
  return answer.ok ? answer.value.rectalTemperatureC : NaN;
});

const theirRun = candidate('one 480-min run, jsthermalcomfort 0.0.2', 4, (call) => {
  const { airTemperatureC, radiantTemperatureC, vapourPressureKPa, airSpeedMs, metabolicRateWm2 } = asked(call);
  const humidity = (vapourPressureKPa * 1e5) / p_sat(airTemperatureC);
  return phs(airTemperatureC, radiantTemperatureC, humidity, airSpeedMs, metabolicRateWm2, 0.9, 2).t_re;
});

const prepared = prepareConditions(tent, tent);
let live = startStrain();
const liveStep = candidate('one live step', 20_000, () => {
  live = live.minute >= 480 ? startStrain() : stepMinute(live, prepared);
  return live.rectalTemperatureC;
});

const halfway = advance(startStrain(), prepared, 60);
const otherRoom = candidate('another room: prepare anew and step', 2500, (call) => {
  const input = asked(call);
  return stepMinute(halfway, prepareConditions(input, input)).rectalTemperatureC;
});

/** Forty people, each with their own size, work and room: what a change of climate in the whole unit costs. */
const workers = Array.from({ length: 40 }, (_, index) => ({
  airTemperatureC: 22 + index / 4,
  relativeHumidityPct: 40 + index,
  airSpeedMs: 0.15,
  metabolicRateW: 180 + 5 * index,
  clothingInsulationClo: 1,
  permeabilityIndex: 0.38,
  posture: 'standing',
  acclimatised: index % 2 === 0,
  drinkingFreely: false,
  weightKg: 55 + index,
  heightM: 1.6 + index / 200,
  durationMin: 240,
  ensemble: 'limited-use-vapour-barrier-coverall',
}));

const everybody = candidate('limits of 40 workers, 240 min ahead', 2, () => {
  let minutes = 0;
  for (const worker of workers) {
    const question = readLimitsInput(worker);
    if (!question.ok) throw new Error(question.refusal.message);
    const limits = limitsOf(question.value);
    if (!limits.ok) throw new Error(limits.refusal.message);
    minutes += limits.value.governing.minutes;
  }
  return minutes;
});

const candidates = [wholeRun, theirRun, liveStep, otherRoom, everybody];
for (let round = -5; round < rounds; round += 1) {
  for (const one of candidates) measure(one, round < 0);
}

for (const one of candidates) {
  const sorted = [...one.times].sort((a, b) => a - b);
  const range = `${sorted[0]!.toFixed(3)} to ${sorted.at(-1)!.toFixed(3)}`;
  console.log(`${one.name.padEnd(42)} ${middle(one.times).toFixed(3).padStart(10)} µs   (${range})`);
}
const times = (more: Candidate, less: Candidate) =>
  `${middle(more.times.map((time, round) => time / less.times[round]!)).toFixed(1)} ×`;
console.log('');
console.log(`480-min run against jsthermalcomfort:        ${times(theirRun, wholeRun)} faster   (goal 4 ×)`);
console.log(`live step against a re-run of ours:          ${times(wholeRun, liveStep)} cheaper   (goal 300 ×)`);
console.log(`live step against a re-run of the library:   ${times(theirRun, liveStep)} cheaper`);
console.log(`medians of ${rounds} interleaved rounds, node ${process.version}; sum of results ${used.toFixed(0)}`);
