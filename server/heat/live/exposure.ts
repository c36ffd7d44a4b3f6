import { minutesMs } from '../../../machines/unit/limit.ts';
import type { Climate, EnsembleHeat, HeatSettings, WorkRate } from '../../../machines/unit/heat-settings.ts';
import { isInPpe, procedureOf } from '../../../machines/unit/questions.ts';
import {
  at,
  climateReadingsKept,
  entriesOf,
  type ClimateReading,
  type UnitState,
  type UnitWorker,
} from '../../../machines/unit/state.ts';
import type { EntryId, PersonId } from '../../../machines/wire/ids.ts';
import type { Entry } from '../../../machines/worker/worker-machine.ts';
import { numberFields } from '../../../machines/heat/heat-fields.ts';
import { radiantFromGlobeC, vapourPressureKPa } from '../climate.ts';
import type { StrainConditions, StrainPerson } from '../strain-conditions.ts';

/**
 * What one entry is exposed to, minute by minute, from the state alone: two servers, a restart and a replay find the same. Minute
 * m is the one that ends m minutes after the start of the clock, and what is in force at its end counts for the whole of it: so
 * what was just read or set counts at once, and goes on to count when that minute has passed.
 */
export interface Exposure {
  worker: PersonId;
  entry: EntryId;
  /** When the clock started, milliseconds. */
  donnedAt: number;
  /** Whole minutes in equipment. */
  minutesPassed: number;
  horizonMinutes: number;
  person: StrainPerson;
  heat: HeatSettings;
  clothing: EnsembleHeat;
  /** Stretches of unchanged conditions, in order, the first from minute 1; the last is taken to go on. */
  spans: readonly [Span, ...Span[]];
}

export interface Span {
  /** The first minute of this stretch. */
  fromMinute: number;
  climate: Climate;
  conditions: StrainConditions;
  /** The same for the same person under the same conditions: what is computed once per set of conditions is kept by it. */
  key: string;
}

/** Everybody in equipment whose unit and procedure say what heat needs. */
export function exposures(state: UnitState, now: number): Exposure[] {
  return entriesOf(state.workers).flatMap(([id, worker]) => exposureOf(state, id, worker, now) ?? []);
}

function exposureOf(state: UnitState, id: PersonId, worker: UnitWorker, now: number): Exposure | undefined {
  const { entry } = worker.machine.context;
  const { heat } = state.rules;
  if (!heat || entry?.donnedAt === undefined || !isInPpe(worker.machine)) return undefined;
  const clothing = procedureOf(state, entry).heat;
  if (!clothing) return undefined;
  return {
    worker: id,
    entry: entry.id,
    donnedAt: entry.donnedAt,
    minutesPassed: Math.max(0, Math.floor((now - entry.donnedAt) / minuteMs)),
    horizonMinutes: heat.horizonMinutes,
    person: heat.person,
    heat,
    clothing,
    spans: knownSpans({
      heat,
      clothing,
      entry,
      donnedAt: entry.donnedAt,
      readings: at(state.climate, entry.room),
      worker,
    }),
  };
}

interface Told {
  heat: HeatSettings;
  clothing: EnsembleHeat;
  entry: Entry;
  donnedAt: number;
  readings: readonly ClimateReading[] | undefined;
  worker: UnitWorker;
}

const minuteMs = minutesMs(1);

/**
 * Stretches come from the state alone, which is replaced and never edited: they are made again only when what they come from was
 * replaced. Most minutes replace nothing.
 */
const known = new WeakMap<UnitWorker, { told: Told; spans: Exposure['spans'] }>();

function knownSpans(told: Told): Exposure['spans'] {
  const before = known.get(told.worker);
  if (before && comeFrom(before.told, told)) return before.spans;
  const spans = spansOf(told);
  known.set(told.worker, { told, spans });
  return spans;
}

const comeFrom = (before: Told, told: Told): boolean =>
  before.heat === told.heat && before.clothing === told.clothing && before.readings === told.readings;

function spansOf(told: Told): [Span, ...Span[]] {
  const first = spanAt(told, 1);
  return changeMinutes(told).reduce<[Span, ...Span[]]>(
    (spans, minute) => {
      const next = spanAt(told, minute);
      return next.key === spans.at(-1)?.key ? spans : [...spans, next];
    },
    [first],
  );
}

/** The minutes after the first in which something may have changed, in order. */
function changeMinutes({ entry, donnedAt, readings = [], worker }: Told): number[] {
  const times = [
    entry.insideAt,
    entry.leftRoomAt,
    ...readings.map((reading) => reading.at),
    ...(worker.work ?? []).map((set) => set.at),
  ];
  const minutes = times.map((time) => Math.ceil(((time ?? donnedAt) - donnedAt) / minuteMs));
  return [...new Set(minutes)].filter((minute) => minute > 1).sort((one, other) => one - other);
}

function spanAt(told: Told, minute: number): Span {
  const end = told.donnedAt + minute * minuteMs;
  const climate = climateAt(told, end);
  const conditions = conditionsOf(told.heat, told.clothing, climate, workAt(told, end));
  return { fromMinute: minute, climate, conditions, key: JSON.stringify([told.heat.person, conditions, climate]) };
}

/** Inside, the newest reading of the room; at the door, in the lane and in a room that nobody has measured, the unit's default. */
function climateAt({ heat, entry, readings = [] }: Told, time: number): Climate {
  const isInside =
    entry.insideAt !== undefined &&
    time >= entry.insideAt &&
    (entry.leftRoomAt === undefined || time < entry.leftRoomAt);
  if (!isInside) return heat.climate;
  const newest = readings.findLast((reading) => reading.at <= time);
  return (newest ?? oldestOfMany(readings))?.climate ?? heat.climate;
}

/** Where more was read than is kept, the oldest that is kept stands for what was forgotten: nearer than the default. */
function oldestOfMany(readings: readonly ClimateReading[]): ClimateReading | undefined {
  return readings.length >= climateReadingsKept ? readings[0] : undefined;
}

function workAt({ heat, worker }: Told, time: number): WorkRate {
  return worker.work?.findLast((set) => set.at <= time)?.work ?? heat.work.usual;
}

/** A climate, a work rate and an ensemble as the equations take them. Standing, because nobody says otherwise. */
export function conditionsOf(
  heat: HeatSettings,
  clothing: EnsembleHeat,
  climate: Climate,
  work: WorkRate,
): StrainConditions {
  const { airTemperatureC, relativeHumidityPct, airSpeedMs = heat.airSpeedMs, globeTemperatureC } = climate;
  return {
    airTemperatureC,
    radiantTemperatureC: radiantOf(airTemperatureC, airSpeedMs, globeTemperatureC),
    vapourPressureKPa: vapourPressureKPa(airTemperatureC, relativeHumidityPct),
    airSpeedMs,
    metabolicRateWm2: heat.work.ratesWm2[work],
    clothingInsulationClo: clothing.clothingInsulationClo,
    permeabilityIndex: clothing.permeabilityIndex,
    posture: 'standing',
  };
}

/** A globe that no walls could warm or cool like that is a wrong reading: the nearest that walls can be, or the air, counts. */
function radiantOf(airC: number, airSpeedMs: number, globeC: number | undefined): number {
  if (globeC === undefined) return airC;
  const radiant = radiantFromGlobeC(globeC, airC, airSpeedMs);
  const { low, high } = numberFields.radiantTemperatureC;
  return Number.isNaN(radiant) ? airC : Math.min(high, Math.max(low, radiant));
}
