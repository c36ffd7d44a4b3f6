import { procedure, type Procedure, type Step } from '../../machines/procedure/procedure.ts';
import type { Proof } from '../../machines/procedure/prove.ts';

/**
 * A small procedure that is proved, with one piece of everything the rules speak of, and ways to spoil it: a rule is shown by the one
 * change that breaks it.
 */
const rub = (covers: string, contactSeconds = 30) => ({
  touches: [covers],
  hygiene: { agent: 'hand rub', contactSeconds, covers: [covers] },
});

const donning = [
  { id: 'watch-donning', engages: ['observer'] },
  { id: 'look-kit', after: ['watch-donning'], looksAt: ['mask', 'gown', 'inner-gloves', 'outer-gloves'] },
  { id: 'rub-hands', after: ['look-kit'], ...rub('hands') },
  { id: 'inner-on', after: ['rub-hands'], putsOn: ['inner-gloves'] },
  { id: 'gown-on', after: ['inner-on'], putsOn: ['gown'], near: ['scrubs'] },
  { id: 'gown-tied', after: ['gown-on'], touches: ['gown'], secures: ['gown'] },
  { id: 'mask-on', after: ['gown-tied'], putsOn: ['mask'], near: ['mouth', 'eyes'] },
  { id: 'outer-on', after: ['gown-tied'], putsOn: ['outer-gloves'] },
  { id: 'look-last', after: ['mask-on', 'outer-on'], looksAt: ['everything'] },
].map((step) => ({ phase: 'donning', ...step }));

const exit = [
  { id: 'look-at-door', looksAt: ['everything'] },
  { id: 'rub-at-door', after: ['look-at-door'], ...rub('outer-gloves') },
  { id: 'enter-lane', after: ['rub-at-door'], entersLane: true },
].map((step) => ({ phase: 'exit', ...step }));

const waste = 'waste';
const doffing = [
  { id: 'watch', engages: ['observer'] },
  { id: 'look-all', after: ['watch'], looksAt: ['everything'] },
  { id: 'rub-outer', after: ['watch'], ...rub('outer-gloves') },
  {
    id: 'outer-off',
    after: ['look-all', 'rub-outer'],
    takesOff: ['outer-gloves'],
    goesTo: waste,
    comesOff: 'inside-out',
  },
  { id: 'look-inner', after: ['outer-off'], looksAt: ['inner-gloves'] },
  {
    id: 'mask-off',
    after: ['look-inner'],
    takesOff: ['mask'],
    touchesAt: { mask: ['straps'] },
    near: ['mouth', 'eyes', 'head'],
    comesOff: 'lifted',
    goesTo: waste,
  },
  { id: 'rub-after-mask', after: ['mask-off'], ...rub('inner-gloves') },
  { id: 'untie', after: ['rub-after-mask'], touches: ['gown'], touchesAt: { gown: ['ties'] }, opens: ['gown'] },
  { id: 'gown-off', after: ['untie'], takesOff: ['gown'], comesOff: 'inside-out', goesTo: waste },
  { id: 'rub-after-gown', after: ['gown-off'], ...rub('inner-gloves') },
  { id: 'inner-off', after: ['rub-after-gown'], takesOff: ['inner-gloves'], comesOff: 'inside-out', goesTo: waste },
  { id: 'rub-bare', after: ['inner-off'], ...rub('hands') },
  { id: 'look-body', after: ['rub-bare'], looksAt: ['body'] },
].map((step) => ({ phase: 'doffing', ...step }));

