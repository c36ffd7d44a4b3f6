import { openSteps } from '../../machines/procedure/order.ts';
import { entriesOf, type UnitState } from '../../machines/unit/state.ts';
import {
  assistantsFree,
  detailOf,
  holderOf,
  isCallable,
  isInPpe,
  lanesFor,
  phaseOf,
  placeOf,
  procedureOf,
} from '../../machines/unit/questions.ts';
import { reportKinds, type ReportKind } from '../../machines/wire/report.ts';
import { roles, type Role } from '../../machines/wire/rights.ts';
import { seededChance } from '../../server/seeded-chance.ts';
import { smallProcedure } from './prove-fixture.ts';
import { advised, everyTwenty, heated, senses } from '../support/heat-fixture.ts';
import {
  fallsSilent,
  feverish,
  gown,
  hood,
  isHeard,
  joins,
  minute,
  passes,
  reports,
  second,
  signsOff,
  unitChanges,
  unwatched,
  vitals,
  type Act,
  type UnitOpening,
  type World,
} from '../support/unit-fixture.ts';

/**
 * Random things that happen to a unit. A move is a handful of numbers, read against the state it meets: so a list of moves
 * can be shortened and still means something, and the same numbers always make the same walk.
 */
export type Move = readonly [what: number, first: number, second: number, third: number, time: number];

export function movesOf(seed: number, count: number): Move[] {
  const random = seededChance(seed);
  const number = () => Math.floor(random() * 100_000);
  return Array.from({ length: count }, () => [number(), number(), number(), number(), number()] as const);
}

const people = ['w1', 'w2', 'w3', 'w-old-fit', 'w-untrained', 'o1', 'o2', 'o3', 'both', 'c1', 's1', 'lead', 'nobody'];
const deviceOwners = ['o1', 'o2', 'o3', 'both', 'c1', 's1'];
const pick = <T>(list: readonly T[], number: number): T => list[number % list.length]!;

/** What is done, in words for a failure, and how to do it. */
export interface Deed {
  words: string;
  act: Act;
  isReport: boolean;
}

export function deedOf(world: World, move: Move): Deed {
  const [what, first, other, third, time] = move;
  const kind = what % 100;
  if (kind < 70) return plausibleDeed(world, first, other, time);
  if (kind < 85) return wildDeed(world, first, other, third, time);
  if (kind < 87) return adviceDeed(world, first, other);
  if (kind < 90)
    return passing(
      'passes',
      passes,
      pick([second, 7 * second, minute, 4 * minute, 21 * minute, 31 * minute, 3_600_000], first),
    );
  if (kind < 92) return passing('passes unwatched', unwatched, pick([second, minute, 13 * minute, 7_200_000], first));
  return kind === 99 ? changedFiles(other) : deviceDeed(kind, pick(deviceOwners, first), other, third);
}

/** What calculations and sensors bring, for whoever has an entry at the moment. */
function adviceDeed(world: World, first: number, other: number): Deed {
  const about = entriesOf(world.state.workers).filter(([, { machine }]) => machine.context.entry);
  const [worker] = pick(about.length > 0 ? about : entriesOf(world.state.workers), first);
  const check = other % 2 === 0 ? { check: { ...everyTwenty, everyMinutes: pick([5, 20, 45], other) } } : {};
  const minutes = pick([undefined, 3, 25, 59, 200], other);
  const further = { ...(minutes !== undefined && { minutes }), waitMinutes: pick([0, 4, 30], first), ...check };
  const read = { airTemperatureC: pick([19, 27, 36], other), relativeHumidityPct: 60 };
  if (other % 3 === 0) return { words: 'a sensor of r1 sends', act: senses('r1', read, first), isReport: false };
  return { words: `advice for ${worker}: ${JSON.stringify(further)}`, act: advised(worker, further), isReport: false };
}

/** The unit's files are changed while people are in the middle of things, and changed back some time. */
function changedFiles(other: number): Deed {
  const changes: [string, (same: UnitOpening) => UnitOpening][] = [
    ['as they were', heated],
    ['without heat', (same) => same],
    ['without lane 2', (same) => heated({ ...same, rules: { ...same.rules, lanes: same.rules.lanes.slice(0, 1) } })],
    ['without w2 and o1', (same) => ({ ...same, roster: same.roster.filter((one) => !/^(w2|o1)$/.test(one.id)) })],
    ['with the gown in version 3', (same) => ({ ...same, procedures: [{ ...gown, version: 3 }, hood] })],
    ['without the hood', (same) => ({ ...same, procedures: [gown] })],
  ];
  const [words, change] = pick(changes, other);
  return { words: `the files are taken in, ${words}`, act: unitChanges(change), isReport: false };
}

