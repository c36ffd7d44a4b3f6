import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { assumptionsOf } from '../../machines/procedure/assumptions.ts';
import {
  phases,
  procedure as procedureSchema,
  type Phase,
  type Procedure,
} from '../../machines/procedure/procedure.ts';
import { assumptionNames } from '../../machines/procedure/proof-fields.ts';
import { buildModel, type Model, type World } from '../../machines/procedure/proof-model.ts';
import { prove, restsOn, type Proof } from '../../machines/procedure/prove.ts';
import { brokenAtEnd } from '../../machines/procedure/rules.ts';
import { openIn } from '../../machines/procedure/search.ts';
import {
  startOfDoffing,
  startOfPhase,
  stayInRoom,
  takeStep,
  worldAtStart,
} from '../../machines/procedure/take-step.ts';
import { broken, changed, inserted, smallProcedure, withStep } from './prove-fixture.ts';

// The search against walking every single order, one by one, without merging anything.

/** Walks all orders of a phase from one world. */
function walkAll(model: Model, phase: Phase, start: World): { orders: number; ends: World[]; firstBreak: number } {
  let [orders, firstBreak] = [0, Infinity];
  const ends: World[] = [];
  const total = model.steps[phase].length;
  const go = (world: World, depth: number): void => {
    if (depth >= firstBreak) return;
    if (depth === total) {
      orders += 1;
      ends.push(world);
      return;
    }
    for (const step of openIn(world, model.steps[phase])) {
      const next = world.slice();
      const violation =
        takeStep(model, next, step) ?? (depth + 1 === total ? brokenAtEnd(model, next, phase) : undefined);
      if (violation) firstBreak = Math.min(firstBreak, depth + 1);
      else go(next, depth + 1);
    }
  };
  go(start, 0);
  return { orders, ends, firstBreak };
}

type Verdict = { breaks: Phase | 'room'; steps: number } | { orders: number };

function bruteForce(procedure: Procedure): Verdict {
  const model = buildModel(procedure, assumptionsOf(procedure));
  const donning = walkAll(model, 'donning', worldAtStart(model));
  if (donning.firstBreak < Infinity) return { breaks: 'donning', steps: donning.firstBreak };
  const stays = donning.ends.map((end) => stayInRoom(model, end));
  if (stays.some((stay) => stay.violation)) return { breaks: 'room', steps: model.steps.donning.length };
  const atDoor = stays.map((stay) => startOfPhase(model, stay.world));
  const exits = atDoor.map((world) => walkAll(model, 'exit', world));
  const exitBreak = Math.min(...exits.map((one) => one.firstBreak));
  if (exitBreak < Infinity) return { breaks: 'exit', steps: exitBreak };
  // Not all of them: the ends of equal worlds are equal, which is the claim that prove rests on and that this checks only at the seams.
  const inLane = [...(exits[0]?.ends ?? []), ...atDoor.slice(0, 1)].map((world) => startOfDoffing(model, world));
  const doffings = inLane.map((world) => walkAll(model, 'doffing', world));
  const doffingBreak = Math.min(...doffings.map((one) => one.firstBreak));
  if (doffingBreak < Infinity) return { breaks: 'doffing', steps: doffingBreak };
  return { orders: donning.orders * (exits[0]?.orders ?? 0) * (doffings[0]?.orders ?? 0) };
}

function verdictOf(proof: Proof): Verdict {
  if (proof.verdict === 'proved') return { orders: Number(proof.orders) };
  if (proof.verdict !== 'not-proved') throw new Error(proof.verdict);
  const { starts, inRoom, steps } = proof.counterExample;
  if (inRoom) return { breaks: 'room', steps: steps.length };
  const phase = {
    donning: 'donning',
    'at-the-door': 'exit',
    'in-the-lane': 'doffing',
    'in-the-lane-after-emergency': 'doffing',
  } as const;
  return { breaks: phase[starts], steps: steps.length };
}

