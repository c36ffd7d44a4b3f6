import { isDeepStrictEqual } from 'node:util';
import { acceptTime, decide, type Accepted } from '../../machines/unit/accept.ts';
import { deadlines } from '../../machines/unit/deadlines.ts';
import { fold, foldAll } from '../../machines/unit/fold.ts';
import { guideOf, holderOf, isAt, isInPpe, placeOf, procedureOf } from '../../machines/unit/questions.ts';
import { at, entriesOf, type UnitState } from '../../machines/unit/state.ts';
import { factAuthor, factData, type NumberedFact } from '../../machines/wire/fact.ts';
import type { DeviceId, EntryId, PersonId, ReportId } from '../../machines/wire/ids.ts';
import { refusalCodes } from '../../machines/wire/refusal.ts';
import { wireVersion, type Report } from '../../machines/wire/report.ts';
import { minutesInPpe } from '../../machines/worker/worker-machine.ts';
import { feverish, nameOf, salt, settings, vitals, type Outcome, type World } from '../support/unit-fixture.ts';

/**
 * What must hold after anything that happens to a unit. Each check looks at what was, what happened and what is, and answers
 * with what is wrong, or with nothing.
 */
export type Check = (outcome: Outcome) => string | undefined;

const first = <T>(list: readonly T[], say: (one: T) => string | undefined): string | undefined => {
  for (const one of list) {
    const said = say(one);
    if (said) return said;
  }
  return undefined;
};
const workers = (state: UnitState) => entriesOf(state.workers);

/** Facts of one entry so far. */
const entryFacts = (world: World, entry: EntryId) =>
  world.log.filter((fact) => 'entry' in fact.data && fact.data.entry === entry);

const nobodyEntersUninspected: Check = ({ facts, world }) =>
  first(facts, (fact) => {
    if (fact.kind === 'room-entered') {
      const kinds = entryFacts(world, fact.data.entry).map((one) => one.kind);
      const passed = kinds.lastIndexOf('inspection-passed');
      if (passed < 0 || kinds.lastIndexOf('inspection-failed') > passed)
        return `${fact.data.worker} went in uninspected`;
    }
    return fact.kind === 'inspection-passed' ? missingForClock(world, fact.data.entry) : undefined;
  });

/** The inspection may be passed only when all that comes before it is on record, for this entry, and nothing was waved through. */
function missingForClock(world: World, entry: EntryId): string | undefined {
  const facts = entryFacts(world, entry);
  const call = facts.find((fact) => fact.kind === 'worker-called');
  if (!call) return `${entry} was never called`;
  const procedure = world.state.procedures[`${call.data.procedure}@${call.data.version}`]!;
  const kit = new Set(facts.flatMap((fact) => (fact.kind === 'kit-item-confirmed' ? [fact.data.item] : [])));
  const done = new Set<string>();
  for (const fact of facts) {
    if (fact.kind === 'step-verified') done.add(fact.data.step);
    if (fact.kind === 'inspection-failed') fact.data.steps.forEach((step) => done.delete(step));
  }
  const cleared = facts.some(
    (fact) =>
      (fact.kind === 'screening-recorded' && fact.data.verdict === 'passed') ||
      (fact.kind === 'hold-released' && fact.data.hold === 'pre-check'),
  );
  if (!cleared) return `${entry} was donned without a screening`;
  const step = procedure.steps.find((one) => one.phase === 'donning' && !done.has(one.id));
  if (step) return `${entry} was donned without step ${step.id}`;
  const item = procedure.kit.find((one) => !kit.has(one.id));
  return item && `${entry} was donned without kit item ${item.id}`;
}

const clockRunsInPpe: Check = ({ world: { state } }) =>
  first(workers(state), ([id, { machine }]) => {
    const entry = machine.context.entry;
    if (!isInPpe(machine)) return undefined;
    return entry?.donnedAt !== undefined && entry.limit ? undefined : `${id} is in equipment without clock or limit`;
  });

/** Promise 4, second half. */
const nobodyDoffsUnwatched: Check = ({ world: { state } }) =>
  first(workers(state), ([id, { machine }]) => {
    if (!isAt(machine, 'doffing') || guideOf(state, id)) return undefined;
    const alert = Object.values(state.alerts).find(
      ({ context }) => context.kind === 'no-observer' && context.worker === id && context.priority === 'high',
    );
    return alert ? undefined : `${id} is in doffing with neither an observer nor a high alert`;
  });

