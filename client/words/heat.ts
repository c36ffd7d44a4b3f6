import type { WorkRate } from '../../machines/unit/heat-settings.ts';
import type { LimitKind } from '../../machines/wire/fact.ts';
import type { FurtherField } from '../observer/further.ts';

/** The words about heat: limits and their kinds, the air of a room, work, what is predicted, what is measured besides vital signs. */
const limitKinds: Record<LimitKind, string> = {
  rule: 'the unit’s rule for this equipment',
  'minutes-of-the-day': 'what is left of the day’s minutes',
  'earlier-entries': 'shortened after the last entry',
  'core-temperature': 'predicted body temperature',
  'water-loss': 'predicted water loss',
  check: 'a check inside',
};

const workRates: Record<WorkRate, { name: string; means: string }> = {
  light: { name: 'Light', means: 'sitting or standing, hands only' },
  moderate: { name: 'Moderate', means: 'walking about, care at the bed' },
  heavy: { name: 'Heavy', means: 'lifting, moving people, resuscitation' },
};

/** One of the further measurements that may be taken after an entry: what it is, and what it is for, in a line. */
const further: Record<FurtherField, { name: string; unit: string; why: string }> = {
  pulseAtRestStartPerMin: {
    name: 'Pulse as the rest begins',
    unit: 'per minute',
    why: 'Counted at once on sitting down. A high one shortens the next entry.',
  },
  pulseP1PerMin: {
    name: 'Recovery pulse, first (P1)',
    unit: 'per minute',
    why: 'Counted from 30 to 60 seconds after sitting down.',
  },
  pulseP3PerMin: {
    name: 'Recovery pulse, third (P3)',
    unit: 'per minute',
    why: 'Counted from 2½ to 3 minutes after sitting down. With P1 it shows how the body recovers.',
  },
  sustainedPulsePerMin: {
    name: 'Sustained pulse inside',
    unit: 'per minute',
    why: 'Held for several minutes during the work, where it was recorded. Judged with the age.',
  },
  ageYears: { name: 'Age', unit: 'years', why: 'Only for judging the sustained pulse. Kept as confidential as it.' },
  oralTemperatureC: {
    name: 'Temperature in the mouth',
    unit: '°C',
    why: 'Under the tongue, before drinking anything. A high one asks for more rest.',
  },
  massBeforeKg: {
    name: 'Body mass before',
    unit: 'kg',
    why: 'Weighed before donning, in the same clothes. With the mass after it shows the water lost.',
  },
  massAfterKg: { name: 'Body mass after', unit: 'kg', why: 'Weighed dry, before drinking, in the same clothes.' },
};

