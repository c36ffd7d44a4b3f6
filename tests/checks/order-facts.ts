import { stepsOf } from '../../machines/procedure/order.ts';
import type { Phase, Procedure } from '../../machines/procedure/procedure.ts';
import type { StepId } from '../../machines/wire/ids.ts';
import { alwaysBefore } from '../support/partial-order.ts';

/**
 * The order facts of the trade, each with its source, as checks on any procedure that has the items they speak of.
 * "CDC PPE training 2014" is the training of the Centers for Disease Control and Prevention, October 2014 with later updates.
 */
export interface OrderFact {
  title: string;
  source: string;
  applies: (procedure: Procedure) => boolean;
  needs: (procedure: Procedure) => Need[];
}

export interface Precedence {
  first: StepId;
  then: StepId;
}

/** Met when at least one alternative holds in every allowed order; an alternative is a list of precedences. */
export interface Need {
  says: string;
  anyOf: Precedence[][];
}

export const isMet = (procedure: Procedure, need: Need): boolean =>
  need.anyOf.some((all) => all.every(({ first, then }) => alwaysBefore(procedure, first, then)));

export const unmet = (fact: OrderFact, procedure: Procedure): string[] =>
  fact.needs(procedure).flatMap((need) => (isMet(procedure, need) ? [] : [need.says]));

type Reference = (procedure: Procedure) => StepId;
type Needs = OrderFact['needs'];

const step =
  (id: string): Reference =>
  (procedure) =>
    pick(procedure, id, (one) => one.id === id);
const on =
  (item: string): Reference =>
  (procedure) =>
    pick(procedure, `putting on ${item}`, (one) => (one.putsOn as string[]).includes(item));
const off =
  (item: string): Reference =>
  (procedure) =>
    pick(procedure, `taking off ${item}`, (one) => (one.takesOff as string[]).includes(item));

function pick(procedure: Procedure, what: string, is: (step: Procedure['steps'][number]) => boolean): StepId {
  const found = procedure.steps.find(is);
  if (!found) throw new Error(`${procedure.id} has no step for ${what}`);
  return found.id;
}

const precedence = (first: StepId, then: StepId): Need => ({
  says: `"${first}" before "${then}"`,
  anyOf: [[{ first, then }]],
});

/** Each before the next. */
const inOrder =
  (...references: Reference[]): Needs =>
  (procedure) => {
    const ids = references.map((one) => one(procedure));
    return ids.slice(1).map((then, index) => precedence(ids[index] as StepId, then));
  };

/** A surface disinfected or washed between two steps. */
const cleaned =
  (surface: string, { after, before }: { after: Reference; before: Reference }): Needs =>
  (procedure) => {
    const [first, then] = [after(procedure), before(procedure)];
    const phase = procedure.steps.find((one) => one.id === first)?.phase;
    const between = procedure.steps.filter((one) => one.phase === phase && one.hygiene?.covers.includes(surface));
    const anyOf = between.map(({ id }) => [
      { first, then: id },
      { first: id, then },
    ]);
    return [{ says: `${surface} disinfected between "${first}" and "${then}"`, anyOf }];
  };

const firstOf =
  (phase: Phase, reference: Reference): Needs =>
  (procedure) => {
    const first = reference(procedure);
    return stepsOf(procedure, phase).flatMap(({ id }) => (id === first ? [] : [precedence(first, id)]));
  };

const lastOf =
  (phase: Phase, reference: Reference): Needs =>
  (procedure) => {
    const last = reference(procedure);
    return stepsOf(procedure, phase).flatMap(({ id }) => (id === last ? [] : [precedence(id, last)]));
  };

/** Before any step of a phase that puts something on. */
const beforeAnythingIsPutOn =
  (reference: Reference): Needs =>
  (procedure) => {
    const first = reference(procedure);
    return stepsOf(procedure, 'donning').flatMap((one) => (one.putsOn.length > 0 ? [precedence(first, one.id)] : []));
  };

const all =
  (...needs: Needs[]): Needs =>
  (procedure) =>
    needs.flatMap((one) => one(procedure));

