import { parse } from 'csv-parse/sync';
import { checkNumber, numberFields, shown, type NumberFieldName } from '../../machines/heat/heat-fields.ts';
import type { RoomReading } from '../../machines/unit/advise.ts';
import { minutesMs } from '../../machines/unit/limit.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import { sensorName } from '../../machines/wire/fact.ts';
import type { RoomId } from '../../machines/wire/ids.ts';
import { radiantFromGlobeC } from '../heat/climate.ts';

/**
 * Readings of rooms as a sensor sends them, as JSON or CSV, read whole or refused whole: the first row that will not do is named
 * with its field, and nothing is taken. Pure.
 */
export interface ClimateProblem {
  code: `climate/${string}`;
  sentence: string;
  /** From 1; the header of a CSV is not counted. Absent where the whole is not understood. */
  row?: number;
  field?: string;
}

export type Read<Value> = { ok: true; value: Value } | { ok: false; problem: ClimateProblem };

export interface SentReadings {
  sensor: string;
  readings: RoomReading[];
}

export const readingsMost = 200;
/** What is older than this changes nothing that anybody still decides. */
const oldestMs = minutesMs(24 * 60);

type Row = Readonly<Record<string, unknown>>;

const numberNames = ['airTemperatureC', 'relativeHumidityPct', 'airSpeedMs', 'globeTemperatureC'] as const;
const rowNames: readonly string[] = ['room', 'at', ...numberNames];
const required: readonly string[] = ['room', 'airTemperatureC', 'relativeHumidityPct'];

/** @param now when it arrived: what has no time of its own was measured then */
export function readJsonReadings(text: string, state: UnitState, now: number): Read<SentReadings> {
  const sent = parseJson(text);
  if (!isObject(sent)) return whole('climate/not-understood', 'Send a JSON object with sensor and readings.');
  const unknown = Object.keys(sent).find((name) => name !== 'sensor' && name !== 'readings');
  if (unknown !== undefined)
    return whole('climate/unknown-field', `There is no field ${shown(unknown)} beside sensor and readings.`);
  if (!Array.isArray(sent.readings)) return whole('climate/missing-field', 'readings must be a list of readings.');
  return readRows(sent.readings, sent.sensor, state, now);
}

/** @param sensor as the query names it: a table has no place for it */
export function readCsvReadings(text: string, sensor: unknown, state: UnitState, now: number): Read<SentReadings> {
  const table = parseCsv(text);
  if (!table.ok) return table;
  const [header = [], ...lines] = table.value;
  const unknown = header.find((name, index) => !rowNames.includes(name) || header.indexOf(name) !== index);
  if (unknown !== undefined) {
    const known = rowNames.join(', ');
    return whole('climate/unknown-field', `The header names ${shown(unknown)}. Each column once, of: ${known}.`);
  }
  const missing = required.find((name) => !header.includes(name));
  if (missing !== undefined) return whole('climate/missing-field', `The header has no column ${missing}.`);
  const rows = lines.map((line) => Object.fromEntries(header.flatMap((name, index) => cell(name, line[index] ?? ''))));
  return readRows(rows, sensor, state, now);
}

/** An empty cell is no value; what does not look like a number stays text, and is refused as that. */
function cell(name: string, text: string): [string, unknown][] {
  if (text === '') return [];
  const isNumber = name !== 'room' && /^-?\d{1,15}(\.\d{1,15})?$/.test(text);
  return [[name, isNumber ? Number(text) : text]];
}

function parseCsv(text: string): Read<string[][]> {
  try {
    return { ok: true, value: parse(text, { bom: true, skip_empty_lines: true, trim: true }) };
  } catch (error) {
    const because = error instanceof Error ? error.message.slice(0, 200) : 'it cannot be parsed';
    return whole('climate/not-understood', `This is no CSV table: ${because}.`);
  }
}

function parseJson(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}

const isObject = (value: unknown): value is Row => typeof value === 'object' && value !== null && !Array.isArray(value);

const whole = (code: ClimateProblem['code'], sentence: string): Read<never> => ({
  ok: false,
  problem: { code, sentence },
});

function readRows(rows: readonly unknown[], sensor: unknown, state: UnitState, now: number): Read<SentReadings> {
  const named = sensorName.safeParse(sensor);
  if (!named.success) return whole('climate/missing-field', 'sensor must be a name of 1 to 60 characters.');
  if (rows.length === 0) return whole('climate/missing-field', 'There is no reading in it.');
  if (rows.length > readingsMost)
    return whole('climate/too-many', `${rows.length} readings are too many at once: send at most ${readingsMost}.`);
  const readings: RoomReading[] = [];
  for (const [index, row] of rows.entries()) {
    const read = isObject(row) ? readRow(row, state, now) : bad('climate/wrong-type', 'reading', 'must be an object');
    if ('code' in read) return { ok: false, problem: placed(read, index + 1) };
    readings.push(read);
  }
  return { ok: true, value: { sensor: named.data, readings } };
}

