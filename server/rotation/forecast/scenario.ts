import { z } from 'zod';
import { refused, answered, type ForecastAnswer } from './refusal.ts';
import { spread } from './spread.ts';

/**
 * A unit as it stands and what is expected of the next hours. Times are minutes from now; docs/forecast.md explains each field
 * with an example.
 */
const name = z.string().trim().min(1).max(80);
const ahead = z.number().min(0).max(1440);
const ago = z.number().min(0).max(1440);
const fromNow = z.number().min(-1440).max(1440);

/** Each an own choice; a unit puts its own history in their place. */
export const defaultSpreads = {
  donning: { median: 20, p90: 27 },
  inside: { median: 60, p90: 75 },
  leaving: { median: 4, p90: 7 },
  doffing: { median: 25, p90: 33 },
} as const;

export const peopleMost = 200;
export const lanesMost = 20;
export const observersMost = 60;
export const runsMost = 100_000;
/** Runs × people: what takes some seconds on a small machine. */
export const workMost = 4_000_000;
/** Chosen for screens that must not flicker: about two points of sampling error in a chance. */
export const defaultRuns = 2_000;
export const seedMost = Number.MAX_SAFE_INTEGER;

const settings = z.strictObject({
  horizonMinutes: z.int().min(15).max(1440).default(240),
  runs: z.int().min(20).max(runsMost).default(defaultRuns),
  seed: z.int().min(0).max(seedMost).default(1),
  /** Which wait is told for planning: 0.9 is the wait that nine of ten do not exceed. */
  waitQuantile: z.number().min(0.5).max(0.99).default(0.9),
  /** An observer stays this long after the last doffing step. */
  postCheckMinutes: z.number().min(0).max(240).default(5),
  /** Whoever waits longer than this for the observer they were promised takes any who is free. */
  assignedObserverWaitMinutes: z.number().min(0).max(1440).default(10),
  donning: spread.default(defaultSpreads.donning),
  inside: spread.default(defaultSpreads.inside),
  leaving: spread.default(defaultSpreads.leaving),
  doffing: spread.default(defaultSpreads.doffing),
});

const lane = z.strictObject({
  id: name,
  turnoverMinutes: z.number().min(0).max(240).default(10),
  /** In turnover now, free in so many minutes. */
  freeInMinutes: ahead.optional(),
  /** Closed; `null`: nobody knows until when. */
  closedForMinutes: ahead.nullable().optional(),
  /** Held for this person, who is not in it yet. */
  heldFor: name.optional(),
});

const observer = z.strictObject({
  id: name,
  /** On a break or not on duty yet. */
  availableInMinutes: ahead.default(0),
  dutyEndsInMinutes: ahead.optional(),
  breaks: z
    .array(z.strictObject({ startsInMinutes: ahead, minutes: z.number().min(1).max(240) }))
    .max(20)
    .default([]),
});

const everybody = {
  /** Names this entry; draws are keyed by it, so it should stay the same from one forecast to the next. */
  id: name,
  /** Who it is, when that is another word than the entry. */
  worker: name.optional(),
  emergency: z.boolean().default(false),
  /** Theirs for what is to come; without one, whoever is free. */
  observer: name.optional(),
  leaving: spread.optional(),
  doffing: spread.optional(),
};
const beforeTheDoor = {
  ...everybody,
  donning: spread.optional(),
  inside: spread.optional(),
  /** Counted from the end of donning. */
  callOutAfterMinutes: ahead.optional(),
  limitAfterMinutes: ahead.optional(),
};
/** In equipment: counted from now, negative when it has passed. */
const inEquipment = { ...everybody, limitInMinutes: fromNow.optional() };
/** The observer who is with them at this moment. */
const guidedBy = name.optional();

export const person = z.discriminatedUnion('stage', [
  z.strictObject({ stage: z.literal('expected'), startsInMinutes: ahead, ...beforeTheDoor }),
  z.strictObject({ stage: z.literal('donning'), elapsedMinutes: ago, guidedBy, ...beforeTheDoor }),
  z.strictObject({
    stage: z.literal('inside'),
    elapsedMinutes: ago,
    /** What the work takes as a whole; without it and with a call-out time, they stay until called. */
    inside: spread.optional(),
    callOutInMinutes: fromNow.optional(),
    ...inEquipment,
  }),
  z.strictObject({ stage: z.literal('leaving'), elapsedMinutes: ago, guidedBy, ...inEquipment }),
  z.strictObject({ stage: z.literal('waiting'), elapsedMinutes: ago, guidedBy, ...inEquipment }),
  z.strictObject({ stage: z.literal('doffing'), elapsedMinutes: ago, lane: name, guidedBy, ...inEquipment }),
]);

export const scenario = z.strictObject({
  lanes: z.array(lane).min(1).max(lanesMost),
  observers: z.array(observer).max(observersMost),
  people: z.array(person).max(peopleMost),
  settings: settings.prefault({}),
});

export type ScenarioInput = z.input<typeof scenario>;
export type Scenario = z.infer<typeof scenario>;
export type ScenarioPerson = Scenario['people'][number];
export type ScenarioLane = Scenario['lanes'][number];
export type ScenarioObserver = Scenario['observers'][number];