const everywhere = (): boolean => true;
const withGown = (procedure: Procedure): boolean => procedure.ensemble.garment === 'gown';
const withCoverall = (procedure: Procedure): boolean => procedure.ensemble.garment === 'coverall';
const tightFitting = (procedure: Procedure): boolean => procedure.ensemble.respirator === 'tight-fitting';
const powered = (procedure: Procedure): boolean => procedure.ensemble.respirator === 'powered-loose-fitting';

const garment: Reference = (procedure) => on(procedure.ensemble.garment)(procedure);
const garmentOff: Reference = (procedure) => off(procedure.ensemble.garment)(procedure);
/** The first piece that comes off after the outer gloves. */
const afterOuterGloves: Reference = (procedure) => off(powered(procedure) ? 'hose' : 'face-shield')(procedure);

const fact = (title: string, source: string, applies: OrderFact['applies'], needs: Needs): OrderFact => ({
  title,
  source,
  applies,
  needs,
});

const fromMemory = 'CDC list of 2014/2015, from memory';
const commonPractice = 'common practice, no source';

export const donningFacts: OrderFact[] = [
  fact(
    'the observer explains how steps are read, and a stop word is agreed, before anything is put on',
    'CDC PPE training 2014, trained observer, pages 6, 11 and 12',
    everywhere,
    all(beforeAnythingIsPutOn(step('listen')), beforeAnythingIsPutOn(step('stop-word'))),
  ),
  fact(
    'the observer explains how steps are read before the kit is looked over',
    commonPractice,
    everywhere,
    inOrder(step('listen'), step('look-over-kit')),
  ),
  fact(
    'every piece is looked over before anything is put on',
    'CDC PPE training 2014, powered respirator and coverall, donning page 4',
    everywhere,
    beforeAnythingIsPutOn(step('look-over-kit')),
  ),
  fact(
    'battery and air flow of the powered unit are tested before anything is put on, and the test is read out',
    'CDC PPE training 2014, powered respirator and coverall, donning page 4',
    powered,
    all(inOrder(step('listen'), step('test-unit')), beforeAnythingIsPutOn(step('test-unit'))),
  ),
  fact(
    'hand hygiene after the kit was handled and before the inner gloves',
    fromMemory,
    everywhere,
    cleaned('hands', { after: step('look-over-kit'), before: on('inner-gloves') }),
  ),
  fact('inner gloves before the garment', fromMemory, everywhere, inOrder(on('inner-gloves'), garment)),
  fact('inner gloves before the boot covers', fromMemory, everywhere, inOrder(on('inner-gloves'), on('boot-covers'))),
  fact(
    'hands that came near the floor are disinfected before the outer gloves cover them',
    'CDC PPE training 2014, N95 respirator and coverall, donning page 6',
    everywhere,
    cleaned('inner-gloves', { after: on('boot-covers'), before: on('outer-gloves') }),
  ),
  fact(
    'hands that came near the floor are disinfected before they go to the face',
    'CDC PPE training 2014, N95 respirator and coverall, donning page 6',
    tightFitting,
    cleaned('inner-gloves', { after: on('boot-covers'), before: on('respirator') }),
  ),
  fact(
    'the gown goes on with gloves disinfected after the shoes: they would carry dirt from there to its inside',
    commonPractice,
    withGown,
    cleaned('inner-gloves', { after: on('boot-covers'), before: on('gown') }),
  ),
  fact('garment before the outer gloves', fromMemory, everywhere, inOrder(garment, on('outer-gloves'))),
  fact(
    'the coverall goes on over disinfected gloves and boot covers, since it comes off before the boot covers',
    commonPractice,
    withCoverall,
    cleaned('inner-gloves', { after: on('boot-covers'), before: on('coverall') }),
  ),
  fact(
    'the coverall is closed before gloves, hood and unit lie over it',
    commonPractice,
    withCoverall,
    all(
      inOrder(on('coverall'), step('coverall-closed'), on('outer-gloves')),
      inOrder(step('coverall-closed'), on('powered-unit')),
      inOrder(step('coverall-closed'), on('hood')),
    ),
  ),
  fact(
    'respirator, then hood, then face shield',
    'CDC PPE training 2014, N95 respirator and coverall, donning pages 9 to 11, and N95 respirator and gown, donning page 13',
    tightFitting,
    inOrder(on('respirator'), on('hood'), on('face-shield')),
  ),
  fact(
    'the seal is checked before the hood covers the straps',
    'CDC PPE training 2014, N95 respirator and coverall, donning page 9',
    tightFitting,
    inOrder(on('respirator'), step('seal-check'), on('hood')),
  ),
  fact('the hood lies over the gown', commonPractice, withGown, inOrder(on('gown'), on('hood'))),
  fact(
    'the apron lies over the hood, since it comes off first',
    commonPractice,
    withGown,
    inOrder(on('hood'), on('apron')),
  ),
  fact(
    'the powered unit is worn outside the garment',
    'CDC PPE training 2014, powered respirator and gown, donning page 9',
    powered,
    inOrder(garment, on('powered-unit')),
  ),
  fact(
    'the hose is connected, and the air felt, once unit and hood are on',
    'CDC PPE training 2014, powered respirator and coverall, donning page 11',
    powered,
    all(inOrder(on('powered-unit'), on('hose'), step('air-felt'), step('final-look')), inOrder(on('hood'), on('hose'))),
  ),
  fact('the outer gloves are disinfected once everything is on', fromMemory, everywhere, (procedure) =>
    stepsOf(procedure, 'donning')
      .filter((one) => one.putsOn.length > 0)
      .flatMap((one) => cleaned('outer-gloves', { after: () => one.id, before: step('final-look') })(procedure)),
  ),
  fact(
    'the worker moves in full equipment: everything is on before reaching and bending',
    'CDC PPE training 2014, N95 respirator and coverall, donning page 14',
    everywhere,
    (procedure) =>
      stepsOf(procedure, 'donning')
        .filter((one) => one.putsOn.length > 0)
        .flatMap((one) => inOrder(() => one.id, step('move-about'))(procedure)),
  ),
  fact(
    'verification is the last step',
    'CDC PPE training 2014, N95 respirator and coverall, donning page 14',
    everywhere,
    lastOf('donning', step('final-look')),
  ),
];