interface Bad {
  code: ClimateProblem['code'];
  field: string;
  why: string;
}
const bad = (code: ClimateProblem['code'], field: string, why: string): Bad => ({ code, field, why });

const placed = ({ code, field, why }: Bad, row: number): ClimateProblem => ({
  ...{ code, row, field },
  sentence: `Row ${row}, ${field}: ${why}. Nothing was recorded.`,
});

function readRow(row: Row, state: UnitState, now: number): RoomReading | Bad {
  const measuredAt = readTime(row.at, state, now);
  const problem = badName(row) ?? badRoom(row.room, state) ?? badNumber(row);
  if (problem) return problem;
  if (typeof measuredAt !== 'number') return measuredAt;
  const numbers = numberNames.flatMap((name) => (row[name] === undefined ? [] : [[name, row[name] as number]]));
  const climate = Object.fromEntries(numbers) as RoomReading['climate'];
  return badGlobe(climate, state) ?? { room: row.room as RoomId, climate, measuredAt };
}

function badName(row: Row): Bad | undefined {
  const unknown = Object.keys(row).find((name) => !rowNames.includes(name));
  if (unknown !== undefined) return bad('climate/unknown-field', shown(unknown), 'there is no such field');
  const missing = required.find((name) => row[name] === undefined);
  return missing === undefined ? undefined : bad('climate/missing-field', missing, 'is missing');
}

function badRoom(room: unknown, { rules }: UnitState): Bad | undefined {
  if (rules.rooms.some((known) => known.id === room)) return undefined;
  const known = rules.rooms.map((one) => one.id).join(', ');
  return bad('climate/unknown-room', 'room', `there is no room ${shown(room)} in this unit, which has ${known}`);
}

function badNumber(row: Row): Bad | undefined {
  for (const name of numberNames satisfies readonly NumberFieldName[]) {
    const refusal = row[name] === undefined ? undefined : checkNumber(name, row[name]);
    if (!refusal) continue;
    const code = refusal.code === 'heat/out-of-bounds' ? 'climate/out-of-bounds' : 'climate/wrong-type';
    return bad(code, name, refusal.message.replace(`${name} `, ''));
  }
  return undefined;
}

/** A globe that no walls could warm or cool like this was misread, or belongs to another room. */
function badGlobe(climate: RoomReading['climate'], { rules }: UnitState): Bad | undefined {
  const { globeTemperatureC, airTemperatureC, airSpeedMs = rules.heat?.airSpeedMs ?? 0.1 } = climate;
  if (globeTemperatureC === undefined) return undefined;
  const radiant = radiantFromGlobeC(globeTemperatureC, airTemperatureC, airSpeedMs);
  const { low, high } = numberFields.radiantTemperatureC;
  if (radiant >= low && radiant <= high) return undefined;
  const where = `in air of ${airTemperatureC} °C at ${airSpeedMs} m/s`;
  return bad('climate/out-of-bounds', 'globeTemperatureC', `no walls would bring a globe to this ${where}`);
}

const isoTime = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}(\.\d{1,9})?)?(Z|[+-]\d{2}:\d{2})$/;

function readTime(value: unknown, { rules }: UnitState, now: number): number | Bad {
  if (value === undefined) return now;
  const time = typeof value === 'string' && isoTime.test(value) ? Date.parse(value) : value;
  if (typeof time !== 'number' || !Number.isSafeInteger(time) || time < 0)
    return bad(
      'climate/wrong-type',
      'at',
      `must be a time such as 2026-03-02T08:30:00Z, or milliseconds, not ${shown(value)}`,
    );
  const ahead = rules.reports.futureToleranceSeconds;
  if (time > now + ahead * 1000) return bad('climate/time-ahead', 'at', `is more than ${ahead} s ahead of this server`);
  return time < now - oldestMs ? bad('climate/too-old', 'at', 'is more than 24 hours ago') : time;
}

/** Those that the unit does not have yet: a sensor that got no answer sends the same again. */
export function newReadings(readings: readonly RoomReading[], { climate }: UnitState): RoomReading[] {
  const nameOf = (room: RoomId, time: number, values: RoomReading['climate']) =>
    JSON.stringify([room, time, ...numberNames.map((name) => values[name] ?? null)]);
  const seen = new Set<string>();
  return readings.filter((one) => {
    const name = nameOf(one.room, one.measuredAt, one.climate);
    const isKnown = (at(climate, one.room) ?? []).some((kept) => nameOf(one.room, kept.at, kept.climate) === name);
    if (isKnown || seen.has(name)) return false;
    return Boolean(seen.add(name));
  });
}