const noStepIsSkipped: Check = ({ facts, world }) =>
  first(facts, (fact) => {
    if (fact.kind !== 'lane-left') return undefined;
    const done = new Set(
      entryFacts(world, fact.data.entry).flatMap((one) =>
        one.kind === 'step-verified' || one.kind === 'step-overridden' ? [one.data.step] : [],
      ),
    );
    const entry = world.state.workers[fact.data.worker]!.machine.context.entry!;
    const step = procedureOf(world.state, entry).steps.find((one) => one.phase === 'doffing' && !done.has(one.id));
    return step && `${fact.data.worker} left the lane without step ${step.id}`;
  });

const everyReportIsAnswered: Check = ({ refusal, report, facts }) => {
  if (!refusal) return undefined;
  if (!refusalCodes.includes(refusal.code)) return `${report?.kind}: unknown code ${refusal.code}`;
  if (refusal.sentence.trim().length < 10) return `${report?.kind}: "${refusal.sentence}" helps nobody`;
  return facts.every((fact) => fact.kind === 'report-kept') ? undefined : `refused, and ${facts[0]?.kind} was written`;
};

const oneWorkerPerLane: Check = ({ world: { state } }) => {
  const inLane = new Map<string, string>();
  for (const [id, { machine }] of workers(state)) {
    const lane = machine.context.entry?.lane;
    const stepping = isAt(machine, 'doffing', 'stepping') || isAt(machine, 'doffing', 'corrective');
    if ((lane !== undefined) !== stepping) return `${id} is in ${JSON.stringify(machine.value)} with lane ${lane}`;
    if (lane === undefined) continue;
    if (inLane.has(lane)) return `${lane} has both ${inLane.get(lane)} and ${id}`;
    inLane.set(lane, id);
    if (state.lanes[lane]?.value !== 'occupied') return `${id} is in ${lane}, which is ${state.lanes[lane]?.value}`;
  }
  const holders = new Map<string, string>();
  return first(entriesOf(state.lanes), ([lane, { value, context }]) => {
    if (value === 'occupied' && inLane.get(lane) !== context.worker) return `${lane} thinks it has ${context.worker}`;
    if (value !== 'held') return undefined;
    if (!context.worker || holders.has(context.worker)) return `${context.worker} holds two lanes`;
    holders.set(context.worker, lane);
    return isInPpe(state.workers[context.worker]!.machine)
      ? undefined
      : `${lane} is held for ${context.worker}, at rest`;
  });
};

const oneGuidePerWorker: Check = ({ world: { state } }) => {
  const guides = new Map<string, string>();
  return first(entriesOf(state.observers), ([id, { value, context }]) => {
    const worker = context.worker;
    if (typeof value === 'object' && !worker) return `${id} is guiding nobody`;
    if (!worker) return undefined;
    if (typeof value !== 'object' && value !== 'unreachable') return `${id} has ${worker} and is ${value}`;
    if (guides.has(worker)) return `${worker} has both ${guides.get(worker)} and ${id}`;
    guides.set(worker, id);
    if (worker === id) return `${id} observes themselves`;
    return state.workers[worker]?.machine.context.entry ? undefined : `${id} guides ${worker}, who has no entry`;
  });
};

const oneRoleAtATime: Check = ({ world: { state } }) =>
  first(workers(state), ([id, { machine }]) => {
    const entry = machine.context.entry;
    const observer = at(state.observers, id);
    if (entry && observer && observer.value !== 'off-shift') return `${id} is in an entry and on duty as an observer`;
    const assistant = entry?.assistant;
    if (!assistant) return undefined;
    if (at(state.workers, assistant)?.machine.context.entry)
      return `${assistant} assists ${id} from an entry of their own`;
    return at(state.observers, assistant)?.context.worker
      ? `${assistant} assists ${id} and guides somebody`
      : undefined;
  });

const oneAlertPerSubject: Check = ({ world: { state } }) => {
  const seen = new Set<string>();
  return first(Object.values(state.alerts), ({ value, context }) => {
    const key = `${context.kind}:${context.subject}`;
    if (seen.has(key)) return `${key} is open twice`;
    seen.add(key);
    return value === 'cleared' ? `${key} is cleared and still open` : undefined;
  });
};

/** Alerts tell of others' time too (their cause began earlier), and a kept report is only a note. */
const aboutTheChain = (fact: NumberedFact): PersonId | undefined =>
  'worker' in fact.data && !fact.kind.startsWith('alert-') && fact.kind !== 'report-kept'
    ? fact.data.worker
    : undefined;