/** Takes anything; refuses what is not exactly such a scenario, or does not fit together. */
export function readScenario(value: unknown): ForecastAnswer<Scenario> {
  const parsed = scenario.safeParse(value);
  if (!parsed.success) return refused('forecast/bad-field', fieldSentence(parsed.error));
  const { people, settings } = parsed.data;
  if (settings.runs * Math.max(1, people.length) > workMost) {
    const most = Math.floor(workMost / people.length);
    return refused('forecast/too-large', `settings.runs must be at most ${most} with ${people.length} people`);
  }
  const problem = contradiction(parsed.data);
  return problem === undefined ? answered(parsed.data) : refused('forecast/contradiction', problem);
}

/** The first thing that is wrong, with the way to it. */
export function fieldSentence(error: z.ZodError): string {
  const issue = error.issues[0]!;
  const keys = issue.code === 'unrecognized_keys' ? issue.keys.slice(0, 1) : [];
  const path = [...issue.path, ...keys].map(shortened).join('.');
  const message = keys.length > 0 ? 'there is no such field' : issue.message.replaceAll(/[^\x20-\x7e]+/g, ' ');
  return `${path === '' ? 'the input' : path}: ${message.slice(0, 240)}`;
}

const shortened = (key: PropertyKey): string =>
  String(key)
    .replaceAll(/[^\x20-\x7e]+/g, ' ')
    .slice(0, 60);

function contradiction({ lanes, observers, people }: Scenario): string | undefined {
  return (
    doubled('lanes', lanes) ??
    doubled('observers', observers) ??
    doubled('people', people) ??
    first(people, (one, at) => personProblem(one, `people.${at}`, lanes, observers)) ??
    first(lanes, (one, at) => laneProblem(one, `lanes.${at}`, people)) ??
    first(observers, (one, at) => observerProblem(one, `observers.${at}`)) ??
    takenTwice(lanes, observers, people)
  );
}

function first<One>(list: readonly One[], problem: (one: One, at: number) => string | undefined): string | undefined {
  for (const [at, one] of list.entries()) {
    const found = problem(one, at);
    if (found !== undefined) return found;
  }
  return undefined;
}

function doubled(what: string, list: readonly { id: string }[]): string | undefined {
  const seen = new Set<string>();
  return first(list, ({ id }, at) => {
    if (seen.has(id)) return `${what}.${at}.id: "${id}" is there twice`;
    seen.add(id);
    return undefined;
  });
}

type Named = readonly { id: string }[];
const isIn = (list: Named, id: string | undefined): boolean => id === undefined || list.some((one) => one.id === id);

function personProblem(one: ScenarioPerson, path: string, lanes: Named, observers: Named): string | undefined {
  if (!isIn(observers, one.observer)) return `${path}.observer: there is no observer "${one.observer}"`;
  if ('guidedBy' in one && !isIn(observers, one.guidedBy))
    return `${path}.guidedBy: there is no observer "${one.guidedBy}"`;
  if (one.stage === 'doffing' && !isIn(lanes, one.lane)) return `${path}.lane: there is no lane "${one.lane}"`;
  return undefined;
}

function laneProblem(one: ScenarioLane, path: string, people: readonly ScenarioPerson[]): string | undefined {
  const given = [one.freeInMinutes, one.closedForMinutes, one.heldFor].filter((field) => field !== undefined);
  if (given.length > 1) return `${path}: give at most one of freeInMinutes, closedForMinutes and heldFor`;
  const isOccupied = people.some((person) => person.stage === 'doffing' && person.lane === one.id);
  if (isOccupied && given.length > 0)
    return `${path}: somebody is doffing in it, so it is not held, closed or in turnover`;
  if (one.heldFor === undefined) return undefined;
  const holder = people.find(({ id }) => id === one.heldFor);
  if (!holder) return `${path}.heldFor: there is nobody "${one.heldFor}" among people`;
  const mayHold = holder.stage === 'inside' || holder.stage === 'leaving' || holder.stage === 'waiting';
  return mayHold ? undefined : `${path}.heldFor: "${one.heldFor}" is ${holder.stage} and cannot hold a lane`;
}

function observerProblem(one: ScenarioObserver, path: string): string | undefined {
  if (one.dutyEndsInMinutes === undefined || one.dutyEndsInMinutes > one.availableInMinutes) return undefined;
  return `${path}.dutyEndsInMinutes: must be later than availableInMinutes`;
}

function takenTwice(
  lanes: readonly ScenarioLane[],
  observers: readonly ScenarioObserver[],
  people: readonly ScenarioPerson[],
): string | undefined {
  const inLane = people.flatMap((one) => (one.stage === 'doffing' ? [one.lane] : []));
  const withSomebody = people.flatMap((one) => ('guidedBy' in one && one.guidedBy !== undefined ? [one.guidedBy] : []));
  const held = lanes.flatMap((one) => (one.heldFor === undefined ? [] : [one.heldFor]));
  const early = observers.find((one) => one.availableInMinutes > 0 && withSomebody.includes(one.id));
  return (
    twice('people.lane: two people doff in', inLane) ??
    twice('people.guidedBy: two people are guided by', withSomebody) ??
    twice('lanes.heldFor: two lanes are held for', held) ??
    (early && `observers.availableInMinutes: "${early.id}" is with somebody now, so leave it out`)
  );
}

function twice(sentence: string, names: readonly string[]): string | undefined {
  const found = names.find((one, at) => names.indexOf(one) !== at);
  return found === undefined ? undefined : `${sentence} "${found}"`;
}