/** The small procedure with entries of `after` taken out here and there, and disinfections left out. */
const loosened = fc
  .record({ cut: fc.array(fc.nat({ max: 24 }), { maxLength: 3 }), bare: fc.option(fc.nat({ max: 5 })) })
  .map(({ cut, bare }) => {
    const procedure = smallProcedure();
    const pairs = procedure.steps.flatMap((step) => step.after.map((before) => [step.id, before] as const));
    const dropped = new Set(cut.map((index) => pairs[index % pairs.length]?.join('>')));
    const hygiene = procedure.steps.filter((step) => step.hygiene);
    const spared = bare === null ? undefined : hygiene[bare % hygiene.length]?.id;
    const steps = procedure.steps.map((step) => ({
      ...step,
      after: step.after.filter((before) => !dropped.has(`${step.id}>${before}`)),
      ...(step.id === spared && { hygiene: undefined }),
    }));
    return procedureSchema.parse({ ...procedure, steps });
  });

describe('the search', () => {
  it('finds what walking every order one by one finds: the same verdict, the same shortest length, the same count', () => {
    const seen = new Set<string>();
    fc.assert(
      fc.property(loosened, (procedure) => {
        const found = verdictOf(prove(procedure));
        expect(found).toEqual(bruteForce(procedure));
        seen.add('breaks' in found ? found.breaks : 'proved');
      }),
      { numRuns: 150, seed: 20260302 },
    );
    expect([...seen].sort()).toEqual(expect.arrayContaining(['doffing', 'donning', 'exit', 'proved']));
  });

  it('counts the orders of steps that may come in any order: the factorial', () => {
    const free = (count: number) =>
      changed(
        ...Array.from({ length: count }, (_, index) => inserted('look-last', { id: `say-${index}`, after: [] })),
        withStep('look-last', {
          after: ['mask-on', 'outer-on', ...Array.from({ length: count }, (_, index) => `say-${index}`)],
        }),
      );
    // Two orders of the nine steps before; each further step can be put at one more place.
    const proof = prove(free(3));
    expect(proof).toMatchObject({ verdict: 'proved', orders: 2n * 9n * 10n * 11n * 2n });
    const many = prove(free(11));
    expect(many).toMatchObject({
      verdict: 'proved',
      orders: 2n * 9n * 10n * 11n * 12n * 13n * 14n * 15n * 16n * 17n * 18n * 19n * 2n,
    });
  });

  it('shows a break that only an emergency exit leads to: without the exit steps nobody has disinfected the gloves', () => {
    const relied = changed(withStep('rub-outer', { hygiene: undefined }));
    const found = broken(prove(relied));
    expect([found.starts, found.rule, found.last]).toEqual(['in-the-lane-after-emergency', 'inner-layer', 'outer-off']);
    const noExit = { ...relied, steps: relied.steps.filter((step) => step.phase !== 'exit') };
    expect(broken(prove(noExit)).starts).toBe('in-the-lane');
  });

  it('says that nothing is decided when there are too many orders, and says it soon', () => {
    const { steps, ...rest } = smallProcedure();
    const say = Array.from({ length: 300 }, (_, index) => ({
      ...steps[0],
      id: `say-${index}`,
      after: [],
      engages: undefined,
    }));
    const last = steps.map((step) =>
      step.id === 'look-last' ? { ...step, after: [...step.after, ...say.map((one) => one.id)] } : step,
    );
    const wide = procedureSchema.parse({ ...rest, steps: [...say, ...last] });
    const proof = prove(wide);
    expect(proof).toMatchObject({ verdict: 'undecided', phase: 'donning' });
    if (proof.verdict === 'undecided') expect(proof.sentence).toMatch(/too many orders/);
  }, 20_000);

  it('keeps to the limits it is given', () => {
    expect(prove(smallProcedure(), {}, { limits: { states: 3, moves: 1_000 } }).verdict).toBe('undecided');
    expect(prove(smallProcedure(), {}, { limits: { states: 1_000, moves: 3 } }).verdict).toBe('undecided');
  });

  it('decides a procedure of 30 steps that leaves much open in less than 2 s', () => {
    const nine = Array.from({ length: 9 }, (_, index) => `wipe-${index}`);
    const wide = changed(
      ...nine.map((id) => inserted('rub-at-door', { id, after: [], touches: ['gown'] })),
      withStep('rub-at-door', { after: ['look-at-door', ...nine] }),
    );
    expect(wide.steps.length).toBeGreaterThanOrEqual(30);
    const before = process.cpuUsage();
    const proof = prove(wide);
    const { user, system } = process.cpuUsage(before);
    expect(proof.verdict).toBe('proved');
    if (proof.verdict === 'proved') expect(proof.orders).toBeGreaterThan(3_000_000n);
    expect((user + system) / 1e6).toBeLessThan(2);
  });
});

