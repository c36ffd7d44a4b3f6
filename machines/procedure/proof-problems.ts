import { bareSurfaces, procedureProblems, stepsOf } from './order.ts';
import type { Phase, Procedure, Step } from './procedure.ts';
import type { Layer } from './proof-fields.ts';

/** Why a procedure cannot even be put to the proof, and where in it. */
export interface ProofProblem {
  code: string;
  path: readonly (string | number)[];
  sentence: string;
}

/**
 * Everything that must be right before any order is walked: the structure that following needs, and what the proof must be told.
 * An empty list means that the search starts.
 */
export function proofProblems(procedure: Procedure): ProofProblem[] {
  const structural = procedureProblems(procedure).map(({ code, step, path, sentence }) => ({
    code,
    sentence,
    path: path ?? (step === undefined ? ['steps'] : ['steps', lastIndexOf(procedure, step), 'id']),
  }));
  if (structural.length > 0) return structural;
  return [
    ...itemsUntold(procedure),
    ...layersInCircle(procedure),
    ...procedure.steps.flatMap((step, index) => [
      ...touchProblems(procedure, step, index),
      ...hygieneProblems(procedure, step, index),
      ...placeProblems(procedure, step, index),
    ]),
    ...putOnTwice(procedure),
    ...peopleProblems(procedure),
    ...laneProblems(procedure),
  ];
}

const lastIndexOf = ({ steps }: Procedure, id: string): number => steps.findLastIndex((step) => step.id === id);

function itemsUntold({ ensemble }: Procedure): ProofProblem[] {
  const { items, layers = [] } = ensemble;
  const untold = items.flatMap(({ id }, index) => {
    if (layers.some((layer) => layer.item === id)) return [];
    const sentence = `The proof must be told how "${id}" lies among the other pieces (ensemble, layers).`;
    return [{ code: 'proof/item-untold', path: ['ensemble', 'items', index], sentence }];
  });
  const twice = layers.flatMap(({ item }, index) => {
    if (layers.findIndex((layer) => layer.item === item) === index) return [];
    return [
      { code: 'proof/layer-twice', path: ['ensemble', 'layers', index], sentence: `Two layers are of "${item}".` },
    ];
  });
  return [...untold, ...twice];
}

/** Pieces that lie over each other in a circle can never all be on. */
function layersInCircle({ ensemble }: Procedure): ProofProblem[] {
  const { layers = [] } = ensemble;
  const below = ({ covers = [], over = [] }: Layer): string[] => [...covers, ...over];
  let left = layers;
  for (;;) {
    const waiting = new Set(left.map((layer) => layer.item));
    const beneath = new Set(left.flatMap(below));
    const next = left.filter((layer) => beneath.has(layer.item) && below(layer).some((name) => waiting.has(name)));
    if (next.length < left.length) {
      left = next;
      continue;
    }
    const [first] = left;
    if (!first) return [];
    const sentence = `These lie over each other in a circle: ${left.map((layer) => layer.item).join(', ')}.`;
    return [{ code: 'proof/layers-in-circle', path: ['ensemble', 'layers', layers.indexOf(first)], sentence }];
  }
}

function touchProblems({ ensemble }: Procedure, step: Step, index: number): ProofProblem[] {
  const items = new Set(ensemble.items.map((item) => item.id));
  const unknown = step.touches.find((name) => !items.has(name) && !bareSurfaces.has(name));
  if (unknown !== undefined) {
    const sentence = `Step "${step.id}" touches "${unknown}", which is neither in the ensemble nor a surface.`;
    return [{ code: 'procedure/unknown-item', path: ['steps', index, 'touches'], sentence }];
  }
  const handled = new Set([...step.touches, ...step.putsOn, ...step.takesOff]);
  return Object.entries(step.touchesAt ?? {}).flatMap(([name, parts]) => {
    const path = ['steps', index, 'touchesAt', name];
    const layer = (ensemble.layers ?? []).find((one) => one.item === name);
    const known = ['outside', 'inside', ...(layer?.parts ?? []).map((part) => part.id)];
    const stray = parts.find((part) => !known.includes(part));
    if (!layer || !handled.has(name))
      return [{ code: 'proof/touch-unknown', path, sentence: `Step "${step.id}" does not touch a piece "${name}".` }];
    if (stray === undefined) return [];
    const sentence = `"${name}" has no part "${stray}"; it has ${known.join(', ')}.`;
    return [{ code: 'proof/part-unknown', path, sentence }];
  });
}

function hygieneProblems({ agents = [] }: Procedure, { id, hygiene }: Step, index: number): ProofProblem[] {
  if (!hygiene || agents.some((one) => one.name === hygiene.agent)) return [];
  const sentence = `Step "${id}" uses "${hygiene.agent}", which \`agents\` does not describe: what it suits, and its least contact time.`;
  return [{ code: 'proof/agent-unknown', path: ['steps', index, 'hygiene'], sentence }];
}

function placeProblems({ places = [] }: Procedure, step: Step, index: number): ProofProblem[] {
  if (step.takesOff.length === 0) return [];
  if (step.goesTo === undefined) {
    const sentence = `Step "${step.id}" takes something off and does not say where it goes (goesTo).`;
    return [{ code: 'proof/goes-nowhere', path: ['steps', index, 'takesOff'], sentence }];
  }
  if (places.some((one) => one.name === step.goesTo)) return [];
  const sentence = `Step "${step.id}" puts something in "${step.goesTo}", which \`places\` does not describe.`;
  return [{ code: 'proof/place-unknown', path: ['steps', index, 'goesTo'], sentence }];
}

function putOnTwice({ steps }: Procedure): ProofProblem[] {
  const seen = new Set<string>();
  return steps.flatMap((step, index) =>
    step.putsOn.flatMap((item) => {
      if (!seen.has(item)) {
        seen.add(item);
        return [];
      }
      const sentence = `"${item}" is put on a second time. Give the second one a name of its own: it is a new piece.`;
      return [{ code: 'proof/put-on-twice', path: ['steps', index, 'putsOn'], sentence }];
    }),
  );
}

/** CDC PPE training 2014, trained observer page 18: a powered respirator or a coverall needs a doffing assistant. */
function peopleProblems(procedure: Procedure): ProofProblem[] {
  const { ensemble, doffingAssistant } = procedure;
  const needed = ensemble.respirator === 'powered-loose-fitting' || ensemble.garment === 'coverall';
  const alone: ProofProblem[] =
    needed && !doffingAssistant
      ? [
          {
            code: 'proof/assistant-needed',
            path: ['doffingAssistant'],
            sentence: 'A powered respirator or a coverall comes off with a doffing assistant.',
          },
        ]
      : [];
  const engaged = (phase: Phase, who: 'observer' | 'assistant'): ProofProblem[] =>
    stepsOf(procedure, phase).some((step) => step.engages?.includes(who))
      ? []
      : [{ code: 'proof/nobody-engaged', path: ['steps'], sentence: `No ${phase} step engages the ${who} (engages).` }];
  return [
    ...alone,
    ...engaged('donning', 'observer'),
    ...engaged('doffing', 'observer'),
    ...(doffingAssistant ? engaged('doffing', 'assistant') : []),
  ];
}

function laneProblems(procedure: Procedure): ProofProblem[] {
  const exit = stepsOf(procedure, 'exit');
  if (exit.length === 0 || exit.some((step) => step.entersLane)) return [];
  return [
    {
      code: 'proof/no-lane',
      path: ['steps'],
      sentence: 'No exit step says that the worker enters the lane (entersLane).',
    },
  ];
}