const passing = (words: string, act: (ms: number) => Act, ms: number): Deed => ({
  words: `${ms / 1000} s ${words}`,
  act: act(ms),
  isReport: false,
});

function deviceDeed(kind: number, who: string, other: number, third: number): Deed {
  const deed = (words: string, act: Act): Deed => ({ words: `${who} ${words}`, act, isReport: false });
  if (kind < 95) return deed('falls silent', fallsSilent(who));
  if (kind < 97) return deed('is heard', isHeard(who));
  if (kind === 97) return deed('signs off', signsOff(who));
  const role = pick<Role>(['observer', 'observer', 'observer', ...roles], other);
  const on = third % 4 === 0 ? `tablet-${pick(deviceOwners, third)}` : `tablet-${who}`;
  return deed(`joins as ${role} on ${on}`, joins(who, role, on));
}

// ---- reports that fit the moment ---------------------------------------------------------------------------------------

interface Plan {
  who: string;
  kind: ReportKind;
  data: object;
  weight: number;
}

function plausibleDeed(world: World, first: number, other: number, time: number): Deed {
  const plans = plansFor(world.state);
  let left = first % plans.reduce((sum, plan) => sum + plan.weight, 0);
  const plan = plans.find((one) => (left -= one.weight) < 0)!;
  return reportDeed(plan.who, plan.kind, plan.data, other, time);
}

/** Some seconds go by before each report. It is mostly told at once; now and then late, or with a clock that runs ahead. */
function reportDeed(
  who: string,
  kind: ReportKind,
  data: object,
  other: number,
  time: number,
  options: { role?: Role; basedOn?: number } = {},
): Deed {
  const agoMs = other % 10 < 7 ? 0 : pick([3 * second, 20 * second, 2 * minute, 40 * minute, -4 * second], time);
  const wait = pick([0, 500, 5 * second, 19 * second], time);
  const act: Act = (world) => {
    const later = { ...world, now: world.now + wait };
    const anyData = data as Parameters<typeof reports<ReportKind>>[2];
    return { ...reports(who, kind, anyData, { agoMs, ...options })(later), before: world };
  };
  const words = `${who}${options.role ? ` (${options.role})` : ''} ${kind} ${JSON.stringify(data)}${agoMs ? `, seen ${agoMs / 1000} s ago` : ''}`;
  return { words, act, isReport: true };
}

function plansFor(state: UnitState): Plan[] {
  return [
    ...observerPlans(state),
    ...workerPlans(state),
    ...lanePlans(state),
    ...alertPlans(state),
    ...planPlans(state),
  ];
}

const plan = (weight: number, who: string, kind: ReportKind, data: object = {}): Plan => ({ who, kind, data, weight });

function observerPlans(state: UnitState): Plan[] {
  return entriesOf(state.observers).flatMap(([id, { value, context }]): Plan[] => {
    if (value === 'off-shift') return [plan(8, id, 'start-duty')];
    if (value === 'break') return [plan(4, id, 'end-break'), plan(1, id, 'end-duty'), plan(1, id, 'start-duty')];
    if (value === 'available') return [plan(1, id, 'start-break'), plan(1, id, 'end-duty')];
    if (value === 'unreachable') return [plan(2, id, 'start-duty'), plan(1, id, 'end-duty')];
    return context.worker ? [plan(1, id, 'release-worker', { worker: context.worker }), plan(1, id, 'end-duty')] : [];
  });
}

function workerPlans(state: UnitState): Plan[] {
  return entriesOf(state.workers).flatMap(([worker, { machine, after }]): Plan[] => {
    const breaches = machine.context.breaches.map((one) =>
      plan(1, 's1', 'clear-breach', { worker, breach: one.id, reason: 'seen to' }),
    );
    const entry = machine.context.entry;
    const barred = after?.barredUntil ? [plan(9, 's1', 'allow-again', { worker, reason: 'weighed again' })] : [];
    if (!entry) return [...breaches, ...barred, ...restPlans(worker, detailOf(machine))];
    const holder = holderOf(state, worker);
    const free = entriesOf(state.observers).filter(([, one]) => one.value === 'available');
    return [
      ...breaches,
      ...free.map(([id]) => plan(holder ? 1 : 12, id, 'take-worker', { worker })),
      ...free.map(([id]) => plan(1, 'c1', 'assign-observer', { worker, observer: id })),
      plan(1, 'o1', 'declare-breach', { worker, breachKind: 'splash' }),
      ...(isInPpe(machine) ? [...helpPlans(worker), ...heatPlans(worker)] : []),
      ...(holder ? guidedPlans(state, worker, holder) : []),
      ...unguidedPlans(worker, detailOf(machine) ?? placeOf(machine)),
    ];
  });
}

