import { numberFields } from '../../machines/heat/heat-fields.ts';
import { climate as climateSchema, type Climate } from '../../machines/unit/heat-settings.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import type { RoomId } from '../../machines/wire/ids.ts';
import { minutesSince, wallClock } from '../board/clock.ts';
import { words } from '../words/words.ts';

/** The air of a room as it was read last, or that nobody has. */
export type Air =
  | { is: 'not-measured' }
  | { is: 'read'; climate: Climate; at: number; minutes: number; stale: boolean; sensor: string | undefined };

/** Common practice, no source: over some hours weather, people and ventilation change the air of a room. */
export const staleAfterMinutes = 4 * 60;

export function airOf(state: UnitState, room: RoomId, now: number): Air {
  const last = at(state.climate, room)?.at(-1);
  if (!last) return { is: 'not-measured' };
  const minutes = minutesSince(last.at, now);
  const { climate, sensor } = last;
  return { is: 'read', climate, at: last.at, minutes, stale: minutes > staleAfterMinutes, sensor };
}

const figure = (value: number): string => String(Math.round(value * 10) / 10).replace('-', '−');

export const climateWords = ({ airTemperatureC, relativeHumidityPct }: Climate): string =>
  words.heat.air(figure(airTemperatureC), String(Math.round(relativeHumidityPct)));

/** For the band of a room: what the air is, and how old the reading. */
export function airWords(air: Air): string {
  const { heat } = words;
  if (air.is === 'not-measured') return heat.airNotMeasured;
  const age = heat.airAge(air.minutes);
  return `${climateWords(air.climate)}, ${air.stale ? `${heat.airStale}, ${age}` : age}`;
}

/** In full, for the sheet. */
export function airLong(air: Air, usual: Climate): string {
  const { heat } = words;
  if (air.is === 'not-measured') return heat.airNotMeasuredLong(climateWords(usual));
  return heat.airReadAt(climateWords(air.climate), wallClock(air.at), heat.airAge(air.minutes));
}

// ---- entering a reading ----

export const airFields = ['airTemperatureC', 'relativeHumidityPct', 'airSpeedMs', 'globeTemperatureC'] as const;
export type AirField = (typeof airFields)[number];
export const isOptional = (field: AirField): boolean => field === 'airSpeedMs' || field === 'globeTemperatureC';
/** What stands in the fields: as typed, with a comma or a point. */
export type AirTyped = Readonly<Record<AirField, string>>;
export const nothingTyped: AirTyped = {
  airTemperatureC: '',
  relativeHumidityPct: '',
  airSpeedMs: '',
  globeTemperatureC: '',
};

export const typedOf = (climate: Climate): AirTyped => ({
  ...nothingTyped,
  ...Object.fromEntries(Object.entries(climate).map(([field, value]) => [field, String(value)])),
});

/** A number as it is typed in any country; undefined for anything else. */
export function readNumber(typed: string): number | undefined {
  const text = typed.trim().replace(',', '.').replace('−', '-');
  return /^-?\d+(\.\d+)?$/.test(text) ? Number(text) : undefined;
}

export type AirRead = { ok: true; climate: Climate } | { ok: false; wrong: Partial<Record<AirField, string>> };

/** The reading that was typed, or for every field that will not do a sentence that names it. An empty field that must be is wrong too. */
export function readAir(typed: AirTyped): AirRead {
  const values: Partial<Record<AirField, number>> = {};
  const wrong: Partial<Record<AirField, string>> = {};
  for (const field of airFields) {
    if (typed[field].trim() === '' && isOptional(field)) continue;
    const value = readNumber(typed[field]);
    if (value === undefined || !isInRange(field, value)) wrong[field] = fieldWrong(field);
    else values[field] = value;
  }
  const read = climateSchema.safeParse(values);
  return read.success && Object.keys(wrong).length === 0 ? { ok: true, climate: read.data } : { ok: false, wrong };
}

function isInRange(field: AirField, value: number): boolean {
  const { low, high } = numberFields[field];
  return value >= low && value <= high;
}

function fieldWrong(field: AirField): string {
  const { name, unit } = words.heat.airFields[field];
  const { low, high } = numberFields[field];
  return words.heat.fieldWrong(name, low, high, unit);
}
