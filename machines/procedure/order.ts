import type { StepId } from '../wire/ids.ts';
import type { Phase, Procedure, Step } from './procedure.ts';
import { bodySurfaces, helperSurfaces, placeSurfaces } from './surfaces.ts';

/** The steps of one phase, in the order the file gives them. */
export function stepsOf(procedure: Procedure, phase: Phase): Step[] {
  return procedure.steps.filter((step) => step.phase === phase);
}

export function stepById(procedure: Procedure, id: StepId): Step | undefined {
  return procedure.steps.find((step) => step.id === id);
}

/** Steps that may be done now: not done yet, and everything they come after is done. `outstanding` names what is not done. */
export function openSteps(procedure: Procedure, phase: Phase, outstanding: readonly StepId[]): Step[] {
  const waiting = new Set(outstanding);
  return stepsOf(procedure, phase).filter(
    (step) => waiting.has(step.id) && step.after.every((before) => !waiting.has(before)),
  );
}

/** What must still be done before `step` may be; empty when it is open. */
export function stepsBefore(procedure: Procedure, step: Step, outstanding: readonly StepId[]): Step[] {
  const waiting = new Set(outstanding);
  return procedure.steps.filter((other) => step.after.includes(other.id) && waiting.has(other.id));
}

export interface ProcedureProblem {
  code:
    | 'procedure/duplicate-step'
    | 'procedure/duplicate-item'
    | 'procedure/duplicate-point'
    | 'procedure/unknown-step'
    | 'procedure/later-phase'
    | 'procedure/cycle'
    | 'procedure/unknown-item'
    | 'procedure/never-removed'
    | 'procedure/removed-twice'
    | 'procedure/empty-phase'
    | 'procedure/no-assistant'
    | 'procedure/verified-by-nobody';
  step?: StepId;
  /** The place in the procedure, where it can be told more closely than by its step. */
  path?: readonly (string | number)[];
  sentence: string;
}

/** Surfaces that hands touch and hygiene covers without being part of the ensemble. */
export const bareSurfaces: ReadonlySet<string> = new Set([...bodySurfaces, ...placeSurfaces, ...helperSurfaces]);

/**
 * Structural faults that would strand a worker half-way: a step that can never open, an item nobody takes off.
 * An empty list means that every phase can be walked to its end in every order the file allows.
 */
export function procedureProblems(procedure: Procedure): ProcedureProblem[] {
  return [...stepProblems(procedure), ...itemProblems(procedure), ...phaseProblems(procedure)];
}

function stepProblems(procedure: Procedure): ProcedureProblem[] {
  const problems: ProcedureProblem[] = [];
  const seen = new Map<StepId, Step>();
  for (const step of procedure.steps) {
    if (seen.has(step.id))
      problems.push({
        code: 'procedure/duplicate-step',
        step: step.id,
        sentence: `Two steps are called "${step.id}".`,
      });
    seen.set(step.id, step);
  }
  const rank = { donning: 0, exit: 1, doffing: 2 } as const;
  for (const step of procedure.steps)
    for (const before of step.after) {
      const other = seen.get(before);
      if (!other)
        problems.push({
          code: 'procedure/unknown-step',
          step: step.id,
          sentence: `Step "${step.id}" comes after "${before}", which no step is called.`,
        });
      else if (rank[other.phase] > rank[step.phase])
        problems.push({
          code: 'procedure/later-phase',
          step: step.id,
          sentence: `Step "${step.id}" (${step.phase}) comes after "${before}", which belongs to the later ${other.phase}.`,
        });
    }
  const cycle = stepsInCycle(procedure);
  if (cycle.length > 0)
    problems.push({
      code: 'procedure/cycle',
      step: cycle[0],
      sentence: `These steps wait for each other and can never start: ${cycle.join(', ')}.`,
    });
  return problems;
}

/** Steps that wait for a step that waits for them, and those between: empty unless the order has a cycle. */
function stepsInCycle(procedure: Procedure): StepId[] {
  let left = procedure.steps;
  for (;;) {
    const waiting = new Set(left.map((step) => step.id));
    const waitedFor = new Set(left.flatMap((step) => step.after));
    const next = left.filter((step) => waitedFor.has(step.id) && step.after.some((before) => waiting.has(before)));
    if (next.length === left.length) return left.map((step) => step.id);
    left = next;
  }
}