describe('assumptions', () => {
  it('hold only where they are named: without them what is put on, and what lies under it, counts as contaminated', () => {
    const { assumptions: _, ...bare } = smallProcedure();
    expect(broken(prove(bare))).toMatchObject({ rule: 'stays-clean', starts: 'donning', last: 'gown-on' });
    expect(broken(prove(bare, { 'kit-starts-clean': true, 'steps-done-as-read': true }))).toMatchObject({
      inRoom: true,
    });
  });

  it('can be said from outside, which comes before the file', () => {
    expect(prove(smallProcedure(), { 'barriers-hold': false }).verdict).toBe('not-proved');
    const { assumptions, ...bare } = smallProcedure();
    expect(prove(bare, assumptions).verdict).toBe('proved');
  });

  it('that a proof rests on are those without which it fails', () => {
    const procedure = smallProcedure();
    const held = assumptionsOf(procedure);
    const needed = restsOn(procedure, held);
    // The strap is taken with gloves that are disinfected next, so the straps may be contaminated.
    expect(needed).toEqual(['barriers-hold', 'kit-starts-clean', 'steps-done-as-read']);
    for (const name of assumptionNames)
      expect(prove(procedure, { [name]: false }).verdict, name).toBe(needed.includes(name) ? 'not-proved' : 'proved');
  });

  const decides: [(typeof assumptionNames)[number], Procedure, boolean][] = [
    ['glove-peel-clean', changed(withStep('rub-after-gown', { hygiene: undefined })), true],
    [
      'disinfected-gloves-near-face',
      changed(
        inserted('look-inner', { id: 'pat', touches: ['gown'] }),
        inserted('look-inner', {
          id: 'rub-pat',
          touches: ['inner-gloves'],
          hygiene: { agent: 'hand rub', contactSeconds: 20, covers: ['inner-gloves'] },
        }),
      ),
      true,
    ],
    [
      'rear-straps-clean',
      changed(withStep('rub-after-mask', { hygiene: undefined }), withStep('untie', { near: ['head'] })),
      false,
    ],
    ['lane-starts-clean', changed(inserted('rub-after-gown', { id: 'sit', sitsOn: 'chair' })), false],
    ['kit-starts-clean', smallProcedure(), false],
    ['steps-done-as-read', smallProcedure(), false],
    ['barriers-hold', smallProcedure(), false],
    [
      'covered-parts-clean',
      changed(
        ({ ensemble, ...rest }) => ({
          ...rest,
          ensemble: {
            ...ensemble,
            layers: ensemble.layers?.map((layer) =>
              layer.item === 'gown'
                ? { ...layer, parts: [{ id: 'ties', cleanIf: 'covered-parts-clean' as const }] }
                : layer,
            ),
          },
        }),
        inserted('gown-off', { id: 'brow', near: ['head'] }),
      ),
      true,
    ],
  ];
  it.each(decides)('%s decides a procedure of its own', (name, procedure, isAdded) => {
    expect(prove(procedure, { [name]: true }).verdict).toBe('proved');
    expect(prove(procedure, { [name]: false }).verdict).toBe('not-proved');
    if (isAdded) expect(prove(procedure).verdict).toBe('not-proved');
  });

  it('are all of them tried above', () => {
    expect(new Set(decides.map(([name]) => name))).toEqual(new Set(assumptionNames));
    expect(phases).toHaveLength(3);
  });
});
