import type { z } from 'zod';
import { rotationInstance, type RotationInstance } from './instance.ts';
import { noWayOutText, whyNoWayOut, type NoWayOut } from './no-way-out.ts';

/** Why an instance was not planned: a code that never changes its meaning, and a sentence that names the field with its path. */
export const rotationRefusalCodes = [
  /** Not an object, or not JSON at all. */
  'rotation/not-understood',
  'rotation/too-large',
  'rotation/missing-field',
  'rotation/unknown-field',
  /** Not a number, not a text, not finite. */
  'rotation/wrong-type',
  'rotation/out-of-bounds',
  /** A time that is not a whole number of slots. */
  'rotation/not-on-a-slot',
  'rotation/unknown-worker',
  'rotation/unknown-room',
  /** Two workers or two rooms of one name, or one person inside twice. */
  'rotation/twice',
  'rotation/duty-backwards',
  /** Somebody inside whom no rule allows to leave: every possible exit is too late for something. */
  'rotation/no-way-out',
] as const;

export type RotationRefusalCode = (typeof rotationRefusalCodes)[number];

export interface RotationRefusal {
  code: RotationRefusalCode;
  message: string;
  /** With `rotation/no-way-out`: what is in the way, for whoever says it without the words of the file. */
  noWayOut?: NoWayOut;
}

export type InstanceRead = { ok: true; instance: RotationInstance } | { ok: false; refusal: RotationRefusal };

export const slotsMax = 2880;
/** Positions × slots, and workers × slots: what a search of seconds can still look at. */
export const positionSlotsMax = 200_000;

/** Takes anything; gives an instance that can be planned, or the first thing that is wrong with it. */
export function readInstance(value: unknown): InstanceRead {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) {
    return refused('rotation/not-understood', `expected an object with the fields of an instance, not ${shown(value)}`);
  }
  const read = rotationInstance.safeParse(value);
  if (!read.success) return { ok: false, refusal: refusalOf(read.error.issues[0]!, value) };
  const refusal = firstOf(read.data);
  return refusal ? { ok: false, refusal } : { ok: true, instance: read.data };
}

function firstOf(instance: RotationInstance): RotationRefusal | undefined {
  return (
    checkSlots(instance) ??
    checkSize(instance) ??
    checkNames(instance) ??
    checkDuties(instance) ??
    checkBreak(instance) ??
    checkInside(instance)
  );
}

const refused = (code: RotationRefusalCode, message: string): { ok: false; refusal: RotationRefusal } => ({
  ok: false,
  refusal: { code, message },
});

function refusalOf(issue: z.core.$ZodIssue, value: unknown): RotationRefusal {
  const path = pathText(issue.path);
  const given = valueAt(value, issue.path);
  switch (issue.code) {
    case 'unrecognized_keys':
      return {
        code: 'rotation/unknown-field',
        message: `there is no field ${pathText([...issue.path, issue.keys[0]!])}`,
      };
    case 'invalid_type':
      if (given === undefined) return { code: 'rotation/missing-field', message: `the field ${path} is missing` };
      return {
        code: 'rotation/wrong-type',
        message: `${path} must be ${typeText(issue.expected)}, not ${shown(given)}`,
      };
    case 'too_small':
      return {
        code: 'rotation/out-of-bounds',
        message: `${path} must be at least ${limitText(issue.origin, issue.minimum, given)}`,
      };
    case 'too_big':
      return {
        code: 'rotation/out-of-bounds',
        message: `${path} must be at most ${limitText(issue.origin, issue.maximum, given)}`,
      };
    default:
      return { code: 'rotation/wrong-type', message: `${path} is not as it must be: ${issue.message}` };
  }
}

function limitText(origin: string, limit: number | bigint, given: unknown): string {
  if (origin === 'string') return `${limit} characters long`;
  if (origin === 'array') return `${limit} long`;
  return `${limit}, not ${shown(given)}`;
}

const typeText = (expected: string): string =>
  expected === 'int' ? 'a whole number' : `${/^[aeiou]/.test(expected) ? 'an' : 'a'} ${expected}`;

/** workers[3].busyUntilMinute */
function pathText(path: readonly PropertyKey[]): string {
  const text = path.map((key) => (typeof key === 'number' ? `[${key}]` : `.${printable(String(key))}`)).join('');
  return text.replace(/^\./, '') || 'the instance';
}

function valueAt(value: unknown, path: readonly PropertyKey[]): unknown {
  return path.reduce<unknown>((at, key) => (at as Record<PropertyKey, unknown> | undefined)?.[key], value);
}

const printable = (text: string): string => text.replaceAll(/[^\x20-\x7e]+/g, ' ').slice(0, 60);

function shown(value: unknown): string {
  if (Array.isArray(value)) return 'a list';
  if (typeof value === 'object' && value !== null) return 'an object';
  if (typeof value === 'string') return JSON.stringify(printable(value));
  return String(value);
}

function checkSlots(instance: RotationInstance): RotationRefusal | undefined {
  const { slotMinutes } = instance;
  const off = timesOf(instance).find(([, minutes]) => !Number.isInteger(minutes / slotMinutes));
  if (!off) return undefined;
  const [path, minutes] = off;
  return {
    code: 'rotation/not-on-a-slot',
    message: `${path} must be a multiple of slotMinutes (${slotMinutes}), not ${minutes}`,
  };
}

