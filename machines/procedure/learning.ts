import type { Fact } from '../wire/fact.ts';
import type { EntryId, ProcedureId, StepId } from '../wire/ids.ts';
import type { Phase, Procedure } from './procedure.ts';

/**
 * What a unit's own record says about its procedures: per version and step, how often it was verified, missed and put right, how
 * long it took, and how long donning and doffing took as a whole. Gathered fact by fact, so that a long log is read once.
 *
 * Times count from the observed times of the facts. A step's time is what the tablet measured (`tookSeconds`, contact time) where it
 * was given, else the time since the step before in the same phase of the same entry; each says which.
 */
export interface Learning {
  versions: Readonly<Record<string, VersionLearned>>;
  /** Entries that are under way, by id. */
  open: Readonly<Record<EntryId, OpenEntry>>;
  /** Where each step belongs: facts name steps by id. */
  phases: Readonly<Record<string, Readonly<Record<StepId, Phase>>>>;
}

export interface VersionLearned {
  procedure: ProcedureId;
  version: number;
  /** Entries in which the clock started. */
  entries: number;
  steps: Readonly<Record<StepId, StepLearned>>;
  /** From the last kit item to the passed inspection, minutes. */
  donningMinutes: readonly number[];
  /** From the lane to the last doffing step, minutes; without emergencies and overridden steps. */
  doffingMinutes: readonly number[];
}

export interface StepLearned {
  verified: number;
  overridden: number;
  corrected: number;
  deviations: readonly DeviationLearned[];
  seconds: readonly StepTime[];
}

export interface DeviationLearned {
  kind: string;
  actor: string;
  /** YYYY-MM, UTC. */
  month: string;
}

export interface StepTime {
  seconds: number;
  measured: 'contact-time' | 'since-step-before';
  month: string;
}

interface OpenEntry {
  key: string;
  kitDoneAt?: number;
  /** When the last step of this phase was done, or the phase began. */
  sinceAt?: number;
  phase?: Phase;
  laneAt?: number;
  lastDoffingAt?: number;
  doffingLeft: readonly StepId[];
  /** An emergency or an overridden step: its times say nothing about the next entry. */
  unusual: boolean;
  deviations: Readonly<Record<string, StepId>>;
}

export const nothingLearned: Learning = { versions: {}, open: {}, phases: {} };

/** Times kept per step, and per procedure: the newest. Counts are kept for ever. */
export const timesKept = 200;

const keyOf = (id: string, version: number): string => `${id}@${version}`;
export const monthOf = (at: number): string => new Date(at).toISOString().slice(0, 7);

/** Takes in the next fact of a log. */
export function learn(learning: Learning, fact: Fact): Learning {
  switch (fact.kind) {
    case 'unit-opened':
    case 'unit-changed':
      return fact.data.procedures.reduce(withPhases, learning);
    case 'procedure-adopted':
      return withPhases(learning, fact.data.procedure);
    case 'worker-called':
      return called(learning, fact);
    case 'entry-cancelled':
    case 'post-check-recorded':
      return closed(learning, fact.data.entry);
    case 'kit-item-confirmed':
      return inEntry(learning, fact.data.entry, () => ({ kitDoneAt: fact.at, sinceAt: fact.at, phase: 'donning' }));
    case 'inspection-passed':
      return donned(learning, fact);
    case 'called-out':
      return inEntry(learning, fact.data.entry, () => ({ sinceAt: fact.at, phase: 'exit' }));
    case 'lane-entered':
      return inEntry(learning, fact.data.entry, () => ({ laneAt: fact.at, sinceAt: fact.at, phase: 'doffing' }));
    case 'emergency-declared':
      return inEntry(learning, fact.data.entry, () => ({ unusual: true }));
    case 'step-verified':
      return verified(learning, fact);
    case 'step-overridden':
      return overridden(learning, fact);
    case 'deviation-noted':
      return deviated(learning, fact);
    case 'deviation-corrected':
      return corrected(learning, fact);
    default:
      return learning;
  }
}

type FactNamed<K extends Fact['kind']> = Extract<Fact, { kind: K }>;

function withPhases(learning: Learning, { id, version, steps }: Procedure): Learning {
  const phases = Object.fromEntries(steps.map((step) => [step.id, step.phase])) as Record<StepId, Phase>;
  return { ...learning, phases: { ...learning.phases, [keyOf(id, version)]: phases } };
}

function called(learning: Learning, { data }: FactNamed<'worker-called'>): Learning {
  const key = keyOf(data.procedure, data.version);
  const phases = learning.phases[key] ?? {};
  const doffingLeft = (Object.keys(phases) as StepId[]).filter((step) => phases[step] === 'doffing');
  const fresh: VersionLearned = {
    procedure: data.procedure,
    version: data.version,
    entries: 0,
    steps: {},
    donningMinutes: [],
    doffingMinutes: [],
  };
  const entry: OpenEntry = { key, doffingLeft, unusual: false, deviations: {} };
  return {
    ...learning,
    versions: { ...learning.versions, [key]: learning.versions[key] ?? fresh },
    open: { ...learning.open, [data.entry]: entry },
  };
}