function restPlans(worker: string, detail: string | undefined): Plan[] {
  const call = { worker, room: 'r1', procedure: 'gown' };
  if (detail === 'stood-down') return [plan(2, 's1', 'lift-stand-down', { worker, reason: 'well again' })];
  return [
    plan(/^w\d|both/.test(worker) ? 5 : 1, 'c1', 'call-worker', call),
    plan(2, 'c1', 'call-worker', { worker, room: 'r2', procedure: 'hood' }),
    ...(detail === 'recovering' ? [plan(3, 'c1', 'call-worker', { ...call, despiteRest: 'nobody else is here' })] : []),
    plan(1, 'c1', 'stand-down', { worker, reason: 'feels unwell' }),
  ];
}

const heatPlans = (worker: string): Plan[] => [
  plan(1, 'c1', 'set-work', { worker, work: 'heavy' }),
  plan(1, 'o1', 'set-work', { worker, work: 'light' }),
  plan(2, 'o1', 'record-check', { worker, vitals }),
  plan(1, 'o2', 'record-check', { worker, vitals: feverish }),
  plan(1, 'c1', 'record-climate', { room: 'r1', climate: { airTemperatureC: 30, relativeHumidityPct: 65 } }),
];

const helpPlans = (worker: string): Plan[] => [
  plan(1, 'o1', 'declare-emergency', { worker }),
  plan(1, 'o2', 'declare-emergency', { worker, reason: 'feels faint' }),
  plan(1, 'c1', 'declare-emergency', { worker }),
  plan(2, 'c1', 'hold-lane', { worker, lane: 'l1' }),
  plan(2, 'c1', 'hold-lane', { worker, lane: 'l2' }),
];

function unguidedPlans(worker: string, detail: string): Plan[] {
  switch (detail) {
    case 'screening':
    case 'kit':
      return [plan(1, 'c1', 'cancel-entry', { worker, reason: 'not needed' })];
    case 'held':
      return [
        plan(8, 's1', 'release-hold', { worker, reason: 'measured again by hand' }),
        plan(1, 's1', 'stand-down', { worker, reason: 'fever' }),
        plan(1, 'c1', 'cancel-entry', { worker, reason: 'sent home' }),
      ];
    case 'donned':
      return [plan(1, 'o1', 'leave-room', { worker })];
    case 'working':
      return [plan(10, 'c1', 'call-out', { worker }), plan(2, 's1', 'call-out', { worker, reason: 'enough' })];
    case 'leaving':
      return [
        plan(1, 's1', 'override-step', { worker, step: 'wipe-gloves', reason: 'no wipes left' }),
        plan(4, 'o1', 'leave-room', { worker }),
      ];
    case 'measuring':
      return [plan(2, 'o2', 'record-post-check', { worker, vitals })];
    default:
      return [];
  }
}

function guidedPlans(state: UnitState, worker: UnitWorkerId, holder: string): Plan[] {
  const { machine } = state.workers[worker]!;
  const entry = machine.context.entry!;
  const procedure = procedureOf(state, entry);
  const by = (weight: number, kind: ReportKind, data: object = {}) => plan(weight, holder, kind, { worker, ...data });
  const points = procedure.readiness.map((one) => one.id);
  const phase = phaseOf(machine);
  const open = phase ? openSteps(procedure, phase, entry.outstanding[phase]) : [];
  const corrections = entry.deviations.flatMap((one) => [
    by(10, 'correct-deviation', { deviation: one.id }),
    by(12, 'verify-corrective', { deviation: one.id, index: one.correctiveDone ?? 0, tookSeconds: 61.5 }),
    by(1, 'verify-corrective', { deviation: one.id, index: 1 }),
  ]);
  const steps = open.flatMap((step) => [
    by(30, 'verify-step', { step: step.id, tookSeconds: 61.5 }),
    by(1, 'verify-step', { step: step.id, tookSeconds: 3 }),
    by(2, 'note-deviation', { step: step.id, deviationKind: 'touched' }),
    by(1, 'note-deviation', { step: step.id, deviationKind: 'torn', actor: 'assistant' }),
    plan(1, 's1', 'override-step', { worker, step: step.id, reason: 'cannot be done' }),
  ]);
  const here: Record<string, Plan[]> = {
    screening: [
      by(20, 'record-screening', { points, vitals }),
      by(2, 'record-screening', { points, vitals: feverish }),
    ],
    held: [by(2, 'record-screening', { points, vitals }), by(2, 'record-post-check', { vitals: feverish })],
    kit: entry.outstanding.kit.map((item) => by(20, 'confirm-kit-item', { item })),
    inspection: [by(30, 'pass-inspection'), by(3, 'fail-inspection', { steps: [procedure.steps[0]!.id] })],
    donned: [by(25, 'enter-room'), by(2, 'leave-room')],
    leaving: [by(20, 'leave-room')],
    'at-threshold': thresholdPlans(state, worker, holder),
    measuring: [
      by(10, 'record-post-check', { vitals }),
      by(6, 'record-post-check', { vitals: feverish }),
      by(5, 'record-post-check', { vitals, strain: { massBeforeKg: 80, massAfterKg: 78 } }),
      by(2, 'record-post-check', { vitals, strain: { pulseP1PerMin: 115, pulseP3PerMin: 112 } }),
    ],
  };
  return [...(here[detailOf(machine) ?? placeOf(machine)] ?? []), ...steps, ...corrections];
}