function timesOf(instance: RotationInstance): [string, number][] {
  const { durations, observerBreak, perPerson } = instance;
  return [
    ['horizonMinutes', instance.horizonMinutes],
    ...Object.entries(durations).map(([name, minutes]): [string, number] => [`durations.${name}`, minutes]),
    ...instance.insideMinutesAllowed.map((one, index): [string, number] => [`insideMinutesAllowed[${index}]`, one]),
    ['maxOverrunMinutes', instance.maxOverrunMinutes],
    ['perPerson.maxMinutesInEquipment', perPerson.maxMinutesInEquipment],
    ['observerBreak.minutes', observerBreak.minutes],
    ['observerBreak.everyMinutes', observerBreak.everyMinutes],
    ...instance.workers.flatMap((worker, index): [string, number][] => [
      [`workers[${index}].onDutyFromMinute`, worker.onDutyFromMinute],
      [`workers[${index}].onDutyToMinute`, worker.onDutyToMinute ?? 0],
      [`workers[${index}].busyUntilMinute`, worker.busyUntilMinute],
      [`workers[${index}].minutesInEquipmentSoFar`, worker.minutesInEquipmentSoFar],
    ]),
    ...instance.inside.map((one, index): [string, number] => [`inside[${index}].sinceMinute`, one.sinceMinute]),
  ];
}

function checkSize({ horizonMinutes, slotMinutes, rooms, workers }: RotationInstance): RotationRefusal | undefined {
  const slots = horizonMinutes / slotMinutes;
  const positions = rooms.reduce((sum, { staffInside }) => sum + staffInside, 0);
  const tooLarge = (message: string): RotationRefusal => ({ code: 'rotation/too-large', message });
  if (slots > slotsMax)
    return tooLarge(`horizonMinutes must be at most ${slotsMax} slots of slotMinutes, not ${slots}`);
  if (positions * slots > positionSlotsMax) {
    return tooLarge(
      `rooms ask for ${positions} people over ${slots} slots; at most ${positionSlotsMax} people × slots`,
    );
  }
  if (workers.length * slots > positionSlotsMax) {
    return tooLarge(`workers are ${workers.length} over ${slots} slots; at most ${positionSlotsMax} workers × slots`);
  }
  return undefined;
}

function checkNames({ rooms, workers, inside }: RotationInstance): RotationRefusal | undefined {
  return (
    checkOnce(
      'rooms',
      'id',
      rooms.map(({ id }) => id),
    ) ??
    checkOnce(
      'workers',
      'id',
      workers.map(({ id }) => id),
    ) ??
    checkOnce(
      'inside',
      'worker',
      inside.map(({ worker }) => worker),
    )
  );
}

function checkOnce(list: string, field: string, names: readonly string[]): RotationRefusal | undefined {
  const index = names.findIndex((name, at) => names.indexOf(name) < at);
  if (index < 0) return undefined;
  const name = names[index]!;
  return {
    code: 'rotation/twice',
    message: `${list}[${index}].${field} ${shown(name)} is there already as ${list}[${names.indexOf(name)}].${field}`,
  };
}

function checkDuties({ workers }: RotationInstance): RotationRefusal | undefined {
  const index = workers.findIndex(
    ({ onDutyFromMinute, onDutyToMinute }) => onDutyToMinute !== null && onDutyToMinute < onDutyFromMinute,
  );
  if (index < 0) return undefined;
  const { onDutyFromMinute, onDutyToMinute } = workers[index]!;
  return {
    code: 'rotation/duty-backwards',
    message: `workers[${index}].onDutyToMinute ${onDutyToMinute} lies before its onDutyFromMinute ${onDutyFromMinute}`,
  };
}

function checkBreak({ observerBreak: { minutes, everyMinutes } }: RotationInstance): RotationRefusal | undefined {
  if (minutes <= everyMinutes) return undefined;
  return {
    code: 'rotation/out-of-bounds',
    message: `observerBreak.minutes must be at most its everyMinutes (${everyMinutes}), not ${minutes}`,
  };
}

function checkInside(instance: RotationInstance): RotationRefusal | undefined {
  for (const [index, { worker, room, sinceMinute }] of instance.inside.entries()) {
    const path = `inside[${index}]`;
    const person = instance.workers.find(({ id }) => id === worker);
    if (!person) {
      return { code: 'rotation/unknown-worker', message: `${path}.worker ${shown(worker)} is not among the workers` };
    }
    if (!instance.rooms.some(({ id }) => id === room)) {
      return { code: 'rotation/unknown-room', message: `${path}.room ${shown(room)} is not among the rooms` };
    }
    if (sinceMinute > 0) {
      return { code: 'rotation/out-of-bounds', message: `${path}.sinceMinute must be at most 0, not ${sinceMinute}` };
    }
    const why = whyNoWayOut(instance, person, sinceMinute);
    if (why)
      return { code: 'rotation/no-way-out', message: `${path}: ${shown(worker)} ${noWayOutText(why)}`, noWayOut: why };
  }
  return undefined;
}