export const exitFacts: OrderFact[] = [
  fact(
    'the worker looks at the own equipment, wipes what can be seen, then disinfects the outer gloves',
    'CDC PPE training 2014, N95 respirator and gown, doffing page 1',
    everywhere,
    all(
      inOrder(step('exit-look'), step('exit-wipe')),
      cleaned('outer-gloves', { after: step('exit-wipe'), before: step('exit-clear') }),
    ),
  ),
  fact(
    'the worker signals first: nothing is touched between the clean gloves and the lane',
    commonPractice,
    everywhere,
    cleaned('outer-gloves', { after: step('exit-signal'), before: step('exit-clear') }),
  ),
  fact(
    'nobody comes through before the observer has called the lane clear',
    'CDC PPE training 2014, N95 respirator and gown, doffing page 1',
    everywhere,
    all(lastOf('exit', step('exit-clear')), inOrder(step('exit-clear'), step('slow-down'))),
  ),
];

export const doffingFacts: OrderFact[] = [
  fact(
    'the observer is engaged before anything else',
    'CDC PPE training 2014, powered respirator and gown, doffing page 2',
    everywhere,
    firstOf('doffing', step('slow-down')),
  ),
  fact('inspected and outer gloves disinfected before anything comes off', fromMemory, everywhere, (procedure) =>
    stepsOf(procedure, 'doffing')
      .filter((one) => one.takesOff.length > 0)
      .flatMap((one) =>
        all(
          inOrder(step('arrive-look'), () => one.id),
          cleaned('outer-gloves', { after: step('slow-down'), before: () => one.id }),
        )(procedure),
      ),
  ),
  fact(
    'apron off, look, disinfect the outer gloves, then the outer gloves',
    fromMemory,
    withGown,
    all(
      inOrder(off('apron'), step('apron-look'), off('outer-gloves')),
      cleaned('outer-gloves', { after: off('apron'), before: off('outer-gloves') }),
    ),
  ),
  fact(
    'outer gloves disinfected before they are removed',
    fromMemory,
    everywhere,
    cleaned('outer-gloves', { after: step('slow-down'), before: off('outer-gloves') }),
  ),
  fact(
    'outer gloves off before the face shield, the hood and the garment',
    fromMemory,
    withGown,
    all(
      inOrder(off('outer-gloves'), off('face-shield')),
      inOrder(off('outer-gloves'), off('hood')),
      inOrder(off('outer-gloves'), garmentOff),
    ),
  ),
  fact(
    'outer gloves off before the powered unit, the hood and the garment',
    'CDC PPE training 2014, powered respirator and gown, doffing page 9 (before it), and the list of 2014/2015, from memory',
    powered,
    all(
      inOrder(off('outer-gloves'), off('hose')),
      inOrder(off('outer-gloves'), off('powered-unit')),
      inOrder(off('outer-gloves'), off('hood')),
      inOrder(off('outer-gloves'), garmentOff),
    ),
  ),
  fact(
    'inner gloves inspected as soon as the outer ones are off, and disinfected after it',
    'CDC PPE training 2014, powered respirator and gown, doffing page 9',
    everywhere,
    all(
      inOrder(off('outer-gloves'), step('inner-gloves-look')),
      cleaned('inner-gloves', { after: step('inner-gloves-look'), before: afterOuterGloves }),
    ),
  ),
  fact(
    'the observer warns about the face before head gear comes off',
    'CDC PPE training 2014, trained observer, page 21',
    everywhere,
    inOrder(step('face-warning'), afterOuterGloves),
  ),
  fact(
    'face shield before hood',
    'CDC PPE training 2014, N95 respirator and gown, doffing page 11 (shield), and the list of 2014/2015, from memory',
    tightFitting,
    inOrder(off('face-shield'), off('hood')),
  ),
  fact('hood before gown', fromMemory, withGown, inOrder(off('hood'), off('gown'))),
  fact(
    'hose, belt, unit, hood, then the coverall',
    'CDC PPE training 2014, powered respirator and coverall, doffing pages 9 and 12',
    (procedure) => powered(procedure) && withCoverall(procedure),
    inOrder(off('hose'), step('belt-open'), off('powered-unit'), off('hood'), off('coverall')),
  ),
  fact(
    'the assistant is in place, gloves disinfected, before the first help',
    'CDC PPE training 2014, powered respirator and gown, doffing page 10 (place); the rub is common practice, no source',
    powered,
    inOrder(step('assistant-ready'), off('hose')),
  ),
  fact(
    'flap open, gloves disinfected, zip open, coverall rolled down, then off the legs',
    'CDC PPE training 2014, powered respirator and coverall, doffing page 12',
    withCoverall,
    all(
      cleaned('inner-gloves', { after: step('flap-open'), before: step('zip-open') }),
      inOrder(step('zip-open'), step('coverall-down'), off('coverall')),
    ),
  ),
  fact(
    'coverall before boot covers',
    'CDC PPE training 2014, powered respirator and coverall, doffing page 14',
    withCoverall,
    inOrder(off('coverall'), off('boot-covers')),
  ),
  fact(
    'gown before boot covers: it would soil the clean chair',
    'common practice, no source: the place of the boot covers was not found for gowns',
    withGown,
    inOrder(off('gown'), off('boot-covers')),
  ),
  fact(
    'gloves or hands disinfected after each removal and before the next',
    'CDC list of 2014/2015, from memory; CDC PPE training 2014, powered respirator and gown, doffing page 12 (after the gown)',
    withGown,
    all(
      cleaned('outer-gloves', { after: off('apron'), before: off('outer-gloves') }),
      cleaned('inner-gloves', { after: off('outer-gloves'), before: off('face-shield') }),
      cleaned('inner-gloves', { after: off('face-shield'), before: off('hood') }),
      cleaned('inner-gloves', { after: off('hood'), before: off('gown') }),
      cleaned('inner-gloves', { after: off('gown'), before: off('boot-covers') }),
      cleaned('inner-gloves', { after: off('boot-covers'), before: off('inner-gloves') }),
      cleaned('hands', { after: off('inner-gloves'), before: on('fresh-gloves') }),
      cleaned('fresh-gloves', { after: off('respirator'), before: off('fresh-gloves') }),
    ),
  ),
  fact(
    'gloves or hands disinfected after each removal and before the next; hose, unit and hood are one run',
    'CDC PPE training 2014, powered respirator and coverall, doffing page 9 (the run), and the list of 2014/2015, from memory',
    withCoverall,
    all(
      cleaned('inner-gloves', { after: off('outer-gloves'), before: off('hose') }),
      cleaned('inner-gloves', { after: off('hood'), before: step('flap-open') }),
      cleaned('inner-gloves', { after: off('coverall'), before: off('boot-covers') }),
      cleaned('inner-gloves', { after: off('boot-covers'), before: off('inner-gloves') }),
      cleaned('hands', { after: off('inner-gloves'), before: on('fresh-gloves') }),
    ),
  ),
  fact(
    'the assistant disinfects after each help',
    'CDC PPE training 2014, powered respirator and gown, doffing page 10',
    powered,
    all(
      cleaned('assistant-gloves', { after: off('hood'), before: step('coverall-down') }),
      cleaned('assistant-gloves', { after: off('coverall'), before: step('final-inspection') }),
    ),
  ),
  fact(
    'inner gloves changed, with bare hands rubbed between, before the respirator',
    'CDC PPE training 2014, N95 respirator and gown, doffing page 16, and the list of 2014/2015, from memory',
    tightFitting,
    all(
      inOrder(off('inner-gloves'), on('fresh-gloves'), off('respirator')),
      cleaned('hands', { after: off('inner-gloves'), before: off('respirator') }),
    ),
  ),
  fact(
    'the respirator is the last of the face pieces',
    fromMemory,
    tightFitting,
    all(inOrder(off('face-shield'), off('respirator')), inOrder(off('hood'), off('respirator'))),
  ),
  fact(
    'the respirator comes off with gloves that have touched nothing else: shoes after it, gloves disinfected between',
    'CDC list of 2014/2015, from memory; the disinfection between is common practice, no source',
    tightFitting,
    cleaned('fresh-gloves', { after: off('respirator'), before: step('wipe-shoes') }),
  ),
  fact(
    'inner gloves changed and boot covers off before the shoes are disinfected',
    'CDC PPE training 2014, powered respirator and coverall, doffing page 14, and N95 respirator and coverall, doffing page 18',
    everywhere,
    all(
      inOrder(off('boot-covers'), step('wipe-shoes')),
      inOrder(on('fresh-gloves'), step('wipe-shoes')),
      cleaned('shoes', { after: off('boot-covers'), before: step('final-inspection') }),
    ),
  ),
  fact(
    'gloves disinfected after the shoes and before they come off',
    fromMemory,
    everywhere,
    cleaned('fresh-gloves', { after: step('wipe-shoes'), before: off('fresh-gloves') }),
  ),
  fact(
    'hand rub after the last gloves, then a last wash with soap',
    'Mumma and others, Clinical Infectious Diseases 2019, volume 69 supplement 3: common to four hospitals',
    everywhere,
    inOrder(off('fresh-gloves'), step('rub-hands-last'), step('wash-hands')),
  ),
  fact(
    'hands clean before the final inspection',
    fromMemory,
    everywhere,
    cleaned('hands', { after: off('fresh-gloves'), before: step('final-inspection') }),
  ),
  fact(
    'the final inspection is the last step',
    'CDC PPE training 2014, powered respirator and gown, doffing page 17',
    everywhere,
    lastOf('doffing', step('final-inspection')),
  ),
];

export const orderFacts: OrderFact[] = [...donningFacts, ...exitFacts, ...doffingFacts];
