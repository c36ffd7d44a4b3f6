import type { Procedure, Step } from '../../machines/procedure/procedure.ts';
import { words } from '../words/words.ts';

/** Two versions of a procedure side by side, in words: which steps are new, gone or different, and what else is. */
export interface FieldChange {
  field: string;
  before: string;
  now: string;
}

export type StepChange =
  { how: 'added' | 'removed'; step: Step } | { how: 'changed'; step: Step; fields: FieldChange[]; moved: boolean };

export interface Comparison {
  steps: StepChange[];
  outside: FieldChange[];
}

export function compare(before: Procedure, now: Procedure): Comparison {
  const removed = before.steps
    .filter((step) => !stepIn(now, step.id))
    .map((step): StepChange => ({ how: 'removed', step }));
  const addedOrChanged = now.steps.flatMap((step): StepChange[] => {
    const earlier = stepIn(before, step.id);
    if (!earlier) return [{ how: 'added', step }];
    const fields = fieldChanges(earlier, step);
    const moved = hasMoved(before, now, step);
    return fields.length > 0 || moved ? [{ how: 'changed', step, fields, moved }] : [];
  });
  const { steps: _before, version: _old, ...restBefore } = before;
  const { steps: _now, version: _new, ...restNow } = now;
  return { steps: [...addedOrChanged, ...removed], outside: fieldChanges(restBefore, restNow) };
}

const stepIn = ({ steps }: Procedure, id: string): Step | undefined => steps.find((step) => step.id === id);

/** The step that both versions have before this one is not the same: somebody moved it in the list. */
function hasMoved(before: Procedure, now: Procedure, step: Step): boolean {
  return neighbour(before, now, step.id) !== neighbour(now, before, step.id);
}

function neighbour(inThis: Procedure, other: Procedure, id: string): string | undefined {
  const common = inThis.steps.filter((step) => stepIn(other, step.id) && step.phase === stepIn(inThis, id)?.phase);
  return common[common.findIndex((step) => step.id === id) - 1]?.id;
}

/** Every place at which two values differ, each as a path in words. Lists of things with ids are compared by id. */
function fieldChanges(before: object, now: object, path = ''): FieldChange[] {
  const [one, other] = [asRecord(before), asRecord(now)];
  const keys = [...new Set([...Object.keys(one), ...Object.keys(other)])];
  return keys.flatMap((key) => {
    const [was, is] = [one[key], other[key]];
    const field = path === '' ? key : `${path}, ${key}`;
    if (JSON.stringify(was) === JSON.stringify(is)) return [];
    if (canLookInto(was) && canLookInto(is)) return fieldChanges(was, is, field);
    return [{ field, before: inWords(was), now: inWords(is) }];
  });
}

const canLookInto = (value: unknown): value is object =>
  typeof value === 'object' && value !== null && (!Array.isArray(value) || isNamed(value));

const isNamed = (value: unknown): value is Record<string, unknown>[] =>
  Array.isArray(value) && value.length > 0 && value.every((one) => nameOf(one) !== undefined);

function nameOf(value: unknown): string | undefined {
  if (typeof value !== 'object' || value === null) return undefined;
  const { id, item, name } = value as Record<string, unknown>;
  const names: readonly unknown[] = [id, item, name];
  return names.find((one): one is string => typeof one === 'string');
}

function asRecord(value: object): Record<string, unknown> {
  if (!isNamed(value)) return value as Record<string, unknown>;
  const named = value.map((one): [string, unknown] => [nameOf(one) ?? '', one]);
  return Object.fromEntries(named);
}

/** Where a difference is, as a person calls it; what a procedure named itself stays as it was named. */
export const placeWords = (field: string): string =>
  field
    .split(', ')
    .map((part) => (Object.hasOwn(words.lead.compare.places, part) ? words.lead.compare.places[part] : part))
    .join(', ');

/** A value as it would be said; empty when there is none. */
export function inWords(value: unknown): string {
  if (value === undefined || value === null) return '';
  if (Array.isArray(value)) return value.map(inWords).join(', ');
  if (typeof value !== 'object') return scalarWords(value);
  return Object.entries(value)
    .map(([key, inner]) => `${placeWords(key)}: ${inWords(inner)}`)
    .join('; ');
}

function scalarWords(value: unknown): string {
  if (typeof value === 'string') return value;
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  return JSON.stringify(value);
}
