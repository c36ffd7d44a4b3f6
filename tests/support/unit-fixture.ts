import { expect } from 'vitest';
import { procedure, type Procedure } from '../../machines/procedure/procedure.ts';
import {
  acceptHeard,
  acceptJoin,
  acceptLeave,
  acceptReport,
  acceptSilence,
  acceptTime,
  type Accepted,
} from '../../machines/unit/accept.ts';
import { fold } from '../../machines/unit/fold.ts';
import { unitSettings, type Vitals } from '../../machines/unit/settings.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import { factVersion, type FactData, type FactKind, type FactOf, type NumberedFact } from '../../machines/wire/fact.ts';
import type { DeviceId, PersonId, UnitId } from '../../machines/wire/ids.ts';
import type { Refusal, RefusalCode } from '../../machines/wire/refusal.ts';
import { reportSchemas, wireVersion, type Report, type ReportKind } from '../../machines/wire/report.ts';
import { rights, roles, type Role } from '../../machines/wire/rights.ts';
import type { z } from 'zod';
import type { reportData } from '../../machines/wire/report.ts';

/**
 * A unit small enough to think through: three workers, three observers, two lanes, two procedures of a few steps, and numbers
 * that are easy to add up. Everybody and everything here is invented.
 */
export const second = 1_000;
export const minute = 60 * second;
export const openedAt = Date.parse('2026-03-02T08:00:00Z');

const source = 'invented for tests';
const point = (id: string, words: string) => ({ id, words });

/** Tight-fitting respirator, no assistant: 60 minutes, of which 10 are for doffing. */
export const gown = procedure.parse({
  id: 'gown',
  version: 1,
  title: 'Gown and respirator',
  ensemble: {
    name: 'gown',
    respirator: 'tight-fitting',
    garment: 'gown',
    items: ['mask', 'gloves', 'gown'].map((id) => ({ id, name: id })),
  },
  limit: { minutes: 60, reason: 'the rule for this ensemble', source },
  expected: { donningMinutes: 5, doffingMinutes: 10, source },
  doffingAssistant: false,
  readiness: [point('drank', 'Have you drunk?'), point('toilet', 'Have you been to the toilet?')],
  kit: [point('kit-gloves', 'Gloves'), point('kit-gown', 'Gown')],
  laneReadiness: [point('lane-clean', 'The lane is clean.'), point('lane-bin', 'The bin is open.')],
  steps: [
    { id: 'rub-hands', phase: 'donning', words: 'Rub your hands.', hygiene: hygiene(30, 'hands') },
    { id: 'gloves-on', phase: 'donning', words: 'Put on the gloves.', after: ['rub-hands'], putsOn: ['gloves'] },
    { id: 'gown-on', phase: 'donning', words: 'Put on gown and mask.', after: ['gloves-on'], putsOn: ['gown', 'mask'] },
    { id: 'wipe-gloves', phase: 'exit', words: 'Wipe the gloves.' },
    { id: 'clean-gloves', phase: 'doffing', words: 'Disinfect the gloves.', hygiene: hygiene(20, 'gloves') },
    {
      id: 'gown-off',
      phase: 'doffing',
      words: 'Take off the gown.',
      after: ['clean-gloves'],
      takesOff: ['gown'],
      critical: true,
      whenWrong: 'Stop. Hands away from the face.',
    },
    { id: 'gloves-off', phase: 'doffing', words: 'Take off the gloves.', after: ['gown-off'], takesOff: ['gloves'] },
    { id: 'mask-off', phase: 'doffing', words: 'Take off the mask.', after: ['gown-off'], takesOff: ['mask'] },
  ],
  cautions: ['An invented procedure. Nobody relies on it.'],
});

/** Powered hood: no fit test, but a doffing assistant; 120 minutes. */
export const hood = procedure.parse({
  id: 'hood',
  version: 1,
  title: 'Powered hood',
  ensemble: {
    name: 'hood',
    respirator: 'powered-loose-fitting',
    garment: 'coverall',
    items: [{ id: 'hood', name: 'hood' }],
  },
  limit: { minutes: 120, reason: 'the rule for the powered hood', source },
  expected: { donningMinutes: 5, doffingMinutes: 20, source },
  doffingAssistant: true,
  readiness: [point('rested', 'Are you rested?')],
  kit: [point('kit-hood', 'Hood')],
  laneReadiness: [point('lane-clean', 'The lane is clean.')],
  steps: [
    { id: 'hood-on', phase: 'donning', words: 'Put on the hood.', putsOn: ['hood'] },
    { id: 'hood-off', phase: 'doffing', words: 'Take off the hood.', by: 'assistant', takesOff: ['hood'] },
  ],
  cautions: ['An invented procedure. Nobody relies on it.'],
});

