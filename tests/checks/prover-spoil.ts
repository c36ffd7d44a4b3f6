import { expect } from 'vitest';
import type { Procedure, Step } from '../../machines/procedure/procedure.ts';
import type { StepId } from '../../machines/wire/ids.ts';
import { alwaysBefore, withoutPrecedence } from '../support/partial-order.ts';

/** Ways to break a procedure: each gives copies, every one of which breaks it. */
export type Spoil = (procedure: Procedure) => Procedure[];

export function only(procedure: Procedure, what: string, is: (step: Step) => boolean): StepId {
  const found = procedure.steps.find(is);
  if (!found) throw new Error(`${procedure.id} has no step for ${what}`);
  return found.id;
}
export type Reference = (procedure: Procedure) => StepId;
export const on =
  (item: string): Reference =>
  (procedure) =>
    only(procedure, `${item} on`, (step) => (step.putsOn as string[]).includes(item));
export const off =
  (item: string): Reference =>
  (procedure) =>
    only(procedure, `${item} off`, (step) => (step.takesOff as string[]).includes(item));
export const step =
  (id: string): Reference =>
  (procedure) =>
    only(procedure, id, (one) => one.id === id);

/** `first` may come after `then` in the copy, and nothing else is loosened. */
export const floats =
  (first: Reference, then: Reference): Spoil =>
  (procedure) => {
    const [one, other] = [first(procedure), then(procedure)];
    expect(alwaysBefore(procedure, one, other), `${one} before ${other}`).toBe(true);
    return [withoutPrecedence(procedure, one, other)];
  };

export const edited =
  (reference: Reference, fields: Partial<Step>): Spoil =>
  (procedure) => {
    const id = reference(procedure);
    return [{ ...procedure, steps: procedure.steps.map((one) => (one.id === id ? { ...one, ...fields } : one)) }];
  };

export const withoutHygiene =
  (...ids: string[]): Spoil =>
  (procedure) => [
    {
      ...procedure,
      steps: procedure.steps.map((one) => {
        if (!ids.includes(one.id)) return one;
        expect(one.hygiene, one.id).toBeDefined();
        return { ...one, hygiene: undefined };
      }),
    },
  ];

export const withAgent =
  (id: string, agent: string, contactSeconds: number): Spoil =>
  (procedure) => {
    const { hygiene } = procedure.steps.find((one) => one.id === id) ?? {};
    if (!hygiene) throw new Error(`${id} has no hygiene`);
    return edited(step(id), { hygiene: { ...hygiene, agent, contactSeconds } })(procedure);
  };

export const either =
  (...spoils: Spoil[]): Spoil =>
  (procedure) =>
    spoils.flatMap((one) => one(procedure));

/** The last step of its phase: every other one may come after it. */
export const notLast =
  (last: Reference, of: (one: Step) => boolean = () => true): Spoil =>
  (procedure) => {
    const id = last(procedure);
    const phase = procedure.steps.find((one) => one.id === id)?.phase;
    return procedure.steps
      .filter((one) => one.phase === phase && one.id !== id && alwaysBefore(procedure, one.id, id) && of(one))
      .map((one) => withoutPrecedence(procedure, one.id, id));
  };

export const isHandled = (one: Step): boolean => one.touches.length + one.putsOn.length + one.takesOff.length > 0;

/** The first step of doffing: each that handles something may come before it. */
export const notFirst: Spoil = (procedure) => {
  const first = step('slow-down')(procedure);
  return procedure.steps
    .filter(
      (one) =>
        one.phase === 'doffing' &&
        (one.takesOff.length > 0 || one.touches.some((name) => !name.includes('gloves') && name !== 'hands')),
    )
    .map((one) => withoutPrecedence(procedure, first, one.id));
};

export const garmentOf = (procedure: Procedure): string => procedure.ensemble.garment;
export const garmentOn: Reference = (procedure) => on(garmentOf(procedure))(procedure);
export const garmentOff: Reference = (procedure) => off(garmentOf(procedure))(procedure);
export const firstHeadgear: Reference = (procedure) =>
  off(procedure.ensemble.respirator === 'tight-fitting' ? 'face-shield' : 'hose')(procedure);

/** One pair of gloves instead of two: what covered it covers what it covered. */
export function withoutPiece({ ensemble, steps, ...rest }: Procedure, item: string, under: string): Procedure {
  const without = (names: readonly string[] = []) => names.filter((name) => name !== item);
  return {
    ...rest,
    ensemble: {
      ...ensemble,
      items: ensemble.items.filter((one) => one.id !== item),
      layers: ensemble.layers?.filter((one) => one.item !== item).map((one) => ({ ...one, over: without(one.over) })),
    },
    steps: steps.map((one) => ({
      ...one,
      putsOn: without(one.putsOn),
      takesOff: without(one.takesOff),
      touches: one.touches.map((name) => (name === item ? under : name)),
      hygiene: one.hygiene && {
        ...one.hygiene,
        covers: one.hygiene.covers.map((name) => (name === item ? under : name)),
      },
      looksAt: one.looksAt && without(one.looksAt),
    })),
  };
}
