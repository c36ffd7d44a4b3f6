import { shippedIds, type ShippedId } from './prover-files.ts';
import {
  edited,
  either,
  firstHeadgear,
  floats,
  garmentOf,
  garmentOff,
  garmentOn,
  isHandled,
  notFirst,
  notLast,
  off,
  on,
  step,
  withAgent,
  withoutHygiene,
  withoutPiece,
  type Spoil,
} from './prover-spoil.ts';

// Every hard constraint of the trade, and how it is broken. "CDC PPE training 2014" is the training of the Centers for Disease
// Control and Prevention, October 2014 with later updates.

const byGuidance = ['respirator-gown', 'respirator-coverall', 'powered-gown', 'powered-coverall'] as const;
const tightFitting = ['respirator-gown', 'respirator-coverall'] as const;
const powered = ['powered-gown', 'powered-coverall'] as const;
const coveralls = ['respirator-coverall', 'powered-coverall'] as const;
const assisted = ['respirator-coverall', 'powered-gown', 'powered-coverall'] as const;

export interface Constraint {
  says: string;
  source: string;
  of: readonly ShippedId[];
  /** Every way in which it is broken; all of them must be noticed. */
  spoil: Spoil;
}

const cdc = 'CDC PPE training 2014';
const fromMemory = 'CDC list of 2014/2015, from memory';

