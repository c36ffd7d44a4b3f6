import { acceptAdvice, acceptReadings, type Advice, type RoomReading } from '../../machines/unit/advise.ts';
import { heatSettings } from '../../machines/unit/heat-settings.ts';
import type { LimitCandidate } from '../../machines/unit/limit.ts';
import type { PersonId, RoomId } from '../../machines/wire/ids.ts';
import { gown, hood, opening, workerOf, type Act, type UnitOpening } from './unit-fixture.ts';

/** The small unit with a heat section, and what its calculations and sensors bring to it. */
const source = 'invented for tests';

export const heat = heatSettings.parse({
  screening: 'niosh-2016-106',
  person: { weightKg: 75, heightM: 1.75, acclimatised: false, drinkingFreely: false },
  climate: { airTemperatureC: 22, relativeHumidityPct: 45 },
  airSpeedMs: 0.15,
  work: { usual: 'moderate', ratesWm2: { light: 100, moderate: 165, heavy: 230 } },
  horizonMinutes: 240,
  check: { temperatureC: 38, pulsePerMin: 140, source },
  afterEntry: { longerRestMinutes: 45 },
  source,
});

export const clothed = { clothingInsulationClo: 0.9, permeabilityIndex: 0.2, source };

/** Turns an opening of the small unit into one with heat; use with `openedUnit`, `opening` or `unitChanges`. */
export const heated = (data: UnitOpening): UnitOpening => ({
  ...data,
  rules: { ...data.rules, heat },
  procedures: [
    { ...gown, version: gown.version + 1, heat: clothed },
    { ...hood, version: hood.version + 1, heat: { ...clothed, adjustment: 'polyolefin coverall' } },
  ],
});

export const heatOpening: UnitOpening = opening(heated);

export const advice = (worker: string, change: Partial<Advice> = {}, entry = 'E1'): Advice => ({
  worker: worker as PersonId,
  entry: entry as Advice['entry'],
  candidates: [],
  waitMinutes: 0,
  ...change,
});

const candidate = (minutes: number): LimitCandidate => ({
  kind: 'core-temperature',
  minutes,
  reason: 'the predicted rectal temperature reaches 38 °C',
  source: 'a standard',
  caution: 'Indicative: outside the validated clothing.',
  indicative: true,
});

type Further = Partial<Pick<Advice, 'check' | 'waitMinutes'>>;

/** Calculations say these minutes to a limit, and a check if there is one. */
export const advisedAll =
  (worker: string, minutes: readonly number[], further: Further = {}): Act =>
  (before) => {
    const entry = workerOf(before.state, worker).entry?.id;
    const one = advice(worker, { candidates: minutes.map(candidate), ...further }, entry);
    const { state, facts } = acceptAdvice(before.state, [one], before.now);
    return { before, world: { ...before, state, log: [...before.log, ...facts] }, facts };
  };

export const advised = (worker: string, { minutes, ...further }: { minutes?: number } & Further): Act =>
  advisedAll(worker, minutes === undefined ? [] : [minutes], further);

/** A sensor sends what it has read. */
export const senses =
  (room: string, climate: RoomReading['climate'], agoMs = 0): Act =>
  (before) => {
    const reading = { room: room as RoomId, climate, measuredAt: before.now - agoMs };
    const { state, facts } = acceptReadings(before.state, [reading], 'wall-1', before.now);
    return { before, world: { ...before, state, log: [...before.log, ...facts] }, facts };
  };

export const everyTwenty = { everyMinutes: 20, reason: 'over the screening limit', source: 'a table' };
