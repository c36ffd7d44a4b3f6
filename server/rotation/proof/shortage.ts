import type { ShortageReason } from '../../../machines/unit/shortage.ts';
import type { RotationInstance } from '../instance.ts';
import { mostPressed } from './counted-shortage.ts';
import type { Exits, Resource, RotationModel } from './model-goal.ts';
import { rotationModel } from './rotation-model.ts';
import type { Slotted } from './slotted.ts';
import type { Solver } from './solver.ts';

/** Why not everything can be covered. Counts are how much MORE is needed: lanes, observers, people, or minutes of overlap. */
export interface Shortage {
  resource: Resource | 'duty-overlap';
  /** Proven: with fewer no plan covers everything, while nothing else grows. */
  atLeast?: number;
  /** Found: with so many more a plan that covers everything exists. */
  enough?: number;
  /** In the order in which they are told. */
  reasons: ShortageReason[];
}

export interface FoundShortage {
  shortage: Shortage;
  more: More;
}

/** What to try when looking for how much is enough. */
export type More =
  | { kind: 'lanes' }
  | { kind: 'observers' }
  /** `byDuty`: how much people of each duty (as in Slotted) are wanted. */
  | { kind: 'workers'; byDuty: number[] }
  /** The duty that starts then may start earlier. */
  | { kind: 'earlier-duty'; startMinute: number }
  | { kind: 'nothing' };

export interface ShortageTools {
  solver: Solver;
  secondsLeft: () => number;
}

/**
 * true: proven that no plan covers everything with everybody out in time, because with nothing uncovered something has to grow.
 * false: nothing has to, as far as the relaxation can tell, which proves nothing. undefined: not decided in time.
 */
export async function isUncoveredForSure(
  slotted: Slotted,
  tools: ShortageTools,
  whole: 'nothing' | 'all',
  exits: Exits = 'in-time',
): Promise<boolean | undefined> {
  const { linear } = rotationModel(slotted, { kind: 'extra', of: resources, exits });
  const solved = await tools.solver.solve(linear, { seconds: tools.secondsLeft(), whole, absoluteGap: 0.9 });
  // However much grows, it is not enough: then an overrun may still be, and sparing it is not for any resource to do.
  if (solved.kind === 'infeasible') return exits === 'late' ? true : isUncoveredForSure(slotted, tools, whole, 'late');
  if (solved.bound !== undefined && solved.bound > growthMin) return true;
  return solved.kind === 'optimal' ? false : undefined;
}

/** What grows comes in whole numbers; less than this may be the solver's tolerance. */
const growthMin = 0.001;

/**
 * For an instance that is known not to be coverable: lets one resource at a time grow and asks for the least growth. The resource
 * that needs the least is named; when none helps alone, all grow together and the one that has to grow most is named.
 */
export async function findShortage(
  instance: RotationInstance,
  slotted: Slotted,
  tools: ShortageTools,
): Promise<FoundShortage> {
  const alone: Alone[] = [];
  for (const resource of resources) {
    const grown = await grow(slotted, tools, [resource]);
    if (grown) alone.push({ resource, ...grown });
  }
  const [first, ...others] = alone.sort((a, b) => a.atLeast - b.atLeast);
  if (!first) return findJointShortage(instance, slotted, tools);
  const least = { ...first, atLeast: Math.max(first.atLeast, await wholeGrowth(slotted, tools, first.resource)) };
  const useless = resources.filter((resource) => !alone.some((one) => one.resource === resource));
  const { resource, atLeast, workersByDuty } = least;
  const reasons: ShortageReason[] = [
    { kind: 'too-few', resource, has: countOf(instance, resource), atLeast },
    ...tightest(instance, least),
    ...others.map((one): ShortageReason => ({ kind: 'instead', resource: one.resource, atLeast: one.atLeast })),
    ...(useless.length > 0 ? [{ kind: 'no-help' as const, resources: useless }] : []),
  ];
  return {
    shortage: { resource, atLeast, reasons },
    more: resource === 'workers' ? { kind: 'workers', byDuty: workersByDuty } : { kind: resource },
  };
}

const resources: readonly Resource[] = ['lanes', 'observers', 'workers'];

interface Grown {
  atLeast: number;
  byResource: Record<Resource, number>;
  workersByDuty: number[];
  /** Where the resource is tight, in slots, when that is not all over the horizon. */
  clash: { from: number; to: number } | undefined;
}

type Alone = Grown & { resource: Resource };