function hygiene(contactSeconds: number, covers: string) {
  return { agent: 'hand rub', contactSeconds, covers: [covers] };
}

const fresh = { daysAgo: 10 };
const old = { daysAgo: 800 };
const person = (id: string, roles: string[], rest: object = {}) => ({ id, name: nameOf(id), roles, ...rest });

/** Names that occur nowhere else, so that a test can prove they never reach a fact or a sentence. */
export const nameOf = (id: string): string => `Zephyrine-${id}-Quill`;

const trained = { fitTest: fresh, competency: { gown: fresh, hood: fresh } };

export const settings = unitSettings.parse({
  id: 'small',
  name: 'Small unit',
  rooms: [
    { id: 'r1', name: 'Room 1', places: 2 },
    { id: 'r2', name: 'Room 2', places: 1 },
  ],
  // 7.50001 minutes is no whole number of milliseconds: every time in a fact must be whole all the same.
  lanes: [
    { id: 'l1', name: 'Lane 1', turnoverMinutes: 10 },
    { id: 'l2', name: 'Lane 2', turnoverMinutes: 7.50001 },
  ],
  people: [
    person('w1', ['worker'], trained),
    person('w2', ['worker'], trained),
    person('w3', ['worker'], trained),
    person('w-old-fit', ['worker'], { ...trained, fitTest: old }),
    person('w-untrained', ['worker'], { fitTest: fresh, competency: { gown: old } }),
    person('o1', ['observer']),
    person('o2', ['observer']),
    person('o3', ['observer', 'assistant']),
    person('both', ['worker', 'observer', 'assistant'], trained),
    person('c1', ['coordinator']),
    person('s1', ['safety-officer']),
    person('lead', ['lead']),
  ],
  procedures: ['gown.yaml', 'hood.yaml'],
  qualification: { fitTestDays: 365, competencyDays: 90, source },
  preCheck: { bounds: { pulsePerMin: { low: 45, high: 100 }, temperatureC: { high: 37.5 } }, source },
  postCheck: { bounds: { pulsePerMin: { high: 110 } }, source },
  rest: { minutes: 30.00001, afterOverrunMinutes: 60.00001, source },
  perDay: { minutesInPpe: 150, entries: 3, source },
  callOut: { marginMinutes: 5, warnBeforeMinutes: 10 },
  alerts: { coordinatorAfterSeconds: 10, safetyOfficerAfterSeconds: 60, everyoneAfterSeconds: 180 },
  silence: { whileGuidingSeconds: 10, otherwiseSeconds: 30 },
  reports: { lateAfterSeconds: 60, futureToleranceSeconds: 5 },
  deviations: {
    caution: 'The infection-prevention lead decides.',
    source,
    steps: {
      torn: [{ words: 'Stop.' }, { words: 'Disinfect the gloves.', contactSeconds: 20 }, { words: 'New glove.' }],
    },
  },
  breaches: [
    {
      kind: 'glove-torn',
      name: 'Glove torn',
      class: 'near-miss',
      now: ['Stop.', 'Change the glove.'],
      then: ['Go on.'],
      leaveRoom: false,
      source,
    },
    {
      kind: 'splash',
      name: 'Splash',
      class: 'high-risk',
      now: ['Stop.', 'Go to the door.'],
      then: ['Wash.'],
      leaveRoom: true,
      source,
    },
  ],
});

export type UnitOpening = FactData<'unit-opened'>;

/** The settings as the log gets them: no names, days as dates. */
export function opening(change: (settings: UnitOpening) => UnitOpening = (same) => same): UnitOpening {
  const { people, procedures: _files, forecast: _forecast, ...rules } = settings;
  const date = (day: (typeof people)[number]['fitTest']) =>
    day && 'daysAgo' in day ? new Date(openedAt - day.daysAgo * 86_400_000).toISOString().slice(0, 10) : day?.on;
  const roster = people.map(({ id, roles, fitTest, competency }) => ({
    id,
    roles,
    ...(fitTest && { fitTestOn: date(fitTest) }),
    competencyOn: Object.fromEntries(Object.entries(competency).map(([key, day]) => [key, date(day)])),
  }));
  return change({ rules, roster, procedures: [gown, hood] });
}

