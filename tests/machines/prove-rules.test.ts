import { describe, expect, it } from 'vitest';
import { prove } from '../../machines/procedure/prove.ts';
import { ruleNames, type RuleName } from '../../machines/procedure/rules.ts';
import { broken, changed, inserted, smallProcedure, withLayer, withStep, type Change } from './prove-fixture.ts';

// One procedure that holds, and for every rule of the model the one change that breaks it: the rule, the step at which it breaks,
// and the surfaces that carried contamination there.

interface Case {
  says: string;
  rule: RuleName;
  changes: Change[];
  at: string;
  chain?: string[];
}

const cases: Case[] = [
  // ---- what must stay clean ----
  {
    says: 'contaminated gloves close to the face contaminate it',
    rule: 'stays-clean',
    changes: [
      inserted('look-inner', { id: 'pat-gown', touches: ['gown'] }),
      withStep('look-inner', { after: ['pat-gown'] }),
    ],
    at: 'mask-off',
    chain: ['gown', 'inner-gloves', 'mouth'],
  },
  {
    says: 'hands that touch the outside of a piece are contaminated, and carry it to the scrubs',
    rule: 'stays-clean',
    changes: [inserted('rub-after-gown', { id: 'smooth-scrubs', near: ['scrubs'] })],
    at: 'smooth-scrubs',
    chain: ['gown', 'inner-gloves', 'scrubs'],
  },
  {
    says: 'what is pulled off brushes with its outside what it covered',
    rule: 'stays-clean',
    changes: [withStep('gown-off', { comesOff: 'pulled' })],
    at: 'gown-off',
    chain: ['gown', 'scrubs'],
  },
  {
    says: 'without being told how it comes off the proof takes it that it is pulled',
    rule: 'stays-clean',
    changes: [withStep('gown-off', { comesOff: undefined })],
    at: 'gown-off',
    chain: ['gown', 'scrubs'],
  },
  {
    says: 'a glove with a contaminated outside contaminates the skin when it is peeled off',
    rule: 'stays-clean',
    changes: [withStep('rub-after-gown', { hygiene: undefined })],
    at: 'inner-off',
    chain: ['gown', 'inner-gloves', 'hands'],
  },
  {
    says: 'bare hands never touch what was in the room, not even a strap that is assumed to be clean',
    rule: 'stays-clean',
    changes: [
      withStep('mask-off', { after: ['rub-bare'] }),
      withStep('rub-after-mask', { after: ['look-inner'] }),
      withStep('look-body', { after: ['mask-off'] }),
      withLayer('mask', { over: [] }),
    ],
    at: 'mask-off',
    chain: ['mask', 'hands'],
  },
  {
    says: 'sitting down brings the outermost garment to the clean chair',
    rule: 'stays-clean',
    changes: [inserted('untie', { id: 'sit', sitsOn: 'chair' })],
    at: 'sit',
    chain: ['gown', 'chair'],
  },
  {
    says: 'with no garment on, the scrubs sit on the chair, and a dirty chair contaminates them',
    rule: 'stays-clean',
    changes: [inserted('rub-after-gown', { id: 'sit', sitsOn: 'dirty-chair' })],
    at: 'sit',
    chain: ['dirty-chair', 'scrubs'],
  },
  {
    says: 'shoes from the floor of the lane must not come to the clean floor',
    rule: 'stays-clean',
    changes: [
      inserted('look-body', { id: 'stand', meets: [['shoes', 'floor']] }),
      withStep('look-body', { after: ['cross'] }),
      (current) =>
        inserted('look-body', { id: 'cross', after: ['stand'], meets: [['shoes', 'clean-floor']] })({
          ...current,
          steps: current.steps.map((step) => (step.id === 'look-body' ? { ...step, after: ['stand' as never] } : step)),
        }),
    ],
    at: 'cross',
    chain: ['floor', 'shoes', 'clean-floor'],
  },
  {
    says: 'everyday dirt of the shoes must not be carried up under the gown either',
    rule: 'stays-clean',
    changes: [inserted('gown-on', { id: 'lace-shoes', touches: ['shoes'] })],
    at: 'gown-on',
    chain: ['shoes', 'inner-gloves', 'scrubs'],
  },
  {
    says: 'a contaminated inside contaminates what it lies on',
    rule: 'stays-clean',
    changes: [inserted('gown-on', { id: 'lace-shoes', touches: ['shoes'] }), withStep('gown-on', { near: [] })],
    at: 'gown-on',
    chain: ['shoes', 'inner-gloves', 'gown inside', 'scrubs'],
  },
  {
    says: 'dirty hands clean nothing but themselves',
    rule: 'nothing-carried-out',
    changes: [
      inserted('rub-after-gown', { id: 'stand', meets: [['shoes', 'floor']] }),
      inserted('rub-after-gown', {
        id: 'wipe-shoes',
        touches: ['shoes'],
        hygiene: { agent: 'wipe', contactSeconds: 60, covers: ['shoes'] },
      }),
    ],
    at: 'look-body',
    chain: ['floor', 'shoes'],
  },
  // ---- gloves and hands ----
  {
    says: 'an inner layer is relied on as clean when the one over it comes off',
    rule: 'inner-layer',
    changes: [withStep('rub-outer', { hygiene: undefined }), withStep('rub-at-door', {})],
    at: 'outer-off',
    chain: ['outer-gloves', 'inner-gloves'],
  },
  {
    says: 'an inner layer that nothing covers in the room is contaminated there',
    rule: 'inner-layer',
    changes: [withLayer('outer-gloves', { covers: [], over: ['inner-gloves', 'gown'] })],
    at: 'look-last',
  },
  {
    says: 'a layer that is relied on must be clean when the next one goes over it',
    rule: 'inner-layer',
    changes: [
      withStep('outer-on', { after: ['mask-on'] }),
      inserted('outer-on', { id: 'lace-shoes', touches: ['shoes'] }),
    ],
    at: 'outer-on',
    chain: ['shoes', 'inner-gloves'],
  },
  {
    says: 'gloves go on hands that were rubbed',
    rule: 'hands-before-gloves',
    changes: [withStep('rub-hands', { hygiene: undefined })],
    at: 'inner-on',
  },
  {
    says: 'a rub that is too short is none',
    rule: 'hands-before-gloves',
    changes: [withStep('rub-hands', { hygiene: { agent: 'hand rub', contactSeconds: 19, covers: ['hands'] } })],
    at: 'inner-on',
  },
  {
    says: 'an agent that does not suit bare hands before gloves is none',
    rule: 'hands-before-gloves',
    changes: [withStep('rub-hands', { hygiene: { agent: 'soap', contactSeconds: 40, covers: ['hands'] } })],
    at: 'inner-on',
  },
  {
    says: 'hands that handled something after the rub are rubbed again',
    rule: 'hands-before-gloves',
    changes: [inserted('inner-on', { id: 'fetch', touches: ['mask'] })],
    at: 'inner-on',
  },
  {
    says: 'rubbing gloves over gloves leaves the hands as they are',
    rule: 'hands-at-end',
    changes: [
      withStep('rub-bare', {
        touches: [],
        hygiene: { agent: 'hand rub', contactSeconds: 30, covers: ['inner-gloves'] },
      }),
    ],
    at: 'look-body',
  },
  {
    says: 'gloves that were contaminated once do not come close to the face, disinfected or not',
    rule: 'face-with-fresh-gloves',
    changes: [
      withLayer('mask', { over: [] }),
      withStep('rub-after-mask', { after: ['look-inner'] }),
      withStep('mask-off', { after: ['rub-after-gown'] }),
      withStep('inner-off', { after: ['mask-off'] }),
    ],
    at: 'mask-off',
  },
  {
    says: "a helper's gloves are disinfected after the help",
    rule: 'nothing-carried-out',
    changes: [withStep('untie', { by: 'observer' })],
    at: 'look-body',
    chain: ['observer-gloves'],
  },
  {
    says: "a helper's gloves count as contaminated until the file shows them disinfected",
    rule: 'stays-clean',
    changes: [withStep('untie', { by: 'observer', near: ['head'] })],
    at: 'untie',
    chain: ['observer-gloves', 'head'],
  },
  // ---- layers ----
  {
    says: 'what lies over something goes on after it',
    rule: 'layers-on',
    changes: [withStep('gown-on', { after: ['rub-hands'] }), withStep('inner-on', { after: ['gown-on'] })],
    at: 'gown-on',
  },
  {
    says: 'new gloves go on bare hands, not over the old ones',
    rule: 'layers-on',
    changes: [
      ({ ensemble, ...rest }) => ({
        ...rest,
        ensemble: {
          ...ensemble,
          items: [...ensemble.items, { id: 'fresh', name: 'fresh' }],
          layers: [...(ensemble.layers ?? []), { item: 'fresh', wornOn: 'hands', covers: ['hands'] }],
        },
      }),
      inserted('inner-off', { id: 'fresh-on', putsOn: ['fresh'] }),
      inserted('look-body', { id: 'fresh-off', takesOff: ['fresh'], goesTo: 'waste', comesOff: 'inside-out' }),
    ],
    at: 'fresh-on',
  },
  {
    says: 'nothing comes off from under something',
    rule: 'layers-off',
    changes: [
      withStep('mask-off', { after: ['gown-off'] }),
      withStep('rub-after-mask', { after: ['look-inner'] }),
      withStep('rub-after-gown', { after: ['mask-off'] }),
      withLayer('gown', { opened: false }),
      withStep('untie', { opens: undefined }),
    ],
    at: 'gown-off',
  },
  {
    says: 'an order that the ensemble asks for is kept',
    rule: 'off-before',
    changes: [withLayer('inner-gloves', { offBefore: ['mask'] })],
    at: 'mask-off',
  },
  {
    says: 'a piece that is to be closed is closed',
    rule: 'fastening',
    changes: [withStep('gown-tied', { secures: undefined })],
    at: 'look-last',
  },
  {
    says: 'and not when something lies over it already',
    rule: 'fastening',
    changes: [withStep('mask-on', { after: ['gown-on'] }), withStep('gown-tied', { after: ['mask-on'] })],
    at: 'gown-tied',
  },
  {
    says: 'a piece that is to be opened is opened before it comes off',
    rule: 'fastening',
    changes: [withStep('untie', { opens: undefined })],
    at: 'gown-off',
  },
  {
    says: 'every body surface is covered in the room',
    rule: 'all-covered',
    changes: [withLayer('mask', { covers: ['mouth', 'eyes'] })],
    at: 'look-last',
  },
  // ---- people and looking ----
  {
    says: 'nothing is handled before the observer is engaged',
    rule: 'watched',
    changes: [
      withStep('rub-hands', { after: ['look-kit'] }),
      withStep('watch', { engages: undefined }),
      inserted('gown-off', { id: 'late', engages: ['observer'] }),
    ],
    at: 'outer-off',
  },
  {
    says: 'the assistant helps only from their place',
    rule: 'watched',
    changes: [
      (current) => ({ ...current, doffingAssistant: true }),
      withStep('look-body', { engages: ['assistant'], by: 'assistant' }),
      withStep('untie', { by: 'assistant' }),
    ],
    at: 'untie',
  },
  {
    says: 'a piece is looked at before it is put on',
    rule: 'looked-at-first',
    changes: [withStep('look-kit', { looksAt: ['gown', 'inner-gloves', 'outer-gloves'] })],
    at: 'mask-on',
  },
  {
    says: 'a glove that lies open now is looked at before anything else comes off',
    rule: 'looked-at-first',
    changes: [withStep('look-inner', { looksAt: undefined })],
    at: 'mask-off',
  },
  {
    says: 'a look before the layer over it is off does not count',
    rule: 'looked-at-first',
    changes: [
      withStep('look-inner', { after: ['look-all'] }),
      withStep('outer-off', { after: ['look-inner', 'rub-outer'] }),
      withStep('mask-off', { after: ['outer-off'] }),
    ],
    at: 'mask-off',
  },
  {
    says: 'donning ends with the look at everything',
    rule: 'last-look',
    changes: [withStep('look-last', { after: ['mask-on'] })],
    at: 'outer-on',
  },
  {
    says: 'that the worker looked alone is no look of the observer',
    rule: 'last-look',
    changes: [
      (current) => ({ ...current, doffingAssistant: true }),
      withStep('watch', { engages: ['observer', 'assistant'] }),
      withStep('look-last', { verifiedBy: 'assistant' }),
    ],
    at: 'look-last',
  },
  {
    says: 'with an assistant, both look at the body at the end',
    rule: 'last-look',
    changes: [
      (current) => ({ ...current, doffingAssistant: true }),
      withStep('watch', { engages: ['observer', 'assistant'] }),
    ],
    at: 'look-body',
  },
  {
    says: 'nobody leaves before that look',
    rule: 'last-look',
    changes: [inserted('look-body', { id: 'leave', leaves: true })],
    at: 'leave',
  },
  // ---- places ----
  {
    says: 'hands are clean when the worker steps into the lane',
    rule: 'lane-entry',
    changes: [withStep('rub-at-door', { hygiene: undefined })],
    at: 'enter-lane',
    chain: ['outer-gloves'],
  },
  {
    says: 'what belongs to the door is not done in the lane',
    rule: 'lane-entry',
    changes: [inserted('enter-lane', { id: 'signal', after: [] }), withStep('enter-lane', { after: ['rub-at-door'] })],
    at: 'signal',
  },
  {
    says: 'contaminated things go where contaminated things may go',
    rule: 'right-place',
    changes: [withStep('gown-off', { goesTo: 'shelf' })],
    at: 'gown-off',
    chain: ['gown'],
  },
];

it('the small procedure holds, in every order', () => {
  expect(prove(smallProcedure())).toMatchObject({ verdict: 'proved', orders: 4n });
});

describe('the rule', () => {
  it.each(cases.map((one) => [one.rule, one.says, one] as const))(
    '%s: %s',
    (_rule, _says, { changes, rule, at, chain }) => {
      const found = broken(prove(changed(...changes)));
      expect([found.rule, found.last], found.sentence).toEqual([rule, at]);
      if (chain) expect(found.surfaces).toEqual(chain);
      expect(found.sentence).toMatch(/^["A-Z].*\.$/);
    },
  );

  it('is shown for every rule there is', () => {
    expect(new Set(cases.map((one) => one.rule))).toEqual(new Set(ruleNames));
  });
});