/** Nothing: however much these grow, it is not enough. */
async function grow(slotted: Slotted, tools: ShortageTools, of: readonly Resource[]): Promise<Grown | undefined> {
  const model = rotationModel(slotted, { kind: 'extra', of, exits: 'in-time' });
  const solved = await tools.solver.solve(model.linear, { seconds: tools.secondsLeft(), whole: 'nothing' });
  if (solved.kind !== 'optimal') return undefined;
  const valuesOf = (one: Resource): number[] => (model.extra[one] ?? []).map((column) => solved.values[column]!);
  return {
    // With nothing more no plan covers everything: that is known already.
    atLeast: Math.max(1, Math.ceil(solved.bound - 1e-4)),
    byResource: {
      lanes: sum(valuesOf('lanes')),
      observers: sum(valuesOf('observers')),
      workers: sum(valuesOf('workers')),
    },
    workersByDuty: valuesOf('workers'),
    clash: of.length === 1 ? clashOf(model, of[0]!, solved.rowDuals) : undefined,
  };
}

/** The growth proven with whole entries in the time there is, 0 when nothing was. */
async function wholeGrowth(slotted: Slotted, tools: ShortageTools, resource: Resource): Promise<number> {
  const { linear } = rotationModel(slotted, { kind: 'extra', of: [resource], exits: 'in-time' });
  const seconds = Math.min(wholeSecondsMax, tools.secondsLeft() / 3);
  const solved = await tools.solver.solve(linear, { seconds, whole: 'all', absoluteGap: 0.9 });
  return solved.kind === 'infeasible' ? 0 : Math.ceil((solved.bound ?? 0) - 1e-4);
}

const wholeSecondsMax = 1;
const sum = (numbers: readonly number[]): number => numbers.reduce((total, one) => total + one, 0);

/** The slots whose limit holds the growth up (by the relaxation's prices), when they lie close together. */
function clashOf(model: RotationModel, resource: Resource, duals: Float64Array): Grown['clash'] {
  const rows =
    resource === 'lanes' ? [model.laneRows] : resource === 'observers' ? [model.observerRows] : model.workerRows;
  const priced = rows
    .flatMap((bySlot) => [...bySlot])
    .map(([slot, row]) => ({ slot, price: Math.abs(duals[row] ?? 0) }))
    .filter(({ price }) => price > 1e-6)
    .sort((a, b) => a.slot - b.slot);
  if (priced.length === 0) return undefined;
  const [from, to] = [priced[0]!.slot, priced.at(-1)!.slot + 1];
  return { from, to };
}

/** Grows everything, then finds the proven least of the one that grew most. */
async function findJointShortage(
  instance: RotationInstance,
  slotted: Slotted,
  tools: ShortageTools,
): Promise<FoundShortage> {
  const grown = await grow(slotted, tools, resources);
  if (!grown) {
    const resource = mostPressed(instance, slotted);
    return {
      shortage: { resource, reasons: [{ kind: 'nothing-helps', leastToSpare: resource }] },
      more: { kind: 'nothing' },
    };
  }
  const [first] = [...resources].sort((a, b) => grown.byResource[b] - grown.byResource[a]);
  const resource = first!;
  const grew = resources.filter((one) => grown.byResource[one] > 1e-4);
  const { atLeast } = grown;
  const has = countOf(instance, resource);
  return {
    shortage: { resource, reasons: [{ kind: 'together', resources: grew, atLeast, most: resource, has }] },
    more: { kind: 'nothing' },
  };
}

/** Where the resource is tight, when that is known. */
function tightest(instance: RotationInstance, { clash, resource }: Alone): ShortageReason[] {
  if (!clash) return [];
  const [fromMinute, toMinute] = [clash.from * instance.slotMinutes, clash.to * instance.slotMinutes];
  const { horizonMinutes } = instance;
  return toMinute - fromMinute > horizonMinutes / 2
    ? [{ kind: 'tight-mostly', resource, ofMinutes: horizonMinutes }]
    : [{ kind: 'tightest', resource, fromMinute, toMinute, dueOut: dueOut(instance, toMinute) }];
}

/** Those inside at minute 0 whose longest stay ends by then: they all need a lane and an observer. 0 where that is not why. */
function dueOut(instance: RotationInstance, minute: number): number {
  const longest = Math.max(...instance.insideMinutesAllowed);
  const due = instance.inside.filter(({ sinceMinute }) => sinceMinute + longest <= minute);
  return due.length < 2 || minute > 2 * longest ? 0 : due.length;
}

function countOf(instance: RotationInstance, resource: Resource): number {
  return resource === 'workers' ? instance.workers.length : instance[resource];
}