/** A unit at one moment, with its whole log and what has been sent so far. Never edited, always replaced. */
export interface World {
  state: UnitState;
  now: number;
  log: readonly NumberedFact[];
  /** Reports sent so far: ids and sequences come from it. */
  sent: number;
}

export interface Outcome {
  before: World;
  world: World;
  facts: readonly NumberedFact[];
  refusal?: Refusal;
  notice?: Refusal;
  report?: Report;
}

/** Something that happens to a unit. */
export type Act = (world: World) => Outcome;

export function openedUnit(data: UnitOpening = opening()): World {
  const stamp = { v: factVersion, number: 1, unit: data.rules.id, at: openedAt, receivedAt: openedAt } as const;
  const fact: NumberedFact = { ...stamp, by: { watch: true }, kind: 'unit-opened', data };
  return { state: fold(undefined, fact), now: openedAt, log: [fact], sent: 0 };
}

function took(before: World, accepted: Accepted, more: Partial<Outcome> = {}): Outcome {
  const { state, facts, notice } = accepted;
  const world = { ...before, state, log: [...before.log, ...facts] };
  return { before, world, facts, ...(notice && { notice }), ...more };
}

export interface ReportOptions {
  role?: Role;
  device?: string;
  /** Milliseconds before the receipt; negative is in the future. */
  agoMs?: number;
  basedOn?: number;
  clockErrorMs?: number;
}

type ReportInput<K extends ReportKind> = z.input<(typeof reportData)[K]>;

/** A report as a screen would send it, checked by the schema of the wire first: no test rests on a message nobody can send. */
export function reports<K extends ReportKind>(
  who: string,
  kind: K,
  data: { [P in keyof ReportInput<K>]: unknown },
  options: ReportOptions = {},
): Act {
  return (before) => {
    const role = options.role ?? roleFor(before.state, who, kind);
    const sent = before.sent + 1;
    const report = reportSchemas[kind].parse({
      v: wireVersion,
      id: `report-${sent}`,
      unit: before.state.unit,
      device: options.device ?? deviceOf(who),
      sequence: sent,
      person: who,
      observedAt: before.now - (options.agoMs ?? 0),
      ...(options.basedOn !== undefined && { basedOn: options.basedOn }),
      ...(options.clockErrorMs !== undefined && { clockErrorMs: options.clockErrorMs }),
      kind,
      data,
    }) as unknown as Report;
    const answer = acceptReport(before.state, { report, role, receivedAt: before.now, salt });
    if (!('refusal' in answer)) {
      const outcome = took(before, answer, { report });
      return { ...outcome, world: { ...outcome.world, sent } };
    }
    const { refusal, kept } = answer;
    const outcome = took(before, kept ?? { facts: [], state: before.state }, { report, refusal });
    return { ...outcome, world: { ...outcome.world, sent } };
  };
}

export const salt = 'salt-of-sixteen-or-more';
export const deviceOf = (who: string): string => `tablet-${who}`;

/** The first role that may send this and that the person holds; else the screen they have, which is then refused. */
function roleFor(state: UnitState, who: string, kind: ReportKind): Role {
  const held = at(state.roster, who as PersonId)?.roles ?? [];
  const allowed = rights[kind];
  const theirs = roles.filter((role) => held.some((one) => one === role));
  return allowed.find((role) => theirs.includes(role)) ?? theirs[0] ?? allowed[0]!;
}

/** Time passes, and the watch looks. */
export const passes =
  (ms: number): Act =>
  (before) => {
    const later = { ...before, now: before.now + ms };
    return took(later, acceptTime(later.state, later.now));
  };

/** Time passes, and nobody has looked yet. */
export const unwatched =
  (ms: number): Act =>
  (before) => ({ before, world: { ...before, now: before.now + ms }, facts: [] });

const device = (who: string) => deviceOf(who) as DeviceId;

export const joins =
  (who: string, role: Role = 'observer', on: string = deviceOf(who)): Act =>
  (world) =>
    took(world, acceptJoin(world.state, on as DeviceId, role, who as PersonId, world.now));
