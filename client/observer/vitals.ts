import { vitalNames, type Bounds, type VitalName, type Vitals } from '../../machines/unit/settings.ts';

/** One vital sign to be measured, with what the unit allows. */
export interface VitalField {
  name: VitalName;
  low?: number;
  high?: number;
}

/** Only what the unit has a bound for is asked. */
export function vitalFields(bounds: Bounds): VitalField[] {
  return vitalNames.flatMap((name) => (bounds[name] ? [{ name, ...bounds[name] }] : []));
}

export type VitalVerdict = 'within' | 'below' | 'above' | 'not-measured';

export function verdictOf(field: VitalField, value: number | undefined): VitalVerdict {
  if (value === undefined) return 'not-measured';
  if (field.low !== undefined && value < field.low) return 'below';
  if (field.high !== undefined && value > field.high) return 'above';
  return 'within';
}

/** Keys of the number pad, in rows. */
export const padKeys = ['1', '2', '3', '4', '5', '6', '7', '8', '9', '.', '0', 'erase'] as const;
export type PadKey = (typeof padKeys)[number];

const digitsMax = 4;

/** What stands in the window after a key: at most four digits and one decimal place. */
export function typed(text: string, key: PadKey): string {
  if (key === 'erase') return text.slice(0, -1);
  if (key === '.') return text === '' || text.includes('.') ? text : `${text}.`;
  const [, decimals] = text.split('.');
  if (decimals !== undefined && decimals.length >= 1) return text;
  if (decimals === undefined && text.length >= digitsMax) return text;
  return text === '0' ? key : text + key;
}

export function readTyped(text: string): number | undefined {
  return text === '' ? undefined : Number(text);
}

/**
 * Where a value stops looking like a measurement and starts looking like a slip of a gloved finger, and where it can't be one at
 * all. Only a question is asked; nothing here decides about the worker, the unit's bounds do. Common practice, no source.
 */
type Range = readonly [low: number, high: number];
const believable: Readonly<Record<VitalName, Range>> = {
  temperatureC: [32, 42],
  pulsePerMin: [30, 200],
  systolicMmHg: [60, 240],
  diastolicMmHg: [30, 140],
  respirationPerMin: [5, 50],
  saturationPct: [60, 100],
};
const possible: Readonly<Record<VitalName, Range>> = {
  temperatureC: [20, 46],
  pulsePerMin: [10, 300],
  systolicMmHg: [20, 320],
  diastolicMmHg: [5, 250],
  respirationPerMin: [1, 90],
  saturationPct: [20, 100],
};

export interface Question {
  about: 'unlikely' | 'fahrenheit' | 'diastolic-above-systolic';
  /** What was perhaps meant. */
  perhaps?: number;
  /** Whether the value may stand if the observer says so. */
  mayStand: boolean;
}

const isIn = ([low, high]: Range, value: number): boolean => value >= low && value <= high;
const tenth = (value: number): number => Math.round(value * 10) / 10;

/** Whether to ask "is that right?" before a value is taken: an obvious slip is questioned, never corrected silently. */
export function questionOf(name: VitalName, value: number, others: Vitals): Question | undefined {
  if (isIn(believable[name], value)) return crossQuestion(name, value, others);
  const mayStand = isIn(possible[name], value);
  const celsius = tenth(((value - 32) * 5) / 9);
  if (name === 'temperatureC' && value > 90 && value < 110) return { about: 'fahrenheit', perhaps: celsius, mayStand };
  const perhaps = [value / 10, value * 10].map(tenth).find((one) => isIn(believable[name], one));
  return { about: 'unlikely', ...(perhaps !== undefined && { perhaps }), mayStand };
}

/** The two blood pressures against each other. */
function crossQuestion(name: VitalName, value: number, others: Vitals): Question | undefined {
  const systolic = name === 'systolicMmHg' ? value : others.systolicMmHg;
  const diastolic = name === 'diastolicMmHg' ? value : others.diastolicMmHg;
  const compared = name === 'systolicMmHg' || name === 'diastolicMmHg';
  if (!compared || systolic === undefined || diastolic === undefined || diastolic < systolic) return undefined;
  return { about: 'diastolic-above-systolic', mayStand: true };
}