const timeNeverGoesBack: Check = ({ before, facts }) => {
  const last = new Map<string, number>();
  for (const fact of before.log) {
    const worker = aboutTheChain(fact);
    if (worker) last.set(worker, Math.max(last.get(worker) ?? 0, fact.at));
  }
  return first(facts, (fact) => {
    if (fact.at > fact.receivedAt) return `${fact.kind} counts from after its receipt`;
    const worker = aboutTheChain(fact);
    if (!worker) return undefined;
    const before = last.get(worker) ?? 0;
    last.set(worker, Math.max(before, fact.at));
    return fact.at < before
      ? `${fact.kind} of ${worker} is ${before - fact.at} ms before what came before it`
      : undefined;
  });
};

const minutesNeverNegative: Check = ({ world: { state, now } }) =>
  first(workers(state), ([id, { machine }]) => {
    const { entry, worn } = machine.context;
    if (worn.some((trip) => !(trip.minutes >= 0))) return `${id} has worn ${JSON.stringify(worn)}`;
    if (!entry) return undefined;
    const span = (entry.doffedAt ?? now) - (entry.donnedAt ?? entry.doffedAt ?? now);
    return minutesInPpe(entry, now) >= 0 && span >= 0 ? undefined : `${id} is ${span} ms in equipment`;
  });

/** Two checks ask for the same settled state. */
const settledStates = new WeakMap<World, Accepted>();
function settledNow(world: World): Accepted {
  const known = settledStates.get(world) ?? acceptTime(world.state, world.now);
  settledStates.set(world, known);
  return known;
}

const settlingTwiceIsOnce: Check = ({ world }) => {
  const once = settledNow(world);
  const twice = acceptTime(once.state, world.now);
  if (twice.facts.length > 0) return `settling again wrote ${twice.facts.map((fact) => fact.kind).join(', ')}`;
  return twice.state === once.state ? undefined : 'settling again made another state';
};

/** What is due is done by settling; what is next changes something when it comes. Otherwise the watch would spin, or sleep. */
const deadlinesAreKept: Check = ({ world }) => {
  const settled = settledNow(world).state;
  const next = deadlines(settled)[0];
  if (!next) return undefined;
  if (next.at <= world.now) return `${next.what} of ${next.subject} stays due after settling`;
  const then = acceptTime(settled, next.at);
  if (then.facts.length === 0) return `${next.what} of ${next.subject} comes, and nothing happens`;
  const early = acceptTime(settled, next.at - 1).facts;
  return early.length > 0 ? `${early[0]!.kind} happens before any deadline` : undefined;
};

const everyFactIsValid: Check = ({ facts }) =>
  first(facts, (fact) => {
    if (!factAuthor.safeParse(fact.by).success) return `${fact.kind} is by ${JSON.stringify(fact.by)}`;
    const checked = factData[fact.kind].safeParse(fact.data);
    if (!checked.success)
      return `${fact.kind}: ${checked.error.issues.map((one) => `${one.path.join('.')} ${one.message}`).join('; ')}`;
    return isDeepStrictEqual(checked.data, plain(fact.data))
      ? undefined
      : `${fact.kind} is not what its schema keeps of it`;
  });

const plain = (value: unknown): unknown => JSON.parse(JSON.stringify(value));

/** The whole log again: dear, so it is done once, at the end of a walk. */
const replayIsTheSame: Check = ({ world }) => {
  const again = foldAll(
    undefined,
    world.log.map((fact) => plain(fact) as NumberedFact),
  );
  return isDeepStrictEqual(plain(again), plain(world.state)) ? undefined : 'the log folds to another state';
};

const stateIsPlainJson: Check = ({ world }) => {
  let state: UnitState | undefined;
  for (const fact of world.log) {
    state = fold(state, fact);
    if (fact.number % 40 === 0) state = plain(state) as UnitState;
  }
  return isDeepStrictEqual(plain(state), plain(world.state))
    ? undefined
    : 'a state read back from JSON folds differently';
};

const names = settings.people.map((person) => nameOf(person.id));
const secrets = [...Object.values(vitals), ...Object.values(feverish)].map(String);

const nothingConfidentialShows: Check = ({ facts, refusal, notice }) => {
  const open = facts.map(({ confidential: _confidential, ...fact }) => JSON.stringify(fact));
  return first([...open, refusal?.sentence ?? '', notice?.sentence ?? ''], (text) => {
    const leak = [...names, ...secrets].find((one) => text.includes(one));
    return leak && `"${leak}" is in ${text}`;
  });
};