export const fallsSilent =
  (who: string): Act =>
  (world) =>
    took(world, acceptSilence(world.state, device(who), world.now - 10 * second, world.now));
export const isHeard =
  (who: string): Act =>
  (world) =>
    took(world, acceptHeard(world.state, device(who), world.now));
export const signsOff =
  (who: string): Act =>
  (world) =>
    took(world, acceptLeave(world.state, device(who), world.now));

/** The files of the unit are changed and taken in. */
export const unitChanges =
  (change: (settings: UnitOpening) => UnitOpening): Act =>
  (before) => {
    const { state, now } = before;
    const stamp = { v: factVersion, number: state.number + 1, unit: state.unit, at: now, receivedAt: now } as const;
    const fact: NumberedFact = { ...stamp, by: { watch: true }, kind: 'unit-changed', data: opening(change) };
    const changed = fold(state, fact);
    const settled = acceptTime(changed, now);
    return took(before, { facts: [fact, ...settled.facts], state: settled.state });
  };

export const vitals: Vitals = { pulsePerMin: 71.5, temperatureC: 36.625 };
export const feverish: Vitals = { pulsePerMin: 123.25, temperatureC: 38.875 };

// ---- story helper ------------------------------------------------------------------------------------------------------

/** Does several things in turn; each must be accepted, or the story itself is wrong. */
export function play(world: World, acts: readonly Act[]): World {
  return acts.reduce((sofar, act, index) => {
    const { world: next, refusal, report } = act(sofar);
    if (refusal)
      throw new Error(`act ${index + 1} (${report?.kind}) was refused: ${refusal.code} "${refusal.sentence}"`);
    return next;
  }, world);
}

type Acts = (Act | Acts)[];

/** given(what was) → when(this happens) → then(these facts, in this order), or thenRefused(with this code). */
export function given(...acts: Acts): Given {
  return new Given(play(openedUnit(), acts.flat(Infinity as 1) as Act[]));
}

export class Given {
  readonly world: World;
  constructor(world: World) {
    this.world = world;
  }
  when(...acts: Acts): Then {
    const all = acts.flat(Infinity as 1) as Act[];
    const last = all.at(-1);
    if (!last) throw new Error('when() needs something that happens');
    return new Then(last(play(this.world, all.slice(0, -1))));
  }
}

export class Then {
  readonly outcome: Outcome;
  constructor(outcome: Outcome) {
    this.outcome = outcome;
  }

  /** Exactly these kinds of fact, in this order. */
  then(...kinds: FactKind[]): this {
    const { refusal, facts } = this.outcome;
    expect(refusal && `refused: ${refusal.code} "${refusal.sentence}"`).toBeUndefined();
    expect(facts.map((fact) => fact.kind)).toEqual(kinds);
    return this;
  }

  thenRefused(code: RefusalCode, sentence?: RegExp): this {
    const { refusal, facts } = this.outcome;
    expect(refusal?.code ?? facts.map((fact) => fact.kind)).toBe(code);
    expect(refusal?.sentence.trim()).not.toBe('');
    if (sentence) expect(refusal?.sentence).toMatch(sentence);
    return this;
  }

  /** Refused, and kept for review under a number of its own. */
  thenKept(code: RefusalCode): this {
    this.thenRefused(code);
    expect(this.outcome.facts.map((fact) => fact.kind)).toEqual(['report-kept']);
    return this;
  }

  /** Refused, and nothing is written. */
  thenNothingKept(): this {
    expect(this.outcome.facts).toEqual([]);
    expect(this.state).toBe(this.outcome.before.state);
    return this;
  }

  get state(): UnitState {
    return this.outcome.world.state;
  }

  /** The only fact of its kind in the outcome. */
  fact<K extends FactKind>(kind: K): FactOf<K> {
    const found = this.outcome.facts.filter((fact) => fact.kind === kind);
    expect(found.map((fact) => fact.kind)).toEqual([kind]);
    return found[0] as unknown as FactOf<K>;
  }

  /** What is open afterwards. */
  alerts(): string[] {
    return openAlerts(this.state);
  }

  worker(id: string) {
    return workerOf(this.state, id);
  }

  /** Goes on with the story from here. */
  when(...acts: Acts): Then {
    return new Given(this.outcome.world).when(...acts);
  }
}