export const constraints: Constraint[] = [
  // ---- donning ----
  {
    says: 'every piece is looked over before it is put on',
    source: `${cdc}, powered respirator and coverall, donning page 4`,
    of: shippedIds,
    spoil: edited(step('look-over-kit'), { looksAt: [] }),
  },
  {
    says: 'battery and air flow are tested',
    source: `${cdc}, powered respirator and coverall, donning page 4`,
    of: powered,
    spoil: edited(step('test-unit'), { looksAt: [] }),
  },
  {
    says: 'hand hygiene before inner gloves',
    source: fromMemory,
    of: byGuidance,
    spoil: either(
      withoutHygiene('rub-hands-first'),
      floats(step('rub-hands-first'), on('inner-gloves')),
      withAgent('rub-hands-first', 'disinfectant wipe', 60),
      withAgent('rub-hands-first', 'alcohol hand rub', 5),
    ),
  },
  {
    says: 'hand hygiene before the first gloves',
    source: fromMemory,
    of: ['field-gown'],
    spoil: either(
      withoutHygiene('rub-hands-before-gloves'),
      floats(step('rub-hands-before-gloves'), on('short-gloves')),
    ),
  },
  {
    says: 'inner gloves before garment',
    source: fromMemory,
    of: byGuidance,
    spoil: floats(on('inner-gloves'), garmentOn),
  },
  {
    says: 'hands that came near the floor are disinfected before they go on',
    source: `${cdc}, N95 respirator and coverall, donning page 6`,
    of: byGuidance,
    spoil: withoutHygiene('rub-gloves-after-boots'),
  },
  {
    says: 'hands that were at the shoes are disinfected before they go to the head',
    source: 'common practice, no source',
    of: ['field-gown'],
    spoil: withoutHygiene('rub-hands-first'),
  },
  {
    says: 'garment before outer gloves',
    source: fromMemory,
    of: byGuidance,
    spoil: floats(garmentOn, on('outer-gloves')),
  },
  {
    says: 'gown before long gloves',
    source: 'common practice, no source',
    of: ['field-gown'],
    spoil: floats(on('gown'), on('long-gloves')),
  },
  {
    says: 'the coverall is closed, and nothing lies over it then',
    source: 'common practice, no source',
    of: coveralls,
    spoil: either(
      edited(step('coverall-closed'), { secures: [] }),
      floats(step('coverall-closed'), on('outer-gloves')),
      floats(step('coverall-closed'), on('hood')),
    ),
  },
  {
    says: 'respirator before hood before face shield',
    source: `${cdc}, N95 respirator and coverall, donning pages 9 to 11, and N95 respirator and gown, donning page 13`,
    of: tightFitting,
    spoil: either(floats(on('respirator'), on('hood')), floats(on('hood'), on('face-shield'))),
  },
  {
    says: 'hood before gown before respirator before face shield',
    source: 'common practice, no source',
    of: ['field-gown'],
    spoil: either(
      floats(on('hood'), on('gown')),
      floats(on('hood'), on('respirator')),
      floats(on('respirator'), on('face-shield')),
    ),
  },
  {
    says: 'the seal is checked, before the hood covers the straps',
    source: `${cdc}, N95 respirator and coverall, donning page 9`,
    of: tightFitting,
    spoil: either(edited(step('seal-check'), { secures: [] }), floats(step('seal-check'), on('hood'))),
  },
  {
    says: 'the powered unit is worn outside the garment',
    source: `${cdc}, powered respirator and gown, donning page 9`,
    of: powered,
    spoil: floats(garmentOn, on('powered-unit')),
  },
  {
    says: 'the hose is connected when unit and hood are on, and the air is felt',
    source: `${cdc}, powered respirator and coverall, donning page 11`,
    of: powered,
    spoil: either(
      floats(on('powered-unit'), on('hose')),
      floats(on('hood'), on('hose')),
      floats(on('hose'), step('air-felt')),
      edited(step('air-felt'), { secures: [] }),
    ),
  },
  {
    says: 'verification is the last step of donning',
    source: `${cdc}, N95 respirator and coverall, donning page 14`,
    of: shippedIds,
    spoil: notLast(step('final-look')),
  },
  {
    says: 'nobody goes in without the observer having looked at everything',
    source: `${cdc}, N95 respirator and coverall, donning page 14`,
    of: shippedIds,
    spoil: either(edited(step('final-look'), { looksAt: [] }), edited(step('final-look'), { verifiedBy: 'assistant' })),
  },
  {
    says: 'two pairs of gloves',
    source: fromMemory,
    of: byGuidance,
    spoil: (procedure) => [withoutPiece(procedure, 'outer-gloves', 'inner-gloves')],
  },
  // ---- leaving the room ----
  {
    says: 'own equipment looked at, gloves disinfected, then into the lane',
    source: `${cdc}, N95 respirator and gown, doffing page 1`,
    of: byGuidance,
    spoil: either(
      withoutHygiene('exit-gloves'),
      floats(step('exit-gloves'), step('exit-clear')),
      edited(step('exit-look'), { looksAt: [] }),
      notLast(step('exit-clear')),
    ),
  },
  {
    says: 'long gloves disinfected in the room',
    source: 'common practice, no source',
    of: ['field-gown'],
    spoil: either(withoutHygiene('long-gloves-rub'), floats(step('long-gloves-rub'), step('onto-pad'))),
  },
  // ---- doffing ----
  {
    says: 'the observer is engaged before anything else',
    source: `${cdc}, powered respirator and gown, doffing page 2`,
    of: shippedIds,
    spoil: either(notFirst, edited(step('slow-down'), { engages: [] })),
  },
  {
    says: 'a doffing assistant for a powered respirator or a coverall',
    source: `${cdc}, trained observer page 18`,
    of: assisted,
    spoil: (procedure) => [{ ...procedure, doffingAssistant: false }],
  },
  {
    says: 'equipment looked at before anything comes off',
    source: fromMemory,
    of: byGuidance,
    spoil: edited(step('arrive-look'), { looksAt: [] }),
  },
  {
    says: 'outer gloves disinfected, then removed',
    source: `${cdc}, powered respirator and gown, doffing page 9 (before it), and the list of 2014/2015, from memory`,
    of: ['respirator-coverall', 'powered-gown', 'powered-coverall'],
    spoil: either(withoutHygiene('rub-outer-first'), floats(step('rub-outer-first'), off('outer-gloves'))),
  },
  {
    says: 'apron off, look, outer gloves disinfected, then removed',
    source: fromMemory,
    of: ['respirator-gown'],
    spoil: either(
      withoutHygiene('rub-outer-again'),
      floats(off('apron'), off('outer-gloves')),
      floats(step('rub-outer-again'), off('outer-gloves')),
      edited(step('apron-look'), { looksAt: [] }),
    ),
  },
  {
    says: 'outer gloves off before head gear and garment',
    source: `${cdc}, powered respirator and gown, doffing page 9`,
    of: byGuidance,
    spoil: either(floats(off('outer-gloves'), garmentOff), floats(off('outer-gloves'), step('inner-gloves-look'))),
  },
  {
    says: 'inner gloves looked at before the next piece',
    source: `${cdc}, powered respirator and gown, doffing page 9`,
    of: byGuidance,
    spoil: either(edited(step('inner-gloves-look'), { looksAt: [] }), floats(step('inner-gloves-look'), firstHeadgear)),
  },
  {
    says: 'face shield before hood, hood before garment',
    source: `${cdc}, N95 respirator and gown, doffing page 11, N95 respirator and coverall, doffing page 8`,
    of: tightFitting,
    spoil: either(floats(off('face-shield'), off('hood')), floats(off('hood'), garmentOff)),
  },
  {
    says: 'face shield before the change of gloves and before the shoes',
    source: `${cdc}, N95 respirator and gown, doffing pages 11 and 16, N95 respirator and coverall, doffing pages 8 and 18`,
    of: tightFitting,
    spoil: either(floats(off('face-shield'), off('inner-gloves')), floats(off('face-shield'), step('wipe-shoes'))),
  },
  {
    says: 'the shield is held by its strap, the respirator by its straps',
    source: `${cdc}, N95 respirator and gown, doffing page 11, and the list of 2014/2015, from memory`,
    of: ['respirator-gown'],
    spoil: either(edited(off('face-shield'), { touchesAt: undefined })),
  },
  {
    says: 'hose, belt, unit, hood, then the garment',
    source: `${cdc}, powered respirator and gown, doffing pages 10 and 11, powered respirator and coverall, doffing pages 9 and 12`,
    of: powered,
    spoil: either(
      floats(off('hose'), step('belt-open')),
      floats(step('belt-open'), off('powered-unit')),
      floats(off('powered-unit'), off('hood')),
      floats(off('hood'), garmentOff),
    ),
  },
  {
    says: 'the assistant is at their place before the first help',
    source: `${cdc}, powered respirator and gown, doffing page 10`,
    of: powered,
    spoil: floats(step('assistant-ready'), off('hose')),
  },
  {
    says: 'both disinfect after the powered respirator',
    source: `${cdc}, powered respirator and gown, doffing page 10`,
    of: powered,
    spoil: either(withoutHygiene('rub-inner-after-hood'), withoutHygiene('rub-assistant-after-hood')),
  },
  {
    says: 'the assistant disinfects after each help',
    source: `${cdc}, powered respirator and gown, doffing page 10`,
    of: coveralls,
    spoil: either(
      withoutHygiene('rub-assistant-after-coverall'),
      floats(off('coverall'), step('rub-assistant-after-coverall')),
    ),
  },
  {
    says: 'flap, gloves disinfected, zip, then the coverall is rolled down',
    source: `${cdc}, powered respirator and coverall, doffing page 12`,
    of: coveralls,
    spoil: either(
      withoutHygiene('rub-inner-after-flap'),
      floats(step('flap-open'), step('rub-inner-after-flap')),
      floats(step('rub-inner-after-flap'), step('zip-open')),
      floats(step('zip-open'), step('coverall-down')),
      floats(step('coverall-down'), off('coverall')),
    ),
  },
  {
    says: 'garment rolled inside out',
    source: `${cdc}, powered respirator and gown, doffing page 11, powered respirator and coverall, doffing page 12`,
    of: [...byGuidance, 'field-gown'],
    spoil: (procedure) =>
      edited(garmentOf(procedure) === 'coverall' ? step('coverall-down') : off('gown'), { comesOff: 'pulled' })(
        procedure,
      ),
  },
  {
    says: 'inner gloves disinfected after the garment',
    source: `${cdc}, powered respirator and gown, doffing page 12`,
    of: ['respirator-gown', 'powered-gown'],
    spoil: either(withoutHygiene('rub-inner-after-gown'), floats(off('gown'), step('rub-inner-after-gown'))),
  },
  {
    says: 'inner gloves disinfected after the coverall',
    source: fromMemory,
    of: coveralls,
    spoil: withoutHygiene('rub-inner-after-coverall'),
  },
  {
    says: 'garment before boot covers, which come off on the clean chair',
    source: `${cdc}, powered respirator and coverall, doffing pages 12 and 14`,
    of: byGuidance,
    spoil: floats(garmentOff, off('boot-covers')),
  },
  {
    says: 'the legs do not touch the outside of the boot covers',
    source: `${cdc}, powered respirator and coverall, doffing page 14`,
    of: byGuidance,
    spoil: edited(off('boot-covers'), { comesOff: 'pulled' }),
  },
  {
    says: 'change of gloves: disinfect, remove, rub, new pair',
    source: `${cdc}, N95 respirator and gown, doffing page 16`,
    of: byGuidance,
    spoil: either(
      withoutHygiene('rub-inner-after-boots'),
      withoutHygiene('rub-bare-hands'),
      floats(step('rub-bare-hands'), on('fresh-gloves')),
      floats(off('inner-gloves'), on('fresh-gloves')),
    ),
  },
  {
    says: 'only alcohol hand rub between the two pairs',
    source: `${cdc}, N95 respirator and gown, doffing page 16`,
    of: byGuidance,
    spoil: either(
      withAgent('rub-bare-hands', 'soap and water', 60),
      withAgent('rub-bare-hands', 'disinfectant wipe', 60),
    ),
  },
  {
    says: 'respirator with fresh gloves, after hood and shield',
    source: `${cdc}, N95 respirator and gown, doffing page 16, and the list of 2014/2015, from memory`,
    of: tightFitting,
    spoil: either(
      floats(on('fresh-gloves'), off('respirator')),
      floats(off('hood'), off('respirator')),
      floats(off('inner-gloves'), off('respirator')),
    ),
  },
  {
    says: 'shoes disinfected after the boot covers',
    source: `${cdc}, N95 respirator and coverall, doffing page 18`,
    of: byGuidance,
    spoil: either(
      withoutHygiene('wipe-shoes'),
      floats(off('boot-covers'), step('wipe-shoes')),
      floats(on('fresh-gloves'), step('wipe-shoes')),
    ),
  },
  {
    says: 'last gloves disinfected before they come off',
    source: fromMemory,
    of: byGuidance,
    spoil: withoutHygiene('rub-fresh-after-shoes'),
  },
  {
    says: 'hands cleaned after the last gloves',
    source: fromMemory,
    of: byGuidance,
    spoil: withoutHygiene('rub-hands-last', 'wash-hands'),
  },
  {
    says: 'hands cleaned after the last gloves',
    source: 'common practice, no source',
    of: ['field-gown'],
    spoil: either(withoutHygiene('rub-hands-last'), withoutHygiene('rub-bare-hands')),
  },
  {
    says: 'the final inspection is the last thing',
    source: `${cdc}, powered respirator and gown, doffing page 17`,
    of: byGuidance,
    spoil: either(notLast(step('final-inspection'), isHandled), edited(step('final-inspection'), { looksAt: [] })),
  },
  {
    says: 'assistant and observer both look at the end',
    source: `${cdc}, powered respirator and gown, doffing page 17`,
    of: assisted,
    spoil: edited(step('final-inspection'), { by: 'worker' }),
  },
  {
    says: 'tape, long gloves, ties, gown, leg covers, short gloves, in this order',
    source: 'common practice, no source',
    of: ['field-gown'],
    spoil: either(
      floats(off('tape'), off('long-gloves')),
      floats(off('long-gloves'), off('gown')),
      floats(step('ties-cut'), off('gown')),
      floats(off('gown'), off('short-gloves')),
    ),
  },
  {
    says: 'leg covers rolled, each foot to the clean floor and never back on the pad',
    source: 'common practice, no source',
    of: ['field-gown'],
    spoil: either(
      edited(off('left-leg-cover'), { comesOff: 'pulled' }),
      edited(off('right-leg-cover'), {
        meets: [
          ['shoes', 'clean-floor'],
          ['shoes', 'pad'],
          ['shoes', 'clean-floor'],
        ],
      }),
    ),
  },
  {
    says: 'shield, respirator, hood, with new gloves',
    source: 'common practice, no source',
    of: ['field-gown'],
    spoil: either(
      floats(on('fresh-gloves'), off('face-shield')),
      floats(off('face-shield'), off('respirator')),
      floats(off('respirator'), off('hood')),
    ),
  },
  {
    says: 'the inspection comes before the shower',
    source: 'common practice, no source',
    of: ['field-gown'],
    spoil: floats(step('final-inspection'), step('to-the-shower')),
  },
];