/** Emergency exit by one press, by anybody with hands on a screen, whatever that screen's clock or log says. */
const nothingBlocksHelp: Check = ({ world }) =>
  first(
    workers(world.state).filter(([, { machine }]) => isInPpe(machine)),
    ([worker]) => {
      const report: Report = {
        v: wireVersion,
        id: 'dry-run' as ReportId,
        unit: world.state.unit,
        device: 'any' as DeviceId,
        sequence: 1,
        person: 'o2' as PersonId,
        observedAt: world.now + 3_600_000,
        basedOn: world.state.number + 5,
        kind: 'declare-emergency',
        data: { worker },
      };
      const answer = decide(world.state, { report, role: 'observer', receivedAt: world.now, salt });
      return 'refusal' in answer ? `emergency exit of ${worker} is refused: ${answer.refusal.code}` : undefined;
    },
  );

const endedEntriesLeaveNothing: Check = ({ world: { state } }) =>
  first(workers(state), ([id, worker]) => {
    const { machine } = worker;
    const resting = placeOf(machine) === 'rest';
    if (resting !== (machine.context.entry === undefined))
      return `${id} is at ${placeOf(machine)} with or without an entry`;
    if (!resting) return undefined;
    if (holderOf(state, id)) return `${id} rests and is guided by ${holderOf(state, id)}`;
    if (worker.observer) return `${id} rests and is expected to be watched by ${worker.observer}`;
    const stale = Object.values(state.alerts).find(
      ({ context }) => context.worker === id && !['breach', 'tablet-silent'].includes(context.kind),
    );
    return stale && `${id} rests, and ${stale.context.kind} is still open`;
  });

/** Alerts say what is so now: a guide who has been relieved is no longer a reason to run. */
const alertsAreTrue: Check = ({ world: { state } }) =>
  first(Object.values(state.alerts), ({ context }) => {
    if (context.kind !== 'tablet-silent') return undefined;
    const worker = context.observer && at(state.observers, context.observer)?.context.worker;
    return worker === context.worker ? undefined : `tablet-silent speaks of ${context.worker}, it is ${worker}`;
  });

export const checks = {
  'promise 4: no path of reports, in any order, from any device, puts a worker inside without a passed inspection':
    nobodyEntersUninspected,
  'promise 4: no path leaves a worker in doffing without either an observer or a high alert': nobodyDoffsUnwatched,
  'promise 6: every report is answered: facts, or a refusal with a known code and a sentence': everyReportIsAnswered,
  'a worker in equipment always has a running clock and a limit': clockRunsInPpe,
  'nobody leaves a lane with a doffing step neither verified nor overridden': noStepIsSkipped,
  'a lane never has two workers, and nobody holds two lanes': oneWorkerPerLane,
  'an observer guides at most one worker, a worker has at most one guide': oneGuidePerWorker,
  'nobody is worker, observer or assistant at the same time': oneRoleAtATime,
  'one open alert per kind and subject': oneAlertPerSubject,
  'an alert about a silent tablet names the worker it is guiding now': alertsAreTrue,
  'an entry that is over leaves no guide and no alert behind, but breaches that nobody has signed off':
    endedEntriesLeaveNothing,
  'facts of one worker never go back in time, and none counts from after its receipt': timeNeverGoesBack,
  'minutes in PPE are never negative': minutesNeverNegative,
  'every fact fits its schema': everyFactIsValid,
  'no open part and no sentence holds a name or a confidential value': nothingConfidentialShows,
} as const satisfies Record<string, Check>;

/** These settle the unit again, or ask it about every worker: dear, so a long walk asks after every third move. */
export const dearChecks = {
  'settling twice at the same instant changes nothing': settlingTwiceIsOnce,
  'what is due is done by settling, and what is next changes something when it comes': deadlinesAreKept,
  'nothing blocks an emergency exit': nothingBlocksHelp,
} as const satisfies Record<string, Check>;

export const checksAtTheEnd = {
  'promise 3: the log folds to the live state': replayIsTheSame,
  'a state is plain JSON: read back, it folds on to the same': stateIsPlainJson,
} as const satisfies Record<string, Check>;

export const checkNames = [
  ...Object.keys(checks),
  ...Object.keys(dearChecks),
  ...Object.keys(checksAtTheEnd),
] as CheckName[];
export type CheckName =
  keyof typeof checks | keyof typeof dearChecks | keyof typeof checksAtTheEnd | typeof neverThrows;
export const neverThrows = 'promise 6: nothing that happens makes the unit throw';
