import type { StepId } from '../wire/ids.ts';
import type { Procedure, Step } from './procedure.ts';

/** One thing that is wrong with a copy of a procedure, as a slip of the pen or of practice would make it. */
export interface Fault {
  kind: FaultKind;
  sentence: string;
  /** The step or steps it is about; none for a layer. */
  steps: StepId[];
  procedure: Procedure;
}

export const faultKinds = {
  'hygiene-left-out': 'a disinfection left out',
  'hygiene-too-short': 'a disinfection cut short',
  'steps-swapped': 'two steps in the wrong order',
  'after-removed': 'one `after` removed',
  'step-left-out': 'a step left out',
  'layer-left-out': 'a pair of gloves left out',
  'not-inside-out': 'pulled off instead of rolled inside out or lifted',
} as const;
export type FaultKind = keyof typeof faultKinds;

/** Every single fault of these kinds that can be made in a procedure. */
export function faultsOf(procedure: Procedure): Fault[] {
  return [
    ...hygieneLeftOut(procedure),
    ...hygieneTooShort(procedure),
    ...stepsSwapped(procedure),
    ...afterRemoved(procedure),
    ...stepLeftOut(procedure),
    ...layerLeftOut(procedure),
    ...notInsideOut(procedure),
  ];
}

const changed = (procedure: Procedure, id: StepId, change: (step: Step) => Step): Procedure => ({
  ...procedure,
  steps: procedure.steps.map((step) => (step.id === id ? change(step) : step)),
});

function hygieneLeftOut(procedure: Procedure): Fault[] {
  return procedure.steps.flatMap(({ id, hygiene }) => {
    if (!hygiene) return [];
    return [
      {
        kind: 'hygiene-left-out' as const,
        sentence: `"${id}": ${hygiene.covers.join(', ')} not disinfected`,
        steps: [id],
        procedure: changed(procedure, id, ({ hygiene: _, ...step }) => step),
      },
    ];
  });
}

function hygieneTooShort(procedure: Procedure): Fault[] {
  return procedure.steps.flatMap(({ id, hygiene }) => {
    const agent = procedure.agents?.find((one) => one.name === hygiene?.agent);
    if (!hygiene || !agent || agent.contactSeconds < 2) return [];
    const contactSeconds = agent.contactSeconds - 1;
    return [
      {
        kind: 'hygiene-too-short' as const,
        sentence: `"${id}": ${contactSeconds} s of ${agent.contactSeconds} s`,
        steps: [id],
        procedure: changed(procedure, id, (step) => ({ ...step, hygiene: { ...hygiene, contactSeconds } })),
      },
    ];
  });
}

/** Each of two steps takes the other's place in the order, with all that waits for it. */
function stepsSwapped(procedure: Procedure): Fault[] {
  return orderedPairs(procedure).map(([first, then]) => {
    const renamed = (id: StepId): StepId => (id === first.id ? then.id : id === then.id ? first.id : id);
    const afterOf = (step: Step): StepId[] => {
      const place = step.id === first.id ? then : step.id === then.id ? first : step;
      return place.after.map(renamed);
    };
    return {
      kind: 'steps-swapped' as const,
      sentence: `"${then.id}" before "${first.id}"`,
      steps: [first.id, then.id],
      procedure: { ...procedure, steps: procedure.steps.map((step) => ({ ...step, after: afterOf(step) })) },
    };
  });
}

function orderedPairs({ steps }: Procedure): [Step, Step][] {
  return steps.flatMap((then) =>
    then.after.flatMap((id): [Step, Step][] => {
      const first = steps.find((step) => step.id === id);
      return first && first.phase === then.phase ? [[first, then]] : [];
    }),
  );
}

function afterRemoved(procedure: Procedure): Fault[] {
  return orderedPairs(procedure).map(([first, then]) => ({
    kind: 'after-removed' as const,
    sentence: `"${then.id}" no longer waits for "${first.id}"`,
    steps: [first.id, then.id],
    procedure: changed(procedure, then.id, (step) => ({ ...step, after: step.after.filter((id) => id !== first.id) })),
  }));
}

/** What waited for the missing step waits for what that one waited for. */
function stepLeftOut(procedure: Procedure): Fault[] {
  return procedure.steps.map((left) => ({
    kind: 'step-left-out' as const,
    sentence: `"${left.id}" not done at all`,
    steps: [left.id],
    procedure: {
      ...procedure,
      steps: procedure.steps
        .filter((step) => step.id !== left.id)
        .map((step) => ({
          ...step,
          after: [...new Set(step.after.flatMap((id) => (id === left.id ? left.after : [id])))],
        })),
    },
  }));
}

/** One pair of gloves fewer: what covered it covers what it covered. */
function layerLeftOut(procedure: Procedure): Fault[] {
  const gloves = (procedure.ensemble.layers ?? []).filter((layer) => layer.wornOn === 'hands');
  return gloves.map((left) => {
    const { ensemble, steps } = procedure;
    const without = (names: readonly string[] = []): string[] => names.filter((name) => name !== left.item);
    const relinked = (names: readonly string[] = []): string[] =>
      names.flatMap((name) => (name === left.item ? (left.covers ?? []) : [name]));
    const layers = (ensemble.layers ?? [])
      .filter((layer) => layer !== left)
      .map((layer) => ({
        ...layer,
        covers: relinked(layer.covers),
        over: without(layer.over),
        offBefore: without(layer.offBefore),
      }));
    return {
      kind: 'layer-left-out' as const,
      sentence: `no ${left.item.replaceAll('-', ' ')}`,
      steps: [],
      procedure: {
        ...procedure,
        ensemble: { ...ensemble, items: ensemble.items.filter((item) => item.id !== left.item), layers },
        steps: steps.map((step) => withoutPiece(step, left.item)),
      },
    };
  });
}

function withoutPiece(step: Step, item: string): Step {
  const without = (names: readonly string[]): string[] => names.filter((name) => name !== item);
  const { hygiene, touchesAt, meets, looksAt, near, turns, ...rest } = step;
  const covers = without(hygiene?.covers ?? []);
  const parts = Object.entries(touchesAt ?? {}).filter(([name]) => name !== item);
  return {
    ...rest,
    putsOn: without(step.putsOn),
    takesOff: without(step.takesOff),
    touches: without(step.touches),
    ...(hygiene && covers.length > 0 && { hygiene: { ...hygiene, covers } }),
    ...(parts.length > 0 && { touchesAt: Object.fromEntries(parts) }),
    ...(meets && { meets: meets.filter((pair) => !pair.includes(item)) }),
    ...(looksAt && { looksAt: without(looksAt) }),
    ...(near && { near: without(near) }),
    ...(turns && { turns: without(turns) }),
  };
}

function notInsideOut(procedure: Procedure): Fault[] {
  return procedure.steps.flatMap(({ id, comesOff }) => {
    if (comesOff === undefined || comesOff === 'pulled') return [];
    return [
      {
        kind: 'not-inside-out' as const,
        sentence: `"${id}": pulled off, not ${comesOff === 'lifted' ? 'lifted away' : 'inside out'}`,
        steps: [id],
        procedure: changed(procedure, id, (step) => ({ ...step, comesOff: 'pulled' as const })),
      },
    ];
  });
}
