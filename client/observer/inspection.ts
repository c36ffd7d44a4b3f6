import { stepsOf } from '../../machines/procedure/order.ts';
import type { Procedure } from '../../machines/procedure/procedure.ts';
import type { StepId } from '../../machines/wire/ids.ts';

/** One piece to look at, and the steps to go back to when it is not right. */
export interface InspectionItem {
  id: string;
  name: string;
  steps: StepId[];
}

/** Head to toe: the first part of the body whose word is in the item's id places it; what no word places comes last. */
const bodyParts: readonly (readonly string[])[] = [
  ['hood', 'cap', 'helmet'],
  ['shield', 'goggle', 'visor'],
  ['respirator', 'mask'],
  ['hose'],
  ['gown', 'coverall', 'suit'],
  ['apron'],
  ['powered', 'belt', 'battery'],
  ['outer-glove'],
  ['glove'],
  ['boot', 'shoe', 'leg'],
];

function heightOf(item: string): number {
  const found = bodyParts.findIndex((words) => words.some((word) => item.includes(word)));
  return found === -1 ? bodyParts.length : found;
}

/** Everything that donning put on, from head to toe. */
export function inspectionItems(procedure: Procedure): InspectionItem[] {
  const donning = stepsOf(procedure, 'donning');
  return procedure.ensemble.items
    .map(({ id, name }) => ({
      id,
      name,
      steps: donning.filter((step) => step.putsOn.includes(id)).map((step) => step.id),
    }))
    .filter((item) => item.steps.length > 0)
    .sort((a, b) => heightOf(a.id) - heightOf(b.id));
}

export type Look = 'right' | 'not-right';
export type Looks = Readonly<Record<string, Look>>;

export type InspectionPage =
  | { ask: 'item'; item: InspectionItem; number: number; total: number }
  | { ask: 'pass' }
  | { ask: 'send-back'; items: InspectionItem[]; steps: StepId[] };

/** Piece by piece; what was not right decides how it ends. A worker in nothing (no item put on) is looked at as a whole. */
export function inspectionPage(procedure: Procedure, looks: Looks): InspectionPage {
  const items = inspectionItems(procedure);
  const index = items.findIndex((item) => looks[item.id] === undefined);
  const next = items[index];
  if (next) return { ask: 'item', item: next, number: index + 1, total: items.length };
  const wrong = items.filter((item) => looks[item.id] === 'not-right');
  if (wrong.length === 0) return { ask: 'pass' };
  return { ask: 'send-back', items: wrong, steps: [...new Set(wrong.flatMap((item) => item.steps))] };
}