type UnitWorkerId = keyof UnitState['workers'];

function thresholdPlans(state: UnitState, worker: UnitWorkerId, holder: string): Plan[] {
  const confirmed = gown.laneReadiness.map((one) => one.id);
  const assistants = [undefined, ...assistantsFree(state)];
  return lanesFor(state, worker).flatMap((lane) =>
    assistants.map((assistant) =>
      plan(15, holder, 'enter-lane', { worker, lane, confirmed, ...(assistant && { assistant }) }),
    ),
  );
}

function lanePlans(state: UnitState): Plan[] {
  return entriesOf(state.lanes).flatMap(([lane, { value }]): Plan[] => {
    if (value === 'turnover') return [plan(8, 'c1', 'clear-lane', { lane })];
    if (value === 'closed') return [plan(4, 'c1', 'reopen-lane', { lane })];
    if (value === 'held') return [plan(1, 'c1', 'release-lane-hold', { lane })];
    return [plan(1, 'c1', 'close-lane', { lane, reason: 'a spill' })];
  });
}

function alertPlans(state: UnitState): Plan[] {
  const alerts = entriesOf(state.alerts).flatMap(([alert]) => [
    plan(1, 's1', 'acknowledge-alert', { alert }),
    plan(1, 'o1', 'tell-alert', { alert }),
    plan(1, 's1', 'clear-alert', { alert, reason: 'seen to' }),
  ]);
  const reviews = state.reviews.map(({ number }) => plan(1, 's1', 'close-review', { review: number, reason: 'read' }));
  return [...alerts, ...reviews];
}

/** A rotation of whoever is here, and call-outs brought forward. */
function planPlans(state: UnitState): Plan[] {
  const trips = ['w1', 'w2', 'both'].map((worker, index) => ({
    id: `t${index}`,
    worker,
    room: 'r1',
    procedure: 'gown',
    donningAt: state.at + index * 20 * minute,
    ...{ donningMinutes: 10, insideMinutes: 30, doffingMinutes: 10 },
  }));
  const rotation = { startAt: state.at, endAt: state.at + 240 * minute, trips, breaks: [] };
  const callable = entriesOf(state.workers).filter(([, { machine }]) => isCallable(machine));
  return [
    plan(1, 'c1', 'adopt-rotation', { rotation }),
    ...(state.rotation ? [plan(1, 'c1', 'drop-rotation', { reason: 'made anew' })] : []),
    ...callable.flatMap(([worker]) => [
      plan(1, 'c1', 'plan-call-out', { worker, callOutAt: state.at + 5 * minute, reason: 'lanes' }),
      plan(1, 'c1', 'plan-call-out', { worker, reason: 'no clash any more' }),
    ]),
  ];
}

// ---- reports that need not fit anything --------------------------------------------------------------------------------

function wildDeed(world: World, first: number, other: number, third: number, time: number): Deed {
  const kind = pick(reportKinds, first);
  const who = pick(people, other);
  const role = third % 5 === 0 ? pick(roles, third) : undefined;
  const basedOn = third % 3 === 0 ? (third % 11) * Math.ceil(world.state.number / 10) : undefined;
  return reportDeed(who, kind, wildData(world.state, kind, third, first + other), third, time, {
    ...(role && { role }),
    ...(basedOn !== undefined && { basedOn }),
  });
}