const point = [{ id: 'p', words: 'Ready?' }];
const small = {
  id: 'small',
  version: 1,
  title: 'Small',
  ensemble: {
    name: 'Mask, gown and two pairs of gloves',
    respirator: 'tight-fitting',
    garment: 'gown',
    items: ['mask', 'gown', 'inner-gloves', 'outer-gloves'].map((id) => ({ id, name: id })),
    layers: [
      {
        item: 'mask',
        wornOn: 'head',
        covers: ['mouth', 'eyes', 'head'],
        over: ['gown'],
        parts: [{ id: 'straps', cleanIf: 'rear-straps-clean' }],
      },
      {
        item: 'gown',
        wornOn: 'body',
        covers: ['scrubs', 'legs', 'shoes'],
        over: ['inner-gloves'],
        secured: true,
        opened: true,
        parts: [{ id: 'ties', cleanIf: 'rear-straps-clean' }],
      },
      { item: 'inner-gloves', wornOn: 'hands', covers: ['hands'], keepClean: true, lookFirst: true },
      { item: 'outer-gloves', wornOn: 'hands', covers: ['inner-gloves'], over: ['gown'] },
    ],
  },
  limit: { minutes: 60, reason: 'test', source: 'test' },
  expected: { donningMinutes: 5, doffingMinutes: 5, source: 'test' },
  doffingAssistant: false,
  agents: [
    { name: 'hand rub', contactSeconds: 20, suits: ['skin', 'skin-before-gloves', 'gloves'], source: 'test' },
    { name: 'soap', contactSeconds: 40, suits: ['skin'], source: 'test' },
    { name: 'wipe', contactSeconds: 60, suits: ['gloves', 'surfaces'], source: 'test' },
  ],
  places: [
    { name: waste, takesContaminated: true },
    { name: 'shelf', takesContaminated: false },
  ],
  assumptions: {
    'barriers-hold': true,
    'kit-starts-clean': true,
    'lane-starts-clean': true,
    'steps-done-as-read': true,
    'rear-straps-clean': true,
  },
  readiness: point,
  kit: point,
  laneReadiness: point,
  steps: [...donning, ...exit, ...doffing].map((step) => ({ words: step.id, ...step })),
  cautions: ['A test.'],
};

/** A fresh copy of it each time, checked by the schema. */
export const smallProcedure = (): Procedure => procedure.parse(structuredClone(small));

export type Change = (procedure: Procedure) => Procedure;

export const changed = (...changes: Change[]): Procedure =>
  changes.reduce((current, change) => procedure.parse(change(current)), smallProcedure());

/** Sets fields of a step; `undefined` takes a field away. */
export const withStep =
  (id: string, fields: Partial<Record<keyof Step, unknown>>): Change =>
  (current) => {
    if (!current.steps.some((step) => step.id === id)) throw new Error(`no step ${id}`);
    return {
      ...current,
      steps: current.steps.map((step) => (step.id === id ? ({ ...step, ...fields } as Step) : step)),
    };
  };

/** Puts a step in, before the one it is to be done before, after all that this one waits for. */
export const inserted =
  (before: string, fields: object): Change =>
  (current) => ({
    ...current,
    steps: current.steps.flatMap((step) => {
      if (step.id !== before) return [step];
      const added = { words: 'added', phase: step.phase, after: step.after, ...fields } as Step;
      return [added, { ...step, after: [added.id] }];
    }),
  });

export const withoutStep =
  (id: string): Change =>
  (current) => {
    const left = current.steps.find((step) => step.id === id);
    return {
      ...current,
      steps: current.steps
        .filter((step) => step !== left)
        .map((step) => ({ ...step, after: step.after.flatMap((one) => (one === id ? (left?.after ?? []) : [one])) })),
    };
  };

type Layer = NonNullable<Procedure['ensemble']['layers']>[number];
export const withLayer =
  (item: string, fields: Partial<Layer>): Change =>
  ({ ensemble, ...rest }) => ({
    ...rest,
    ensemble: {
      ...ensemble,
      layers: ensemble.layers?.map((layer) => (layer.item === item ? { ...layer, ...fields } : layer)),
    },
  });

/** Fails the test with the whole story when the proof is something else. */
export function broken(proof: Proof) {
  if (proof.verdict !== 'not-proved') throw new Error(`expected a counter-example, got ${proof.verdict}`);
  const { counterExample } = proof;
  return {
    ...counterExample,
    ids: counterExample.steps.map((step) => step.id as string),
    last: counterExample.steps.at(-1)?.id as string | undefined,
    surfaces: counterExample.chain.map((one) => one.surface),
  };
}
