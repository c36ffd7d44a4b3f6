import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { procedureProblems, stepsOf } from '../../machines/procedure/order.ts';
import { phases, type Procedure } from '../../machines/procedure/procedure.ts';
import type { StepId } from '../../machines/wire/ids.ts';
import { demoUnit } from '../support/demo-unit.ts';
import { alwaysBefore, delaying, stepOf, walk, withoutAfter, withoutPrecedence } from '../support/partial-order.ts';
import { isMet, orderFacts, unmet, type Need, type OrderFact } from './order-facts.ts';

// The order facts of the trade, proved over every order that a procedure allows: "a before b" holds in all of them exactly
// when a is an ancestor of b. Each fact names its source. Then the facts themselves are tested: with any one constraint
// taken out of a copy, a check must fail, and an order that a unit would really be allowed to walk must show why.

describe.each(demoUnit().procedures.map((one) => [one.id, one] as const))('%s', (_, procedure) => {
  const facts = orderFacts.filter((fact) => fact.applies(procedure));

  it('has no structural fault', () => expect(procedureProblems(procedure)).toEqual([]));

  describe('holds in every allowed order', () => {
    it.each(facts.map((fact) => [fact.title, fact.source, fact] as const))('%s (%s)', (_title, _source, fact) => {
      expect(fact.needs(procedure).length).toBeGreaterThan(0);
      expect(unmet(fact, procedure)).toEqual([]);
    });
  });

  describe('fails when the constraint is taken out of a copy', () => {
    it.each(facts.map((fact) => [fact.title, fact] as const))('%s', (_title, fact) => {
      for (const need of fact.needs(procedure)) expectEveryCutToShow(procedure, need);
    });
  });

  it('has no `after` entry without a fact that asks for it, and none that the others imply', () => {
    const idle = afterEntries(procedure).filter(([id, before]) => {
      const copy = withoutAfter(procedure, id, before);
      return facts.every((fact) => unmet(fact, copy).length === 0);
    });
    expect(idle).toEqual([]);
  });

  it('keeps `after` inside a phase: an emergency exit skips the steps of leaving', () => {
    const crossing = afterEntries(procedure).filter(
      ([id, before]) => stepOf(procedure, id).phase !== stepOf(procedure, before).phase,
    );
    expect(crossing).toEqual([]);
  });

  it.each(phases)('lists the %s steps in an allowed order', (phase) => {
    const listed = stepsOf(procedure, phase).map((step) => step.id);
    expect(walk(procedure, phase, (open) => open[0])).toEqual(listed);
  });

  it('reaches what a walk reaches: a step that always comes first comes first even when put off as long as can be', () => {
    for (const phase of phases)
      for (const { id: first } of stepsOf(procedure, phase)) {
        const late = delaying(procedure, first);
        for (const { id: then } of stepsOf(procedure, phase))
          if (then !== first)
            expect([first, then, late.indexOf(first) < late.indexOf(then)]).toEqual([
              first,
              then,
              alwaysBefore(procedure, first, then),
            ]);
      }
  });

  it('holds in orders walked at random, judged by place alone', () => {
    fc.assert(
      fc.property(fc.infiniteStream(fc.nat()), (choices) => {
        const order = phases.flatMap((phase) =>
          walk(procedure, phase, (open) => open[Number(choices.next().value) % open.length]),
        );
        expect(facts.flatMap((fact) => brokenBy(order, fact, procedure))).toEqual([]);
      }),
      { numRuns: 60 },
    );
  });
});

it('a wrong order is noticed by place alone too', () => {
  const [procedure] = demoUnit().procedures;
  if (!procedure) throw new Error('no procedure');
  const backwards = procedure.steps.map((step) => step.id).reverse();
  const facts = orderFacts.filter((fact) => fact.applies(procedure));
  for (const fact of facts) expect(brokenBy(backwards, fact, procedure), fact.title).not.toEqual([]);
});

const afterEntries = (procedure: Procedure): [StepId, StepId][] =>
  procedure.steps.flatMap((step) => step.after.map((before): [StepId, StepId] => [step.id, before]));

/** A need may have several ways to be met: one precedence of each is cut, and every choice of place is tried. */
function expectEveryCutToShow(procedure: Procedure, need: Need): void {
  const holding = need.anyOf.filter((all) => isMet(procedure, { ...need, anyOf: [all] }));
  const longest = Math.max(...holding.map((all) => all.length));
  for (let place = 0; place < longest; place += 1) {
    const cuts = holding.flatMap((all) => all[Math.min(place, all.length - 1)] ?? []);
    const [within] = cuts;
    if (!within) throw new Error(`nothing to cut for ${need.says}`);
    // What the order of the phases gives (leaving before doffing) is not the file's to lose.
    if (stepOf(procedure, within.first).phase !== stepOf(procedure, within.then).phase) continue;
    const copy = cuts.reduce((cut, { first, then }) => withoutPrecedence(cut, first, then), procedure);
    expect(isMet(copy, need), `${need.says}, cut at place ${place}`).toBe(false);
    const late = delaying(copy, within.first);
    expect(late.indexOf(within.then), `an order shows it: ${need.says}`).toBeLessThan(late.indexOf(within.first));
  }
}

function brokenBy(order: readonly StepId[], fact: OrderFact, procedure: Procedure): string[] {
  return fact.needs(procedure).flatMap((need) => {
    const met = need.anyOf.some((all) => all.every(({ first, then }) => order.indexOf(first) < order.indexOf(then)));
    return met ? [] : [need.says];
  });
}