function itemProblems(procedure: Procedure): ProcedureProblem[] {
  const problems = duplicateProblems(procedure);
  const items = new Set(procedure.ensemble.items.map((item) => item.id));
  const balance = new Map<string, number>();
  for (const step of procedure.steps) {
    for (const item of namedIn(step))
      if (!items.has(item) && !bareSurfaces.has(item))
        problems.push({
          code: 'procedure/unknown-item',
          step: step.id,
          sentence: `Step "${step.id}" names "${item}", which is not in the ensemble.`,
        });
    for (const item of step.putsOn) balance.set(item, (balance.get(item) ?? 0) + 1);
    for (const item of step.takesOff) balance.set(item, (balance.get(item) ?? 0) - 1);
  }
  for (const [item, count] of balance) {
    if (count > 0)
      problems.push({
        code: 'procedure/never-removed',
        path: lastNaming(procedure, 'putsOn', item),
        sentence: `"${item}" is put on and never taken off.`,
      });
    if (count < 0)
      problems.push({
        code: 'procedure/removed-twice',
        path: lastNaming(procedure, 'takesOff', item),
        sentence: `"${item}" is taken off more often than it is put on.`,
      });
  }
  return [...problems, ...layerNameProblems(procedure, items)];
}

const lastNaming = ({ steps }: Procedure, key: 'putsOn' | 'takesOff', item: string): (string | number)[] => [
  'steps',
  steps.findLastIndex((step) => step[key].includes(item)),
  key,
];

function layerNameProblems({ ensemble }: Procedure, items: ReadonlySet<string>): ProcedureProblem[] {
  return (ensemble.layers ?? []).flatMap(({ item, covers = [], over = [], offBefore = [] }, index) => {
    const stray = [
      ...[item, ...over, ...offBefore].filter((name) => !items.has(name)),
      ...covers.filter((name) => !items.has(name) && !bareSurfaces.has(name)),
    ];
    return stray.map((name) => ({
      code: 'procedure/unknown-item' as const,
      path: ['ensemble', 'layers', index],
      sentence: `The layer of "${item}" names "${name}", which is not in the ensemble.`,
    }));
  });
}

/** What a step names besides what its hands touch, which the loader checks at its own line. */
const namedIn = (step: Step): string[] => [
  ...step.putsOn,
  ...step.takesOff,
  ...(step.hygiene?.covers ?? []),
  ...(step.near ?? []),
  ...(step.meets ?? []).flat(),
  ...(step.turns ?? []),
  ...(step.secures ?? []),
  ...(step.opens ?? []),
  ...(step.sitsOn ? [step.sitsOn] : []),
  ...(step.looksAt ?? []).filter((name) => name !== 'everything' && name !== 'body'),
];

/** A point that is listed twice can be confirmed once only, and the entry would wait for the second for ever. */
function duplicateProblems(procedure: Procedure): ProcedureProblem[] {
  const { readiness, kit, laneReadiness, ensemble } = procedure;
  const points = [readiness, kit, laneReadiness].flatMap((list) => repeated(list.map((point) => point.id)));
  const items = repeated(ensemble.items.map((item) => item.id));
  return [
    ...points.map((id) => ({
      code: 'procedure/duplicate-point' as const,
      sentence: `Two points of one list are called "${id}".`,
    })),
    ...items.map((id) => ({ code: 'procedure/duplicate-item' as const, sentence: `Two items are called "${id}".` })),
  ];
}

const repeated = (ids: readonly string[]): string[] => [
  ...new Set(ids.filter((id, index) => ids.indexOf(id) !== index)),
];

function phaseProblems(procedure: Procedure): ProcedureProblem[] {
  const problems: ProcedureProblem[] = [];
  for (const phase of ['donning', 'doffing'] as const)
    if (stepsOf(procedure, phase).length === 0)
      problems.push({ code: 'procedure/empty-phase', sentence: `There is no ${phase} step.` });
  for (const { id, by, verifiedBy } of procedure.steps)
    if (by === 'assistant' && verifiedBy === 'assistant')
      problems.push({
        code: 'procedure/verified-by-nobody',
        step: id,
        sentence: `Step "${id}" is the assistant's own, so the observer verifies it: nobody verifies what they did themselves.`,
      });
  const byAssistant = procedure.steps.find((step) => step.by === 'assistant' || step.verifiedBy === 'assistant');
  if (byAssistant && !procedure.doffingAssistant)
    problems.push({
      code: 'procedure/no-assistant',
      step: byAssistant.id,
      sentence: `Step "${byAssistant.id}" is the assistant's, but doffingAssistant is false.`,
    });
  return problems;
}