export const heatWords = {
  aid: 'An aid, not a medical device; the unit’s rules, occupational health and licensed practice decide.',
  average: 'Predicted for an average person. It is not a measurement.',

  // ---- the limit ----
  limitKinds,
  limitKindUnknown: 'the limit on record',
  indicative: 'Indicative: outside validated clothing',
  indicativeShort: 'indicative',
  reason: 'Reason',
  sourceIs: (source: string) => `Source: ${source.replace(/\.$/, '')}.`,
  toIt: {
    left: (minutes: number) => `${minutes} min to it`,
    over: (minutes: number) => (minutes < 1 ? 'passed just now' : `passed ${minutes} min ago`),
  },

  // ---- the air of a room ----
  air: (celsius: string, percent: string) => `${celsius} °C, ${percent} %`,
  airOf: (room: string) => `Air of ${room}`,
  airLabel: (room: string, air: string) => `Air of ${room}: ${air}. Enter another reading`,
  airAge: (minutes: number) =>
    minutes < 1 ? 'just now' : minutes < 120 ? `${minutes} min ago` : `${Math.floor(minutes / 60)} h ago`,
  airStale: 'old reading',
  airStaleLong: 'This reading is more than 4 hours old. Read the air again if you can.',
  airNotMeasured: 'air not measured',
  airNotMeasuredLong: (air: string) => `Nobody has measured here. Limits go by the unit’s usual air: ${air}.`,
  airReadAt: (air: string, time: string, age: string) => `${air}, read at ${time} (${age})`,
  airFromSensor: (sensor: string) => `Sent by the sensor ${sensor}`,
  airFields: {
    airTemperatureC: { name: 'Air temperature', unit: '°C', more: '' },
    relativeHumidityPct: { name: 'Relative humidity', unit: '%', more: '' },
    airSpeedMs: { name: 'Air speed', unit: 'm/s', more: 'may be left empty' },
    globeTemperatureC: { name: 'Globe temperature', unit: '°C', more: 'may be left empty; black globe of 150 mm' },
  },
  range: (low: number, high: number) => `${low < 0 ? `−${-low}` : low} to ${high}`,
  fieldWrong: (name: string, low: number, high: number, unit: string) =>
    `${name}: a number from ${low < 0 ? `−${-low}` : low} to ${high} ${unit}, please.`,
  recordAir: 'Record this air',
  airMeans:
    'Limits of everybody in this room are computed again from it. A limit already in force changes only if it says something else.',

  // ---- work ----
  work: 'How hard is the work?',
  workNow: (name: string, since: string) => `${name}, set at ${since}`,
  workUsual: (name: string) => `${name}: the unit’s usual, nobody has set it`,
  workRates,

  // ---- what is predicted ----
  strain: 'Heat over the next hours, predicted',
  strainAsking: 'Asking for the prediction…',
  strainFails: 'The prediction cannot be had from the server now. The limit in force stays as it is shown.',
  strainNone:
    'There is no prediction for this person. It needs a procedure with clothing values and a clock that runs.',
  strainOld: (time: string) => `The server has not answered since ${time}; this is from then.`,
  plotFails: 'The drawing cannot be shown on this screen. The table below has the same figures.',
  core: 'Core temperature',
  coreOver: (celsius: number) => `over ${celsius}`,
  water: 'Water lost',
  coreLimit: (celsius: string) => `limit ${celsius} °C`,
  waterLimit: (grams: string) => `limit ${grams} g`,
  now: 'now',
  minuteOfClock: 'Minutes in equipment',
  coreNow: (celsius: string) => `Now about ${celsius} °C.`,
  waterNow: (grams: string) => `Now about ${grams} g.`,
  reaches: (minutes: number, time: string) => `Reaches its limit at ${minutes} min, at ${time}.`,
  reached: (minutes: number) => `Reached its limit at ${minutes} min.`,
  reachesNot: (minutes: number) => `Stays below its limit for the ${minutes} min looked at.`,
  plotIs: (what: string) => `${what}, predicted for an average person, over the minutes in equipment`,
  outside: (names: string) => `Outside what the method was validated for: ${names}.`,
  table: 'The same as a table',
  tableTime: 'Time',
  tableMinute: 'min in equipment',
  tableCore: 'Core, °C',
  tableWater: 'Water lost, g',
  fields: {
    airTemperatureC: 'air temperature',
    radiantTemperatureC: 'heat from the walls',
    vapourPressureKPa: 'moisture of the air',
    airSpeedMs: 'air speed',
    metabolicRateW: 'work rate',
    metabolicRateWm2: 'work rate',
    clothingInsulationClo: 'clothing insulation',
    permeabilityIndex: 'how the clothing breathes',
    durationMin: 'the time looked at',
    ensemble: 'impermeable clothing',
  } as Readonly<Record<string, string>>,

  // ---- what if ----
  whatIf: {
    open: 'What if?',
    title: 'What if?',
    changesNothing: 'Only a calculation: nothing here is recorded, and no limit in force changes.',
    procedure: 'Which procedure?',
    prefill: 'Air as in',
    usualAir: 'the unit’s usual air',
    work: 'How hard is the work?',
    minutesSoFar: 'Minutes in equipment before this entry',
    minutesSoFarMore: 'in the last 24 hours; left empty: none',
    now: 'As it is now',
    nowMore: (procedure: string, air: string, work: string) => `${procedure}; ${air}; ${work} work`,
    if: 'What if',
    limit: 'Limit',
    minutes: (minutes: number) => `${minutes} min`,
    longer: (minutes: number) => `${minutes} min longer than now`,
    shorter: (minutes: number) => `${minutes} min shorter than now`,
    same: 'the same minutes as now',
    because: (reason: string) => `because ${reason}`,
    source: 'Source',
    heat: 'Predicted heat strain',
    core: (celsius: string) => `core ${celsius} °C`,
    water: (grams: string) => `${grams} g of water`,
    atEnd: 'at the end of the time looked at',
    screening: 'Screening index',
    screeningIs: (wbgt: string, effective: string, limit: string) =>
      `${wbgt} °C in the room, ${effective} °C with the clothing; the screening limit is ${limit} °C`,
    over: 'Over the screening limit: monitor the person. It stops nobody.',
    under: 'Under the screening limit.',
    firstCheck: (minutes: number) => `First check after ${minutes} min of work.`,
    asking: 'Calculating…',
    fails: 'The server does not calculate this now. Nothing was changed; try again in a moment.',
    refused: (sentence: string) => `The server does not calculate this: ${sentence}`,
    noProcedure: 'No procedure is adopted in this unit.',
  },

  // ---- the cold side ----
  barred: 'not again today',
  barredUntil: (time: string) =>
    `Not again before ${time}. Occupational health decides; the safety officer can allow it.`,
  shorter: 'next entry shorter',
  shorterTo: (percent: number) => `The next entry is shortened to ${percent} % of the usual limit.`,
  againTitle: 'The next entry',

  // ---- the tablet ----
  tablet: {
    lookAfter: (name: string) => `Check ${name} now`,
    checkDueAt: (clock: string) => `check due at ${clock}`,
    checkDueAtLong: (clock: string) => `Check due at ${clock}: pulse and temperature.`,
    checkDueNow: 'check is due now',
    checkDueNowLong: 'A check is due now: pulse and temperature.',
    heat: 'Limit and work',
    heatOf: (name: string) => `${name}: limit and work`,
    callOutAt: (clock: string) => `Call out at ${clock}.`,
    noLimit: 'No limit on record yet.',
    noHeat: 'This unit computes no limits from heat. Its own rule counts.',
    checkKicker: (name: string) => `Check of ${name}`,
    checkOnlyBounds: 'Nothing was measured. Measure at least one, or go back.',
    checkPartly: 'Not everything was measured. What was not is not judged.',
    send: 'Send the check',
    sending: 'Being sent…',
    within: 'Within bounds.',
    withinNext: (clock: string) => `Look again at ${clock}.`,
    withinMore: 'Anybody who feels unwell comes out at once, whatever was measured.',
    over: 'Come out now.',
    overMore: (name: string) => `Call ${name} out. Say: “Come to the door now. Slowly.”`,
    overCalled: (name: string) => `${name} is called out. Stay in sight until they are at the threshold.`,
    confidential: 'What you measured is confidential. Other screens show only what follows from it.',
    done: 'Done',
    further: 'More measurements',
    furtherMore: 'None of these is required. They are confidential, like the vital signs.',
    furtherTaken: (count: number) => (count === 1 ? '1 more was taken' : `${count} more were taken`),
    furtherBack: 'Back to the check',
    measure: 'Measure',
    remove: 'Take it out',
    symptoms: 'Severe signs seen?',
    symptomsWhy: 'Sudden severe fatigue, nausea, dizziness, confusion, or sweat that stopped on hot dry skin.',
    yes: 'Yes',
    no: 'No',
    sitsDown: 'Sits down now',
    sitsDownMore: 'Starts the time for P1 and P3.',
    sittingFor: (time: string) => `Sitting for ${time}.`,
    recovery: {
      'before-p1': 'P1 is counted from 0:30 to 1:00.',
      p1: 'Count P1 now.',
      'before-p3': 'P3 is counted from 2:30 to 3:00.',
      p3: 'Count P3 now.',
      over: 'The times for P1 and P3 are over.',
    },
  },
  further,
} as const;
