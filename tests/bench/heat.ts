import { phs, p_sat } from 'jsthermalcomfort';
import { limitsOf } from '../../server/heat/limits.ts';
import { readLimitsInput } from '../../server/heat/limits-input.ts';
import { advance, predict, startStrain, stepMinute } from '../../server/heat/predicted-heat-strain.ts';
import { prepareConditions } from '../../server/heat/strain-conditions.ts';
import type { StrainInput } from '../../server/heat/strain-input.ts';
import { fold } from '../../machines/unit/fold.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import { factVersion } from '../../machines/wire/fact.ts';
import { adviceFor } from '../../server/heat/live/advice.ts';
import { LiveStrain } from '../../server/heat/live/live-strain.ts';
import { demoUnit } from '../support/demo-unit.ts';

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

/** A unit with forty people inside, each in with a start of their own, in rooms that were measured every quarter of an hour. */
const minuteMs = 60_000;
const openedAt = Date.parse('2026-03-02T08:00:00Z');

function crowdedUnit(): UnitState {
  const { opening, settings } = demoUnit('2026-03-02');
  const opened = { v: factVersion, number: 1, unit: settings.id, at: openedAt, receivedAt: openedAt } as const;
  const state = fold(undefined, { ...opened, by: { watch: true }, kind: 'unit-opened', data: opening });
  const [procedure] = opening.procedures;
  const entry = (index: number) => ({
    id: `E${index}`,
    room: settings.rooms[index % settings.rooms.length]!.id,
    ...{ procedure: procedure!.id, version: procedure!.version },
    donnedAt: openedAt + index * 1000,
    insideAt: openedAt + index * 1000 + minuteMs,
  });
  const machine = (index: number) => ({
    value: { inside: 'working' },
    context: { breaches: [], worn: [], entry: entry(index) },
  });
  const crowd = Array.from({ length: 40 }, (_, index) => [`w${index}`, { machine: machine(index), lastAt: openedAt }]);
  const readings = Array.from({ length: 8 }, (_, index) => ({
    at: openedAt + index * 15 * minuteMs,
    climate: { airTemperatureC: 24 + index / 2, relativeHumidityPct: 50 },
  }));
  const climate = Object.fromEntries(settings.rooms.map(({ id }) => [id, readings]));
  return { ...state, climate, workers: Object.fromEntries(crowd) as UnitState['workers'] };
}

const crowded = crowdedUnit();
/** From two hours on nobody reads anything new: what passes then is minutes. */
const minuteOf = (call: number) => openedAt + (120 + call) * minuteMs;
const advised = (strain: LiveStrain, now: number) =>
  adviceFor(crowded, now, strain).reduce((sum, one) => sum + (one.candidates[0]?.minutes ?? 0), 0);
const strain = new LiveStrain();
let minute = 0;
const liveAdvice = candidate('advice for 40 workers, a minute later', 4, () => {
  minute = (minute + 1) % 120;
  return advised(strain, minuteOf(minute));
});
const freshAdvice = candidate('the same, each entry run again', 1, (call) =>
  advised(new LiveStrain(), minuteOf(60 + call)),
);

/** Each group has rounds of its own: what a large one does to caches and compiler is not the small one's to bear. */
const groups = [
  [wholeRun, theirRun, liveStep, otherRoom, everybody],
  [liveAdvice, freshAdvice],
];
for (const group of groups)
  for (let round = -5; round < rounds; round += 1) for (const one of group) measure(one, round < 0);
const candidates = groups.flat();

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
console.log(`advice a minute later against running again: ${times(freshAdvice, liveAdvice)} cheaper`);
console.log(`medians of ${rounds} interleaved rounds, node ${process.version}; sum of results ${used.toFixed(0)}`);