function closed(learning: Learning, id: EntryId): Learning {
  const { [id]: _over, ...open } = learning.open;
  return { ...learning, open };
}

function inEntry(learning: Learning, id: EntryId, change: (entry: OpenEntry) => Partial<OpenEntry>): Learning {
  const entry = learning.open[id];
  return entry ? { ...learning, open: { ...learning.open, [id]: { ...entry, ...change(entry) } } } : learning;
}

function inVersion(
  learning: Learning,
  id: EntryId,
  change: (version: VersionLearned) => Partial<VersionLearned>,
): Learning {
  const key = learning.open[id]?.key;
  const version = key === undefined ? undefined : learning.versions[key];
  if (key === undefined || !version) return learning;
  return { ...learning, versions: { ...learning.versions, [key]: { ...version, ...change(version) } } };
}

const emptyStep: StepLearned = { verified: 0, overridden: 0, corrected: 0, deviations: [], seconds: [] };

function inStep(
  learning: Learning,
  id: EntryId,
  step: StepId,
  change: (step: StepLearned) => Partial<StepLearned>,
): Learning {
  return inVersion(learning, id, ({ steps }) => {
    const before = steps[step] ?? emptyStep;
    return { steps: { ...steps, [step]: { ...before, ...change(before) } } };
  });
}

const newest = <T>(values: readonly T[], value: T): T[] => [...values, value].slice(-timesKept);
const minutesOf = (ms: number): number => Math.round(ms / 600) / 100;

function donned(learning: Learning, { at, data }: FactNamed<'inspection-passed'>): Learning {
  const since = learning.open[data.entry]?.kitDoneAt;
  return inVersion(learning, data.entry, ({ entries, donningMinutes }) => ({
    entries: entries + 1,
    ...(since !== undefined && { donningMinutes: newest(donningMinutes, minutesOf(at - since)) }),
  }));
}

function verified(learning: Learning, fact: FactNamed<'step-verified'>): Learning {
  const { entry: id, step } = fact.data;
  const time = stepTime(learning, fact);
  const noted = inStep(learning, id, step, ({ verified: before, seconds }) => ({
    verified: before + 1,
    ...(time && { seconds: newest(seconds, time) }),
  }));
  return stepDone(noted, id, step, fact.at);
}

function stepTime({ open }: Learning, { at, data }: FactNamed<'step-verified'>): StepTime | undefined {
  const month = monthOf(at);
  if (data.tookSeconds !== undefined) return { seconds: data.tookSeconds, measured: 'contact-time', month };
  const since = open[data.entry]?.sinceAt;
  return since === undefined
    ? undefined
    : { seconds: Math.round((at - since) / 1000), measured: 'since-step-before', month };
}

/** Moves on to the next step; with the last doffing step the doffing is over. */
function stepDone(learning: Learning, id: EntryId, step: StepId, at: number): Learning {
  const entry = learning.open[id];
  if (!entry) return learning;
  const left = entry.doffingLeft.filter((one) => one !== step);
  const moved = inEntry(learning, id, () => ({ sinceAt: at, doffingLeft: left }));
  const isOver = left.length === 0 && entry.doffingLeft.length > 0;
  if (!isOver || entry.unusual || entry.laneAt === undefined) return moved;
  const took = minutesOf(at - entry.laneAt);
  return inVersion(moved, id, ({ doffingMinutes }) => ({ doffingMinutes: newest(doffingMinutes, took) }));
}

function overridden(learning: Learning, { at, data }: FactNamed<'step-overridden'>): Learning {
  const noted = inStep(learning, data.entry, data.step, ({ overridden: before }) => ({ overridden: before + 1 }));
  const unusual = inEntry(noted, data.entry, () => ({ unusual: true }));
  return stepDone(unusual, data.entry, data.step, at);
}

function deviated(learning: Learning, { at, data }: FactNamed<'deviation-noted'>): Learning {
  const { entry, step, deviation, deviationKind: kind, actor } = data;
  const noted = inStep(learning, entry, step, ({ deviations }) => ({
    deviations: [...deviations, { kind, actor, month: monthOf(at) }],
  }));
  return inEntry(noted, entry, (one) => ({ deviations: { ...one.deviations, [deviation]: step } }));
}

function corrected(learning: Learning, { data }: FactNamed<'deviation-corrected'>): Learning {
  const step = learning.open[data.entry]?.deviations[data.deviation];
  if (step === undefined) return learning;
  return inStep(learning, data.entry, step, ({ corrected: before }) => ({ corrected: before + 1 }));
}