/** Open alerts as `kind:subject priority level`, in alphabetical order. */
export function openAlerts(state: UnitState): string[] {
  return Object.values(state.alerts)
    .map(({ context }) => `${context.kind}:${context.subject} ${context.priority} ${context.level}`)
    .sort();
}

export function workerOf(state: UnitState, id: string) {
  const worker = at(state.workers, id as PersonId);
  if (!worker) throw new Error(`no worker ${id}`);
  return { ...worker, place: worker.machine.value, entry: worker.machine.context.entry };
}
export const observerOf = (state: UnitState, id: string) => at(state.observers, id as PersonId)!;
export const laneOf = (state: UnitState, id: string) => state.lanes[id as keyof typeof state.lanes]!;

// ---- stretches of an entry ---------------------------------------------------------------------------------------------

export const onDuty = (...who: string[]): Act[] => who.flatMap((one) => [joins(one), reports(one, 'start-duty', {})]);

export const called = (worker: string, procedureId = 'gown', room = 'r1'): Act =>
  reports('c1', 'call-worker', { worker, room, procedure: procedureId });
export const taken = (observer: string, worker: string): Act => reports(observer, 'take-worker', { worker });

const procedures: Record<string, Procedure> = { gown, hood };
const idsOf = (points: readonly { id: string }[]) => points.map((one) => one.id);

export const screened = (observer: string, worker: string, procedureId = 'gown'): Act =>
  reports(observer, 'record-screening', { worker, points: idsOf(procedures[procedureId]!.readiness), vitals });

export const verified = (observer: string, worker: string, step: string): Act =>
  reports(observer, 'verify-step', { worker, step, tookSeconds: 60 });

const phaseDone = (observer: string, worker: string, phase: string, procedureId: string): Act[] =>
  procedures[procedureId]!.steps.filter((step) => step.phase === phase).map((step) =>
    verified(observer, worker, step.id),
  );

/** Called, taken, screened, kit complete: at the first donning step. */
export const readied = (observer: string, worker: string, procedureId = 'gown', room = 'r1'): Act[] => [
  called(worker, procedureId, room),
  taken(observer, worker),
  screened(observer, worker, procedureId),
  ...procedures[procedureId]!.kit.map((item) => reports(observer, 'confirm-kit-item', { worker, item: item.id })),
];

/** Every donning step verified: at the final inspection. */
export const dressed = (observer: string, worker: string, procedureId = 'gown', room = 'r1'): Act[] => [
  ...readied(observer, worker, procedureId, room),
  ...phaseDone(observer, worker, 'donning', procedureId),
];

/** Inspection passed: at the door, clock running. */
export const donned = (observer: string, worker: string, procedureId = 'gown', room = 'r1'): Act[] => [
  ...dressed(observer, worker, procedureId, room),
  reports(observer, 'pass-inspection', { worker }),
];

export const inside = (observer: string, worker: string, procedureId = 'gown', room = 'r1'): Act[] => [
  ...donned(observer, worker, procedureId, room),
  reports(observer, 'enter-room', { worker }),
];

/** From inside to the way out, guided again. */
export const leaving = (observer: string, worker: string): Act[] => [
  reports('c1', 'call-out', { worker }),
  taken(observer, worker),
];

export const atThreshold = (observer: string, worker: string, procedureId = 'gown'): Act[] => [
  ...leaving(observer, worker),
  ...phaseDone(observer, worker, 'exit', procedureId),
  reports(observer, 'leave-room', { worker }),
];

export const enters = (observer: string, worker: string, lane: string, procedureId = 'gown', assistant?: string): Act =>
  reports(observer, 'enter-lane', {
    worker,
    lane,
    confirmed: idsOf(procedures[procedureId]!.laneReadiness),
    ...(assistant && { assistant }),
  });

export const doffed = (observer: string, worker: string, procedureId = 'gown'): Act[] =>
  phaseDone(observer, worker, 'doffing', procedureId);

/** A whole trip, from the call to the rest. */
export const trip = (observer: string, worker: string, lane: string, insideMs: number): Act[] => [
  ...inside(observer, worker),
  passes(insideMs),
  ...atThreshold(observer, worker),
  enters(observer, worker, lane),
  ...doffed(observer, worker),
  reports(observer, 'record-post-check', { worker, vitals }),
];

export type { UnitId };