/** The unit's own procedures have too little in them for a proof; the third holds. */
const adoption = (third: number): object => ({
  procedure: { ...pick([gown, hood, smallProcedure()], third), version: 1 + (third % 6) },
  ...(third % 2 === 0 && { override: 'agreed with the physician of the unit' }),
});

function wildData(state: UnitState, kind: ReportKind, third: number, number: number): object {
  if (kind === 'adopt-procedure') return adoption(third);
  const step = pick([...gown.steps, ...hood.steps].map((one) => one.id as string).concat('no-such-step'), third);
  const ids = (list: string[], none: string) => pick([...list, none], third);
  const all: Record<string, unknown> = {
    worker: pick(['w1', 'w2', 'w3', 'both', 'o1', 'nobody'], number),
    room: pick(['r1', 'r2', 'r9'], third),
    procedure: pick(['gown', 'hood', 'none'], third),
    observer: pick(['o1', 'o2', 'both', 'c1'], third),
    reason: 'because',
    points: pick([['drank', 'toilet'], ['drank'], ['rested'], ['odd']], third),
    vitals: pick([vitals, feverish, {}], third),
    climate: { airTemperatureC: 28, relativeHumidityPct: 50 },
    work: pick(['light', 'heavy'], third),
    callOutAt: state.at + (third % 60) * minute,
    rotation: { startAt: state.at, endAt: state.at + (third % 2) * minute, trips: [], breaks: [] },
    item: pick(['kit-gloves', 'kit-gown', 'kit-hood', 'odd'], third),
    step,
    steps: [step],
    deviationKind: 'torn',
    deviation: ids(deviationsOf(state), 'D9'),
    index: third % 3,
    breach: ids(breachesOf(state), 'B9'),
    breachKind: pick(['glove-torn', 'splash', 'odd'], third),
    lane: pick(['l1', 'l2', 'l9'], third),
    confirmed: pick([['lane-clean', 'lane-bin'], []], third),
    alert: ids(Object.keys(state.alerts), 'A9'),
    review: pick([...state.reviews.map((one) => one.number), 9], third),
  };
  return Object.fromEntries((wanted[kind] ?? []).map((key) => [key, all[key]]));
}

const deviationsOf = (state: UnitState) =>
  Object.values(state.workers).flatMap(({ machine }) => machine.context.entry?.deviations.map((one) => one.id) ?? []);
const breachesOf = (state: UnitState) =>
  Object.values(state.workers).flatMap(({ machine }) => machine.context.breaches.map((one) => one.id));

/** The fields each kind of report is filled with. */
const wanted: Partial<Record<ReportKind, string[]>> = {
  'take-worker': ['worker'],
  'release-worker': ['worker'],
  'call-worker': ['worker', 'room', 'procedure', 'observer'],
  'cancel-entry': ['worker', 'reason'],
  'assign-observer': ['worker', 'observer'],
  'record-screening': ['worker', 'points', 'vitals'],
  'release-hold': ['worker', 'reason'],
  'confirm-kit-item': ['worker', 'item'],
  'verify-step': ['worker', 'step'],
  'override-step': ['worker', 'step', 'reason'],
  'note-deviation': ['worker', 'step', 'deviationKind'],
  'verify-corrective': ['worker', 'deviation', 'index'],
  'correct-deviation': ['worker', 'deviation'],
  'pass-inspection': ['worker'],
  'fail-inspection': ['worker', 'steps'],
  'enter-room': ['worker'],
  'call-out': ['worker'],
  'leave-room': ['worker'],
  'enter-lane': ['worker', 'lane', 'confirmed'],
  'declare-emergency': ['worker'],
  'declare-breach': ['worker', 'breachKind'],
  'clear-breach': ['worker', 'breach', 'reason'],
  'record-climate': ['room', 'climate'],
  'plan-call-out': ['worker', 'reason', 'callOutAt'],
  'adopt-rotation': ['rotation'],
  'drop-rotation': ['reason'],
  'set-work': ['worker', 'work'],
  'record-check': ['worker', 'vitals'],
  'allow-again': ['worker', 'reason'],
  'record-post-check': ['worker', 'vitals'],
  'stand-down': ['worker', 'reason'],
  'lift-stand-down': ['worker', 'reason'],
  'hold-lane': ['worker', 'lane'],
  'release-lane-hold': ['lane'],
  'clear-lane': ['lane'],
  'close-lane': ['lane', 'reason'],
  'reopen-lane': ['lane'],
  'tell-alert': ['alert'],
  'acknowledge-alert': ['alert'],
  'clear-alert': ['alert', 'reason'],
  'close-review': ['review', 'reason'],
};
