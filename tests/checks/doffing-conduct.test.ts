import { describe, expect, it } from 'vitest';
import { stepsOf } from '../../machines/procedure/order.ts';
import type { Procedure, Step } from '../../machines/procedure/procedure.ts';
import type { StepId } from '../../machines/wire/ids.ts';
import { demoProcedure, demoUnit } from '../support/demo-unit.ts';
import { alwaysBefore } from '../support/partial-order.ts';

// Who does what in doffing, and with what. Sources: "CDC PPE training 2014" is the training of the Centers for Disease
// Control and Prevention, October 2014 with later updates.

const both = demoUnit().procedures.map((one) => [one.id, one] as const);
const doffing = (procedure: Procedure): Step[] => stepsOf(procedure, 'doffing');

const onStep = (procedure: Procedure, item: string) => procedure.steps.find((one) => one.putsOn.includes(item))?.id;
const offStep = (procedure: Procedure, item: string) => procedure.steps.find((one) => one.takesOff.includes(item))?.id;

/** In every allowed order the item is on the body while this step is done. */
function isWornAt(procedure: Procedure, item: string, step: StepId): boolean {
  const [on, off] = [onStep(procedure, item), offStep(procedure, item)];
  return !!on && !!off && alwaysBefore(procedure, on, step) && alwaysBefore(procedure, step, off);
}

/** In every allowed order the item is off the body while this step is done. */
function isOffAt(procedure: Procedure, item: string, step: StepId): boolean {
  const [on, off] = [onStep(procedure, item), offStep(procedure, item)];
  return !on || !off || alwaysBefore(procedure, step, on) || alwaysBefore(procedure, off, step);
}

describe.each(both)('%s', (_, procedure) => {
  it('every item is put on once and taken off once, in that order', () => {
    for (const { id } of procedure.ensemble.items) {
      expect(procedure.steps.filter((one) => one.putsOn.includes(id)).length, id).toBe(1);
      expect(procedure.steps.filter((one) => one.takesOff.includes(id)).length, id).toBe(1);
      expect(alwaysBefore(procedure, onStep(procedure, id)!, offStep(procedure, id)!), id).toBe(true);
    }
  });

  // Common practice, no source: hand rub reaches only what is outermost, so every rub must find that layer bare.
  it('every disinfection of gloves or hands reaches the outermost layer, in every allowed order', () => {
    const above: Record<string, string[]> = {
      hands: ['inner-gloves', 'outer-gloves', 'fresh-gloves'],
      'inner-gloves': ['outer-gloves'],
      'outer-gloves': [],
      'fresh-gloves': [],
    };
    for (const { id, hygiene } of procedure.steps)
      for (const surface of hygiene?.covers ?? []) {
        const covering = above[surface];
        if (!covering) continue;
        if (surface !== 'hands') expect(isWornAt(procedure, surface, id), `${id}: ${surface} worn`).toBe(true);
        for (const layer of covering) expect(isOffAt(procedure, layer, id), `${id}: ${layer} off`).toBe(true);
      }
  });

  // CDC PPE training 2014, N95 respirator and gown, doffing page 16.
  it('only alcohol hand rub is used on bare hands between the two pairs of gloves', () => {
    const between = doffing(procedure).filter(
      ({ id, hygiene }) =>
        hygiene?.covers.includes('hands') && !alwaysBefore(procedure, onStep(procedure, 'fresh-gloves')!, id),
    );
    expect(between.map((one) => one.hygiene?.agent)).toEqual(['alcohol hand rub']);
  });

  // CDC PPE training 2014, trained observer, page 18.
  it('has a doffing assistant exactly when a powered respirator or a coverall is worn', () => {
    const { respirator, garment } = procedure.ensemble;
    expect(procedure.doffingAssistant).toBe(respirator === 'powered-loose-fitting' || garment === 'coverall');
  });

  // CDC PPE training 2014, trained observer, pages 2, 3 and 16.
  it('the observer has no hands in doffing: nothing is done, touched, taken off or disinfected by the observer', () => {
    expect(doffing(procedure).filter((one) => one.by === 'observer')).toEqual([]);
  });

  // CDC PPE training 2014, trained observer, page 2: the observer supervises each step.
  it('the observer verifies every step', () => {
    expect(procedure.steps.filter((one) => one.verifiedBy !== 'observer')).toEqual([]);
  });

  // CDC PPE training 2014, trained observer, page 16: what comes off goes into the waste container; one stream, common practice.
  it('all that is thrown away goes one way, and everything that comes off goes somewhere', () => {
    const goesTo = doffing(procedure).flatMap((one) => (one.takesOff.length > 0 ? [one.goesTo] : []));
    expect(goesTo).not.toContain(undefined);
    const waste = goesTo.filter((place) => !place?.includes('decontamination'));
    expect(new Set(waste)).toEqual(new Set(['waste container']));
  });

  // From memory: WHO gives 20 to 30 s for hand rub and 40 to 60 s for a hand wash.
  it('hand rub takes at least 20 s and a hand wash at least 40 s', () => {
    for (const { id, hygiene } of procedure.steps) {
      if (hygiene?.agent === 'alcohol hand rub') expect(hygiene.contactSeconds, id).toBeGreaterThanOrEqual(20);
      if (hygiene?.agent === 'soap and water') expect(hygiene.contactSeconds, id).toBeGreaterThanOrEqual(40);
    }
  });

  // Mumma and others, Clinical Infectious Diseases 2018;66:950: hand hygiene and hood removal carry the highest risk; and
  // 2019;69 S3: hand hygiene, outer garment and boot covers, in four hospitals.
  it('marks as critical the steps that go wrong most: hygiene of hands and gloves, hood, garment, boot covers', () => {
    const { garment } = procedure.ensemble;
    const mostRisk = doffing(procedure).filter(
      ({ hygiene, takesOff }) =>
        hygiene?.covers.some((one) => one === 'hands' || /^(inner|outer|fresh)-gloves$/.test(one)) ||
        takesOff.some((one) => [garment, 'hood', 'boot-covers'].includes(one)),
    );
    expect(mostRisk.length).toBeGreaterThan(10);
    expect(mostRisk.filter((one) => !one.critical).map((one) => one.id)).toEqual([]);
  });

  // CDC PPE training 2014, trained observer, pages 10 and 18; CDC Ebola PPE questions and answers 2015 (cleaned lane).
  it('the lane is entered only with observer dressed and checked, waste, supplies, a cleaned lane and a clean chair', () => {
    const points = procedure.laneReadiness.map((one) => one.id as string);
    expect(points).toEqual(
      expect.arrayContaining(['lane-observer-dressed', 'lane-waste', 'lane-supplies', 'lane-clean', 'lane-chair']),
    );
    expect(points.includes('lane-assistant-dressed')).toBe(procedure.doffingAssistant);
  });

  // CDC PPE training 2014, N95 respirator and coverall, donning page 5.
  it('asks about drinking and the toilet before donning', () => {
    expect(procedure.readiness.map((one) => one.id)).toEqual(expect.arrayContaining(['drank', 'toilet']));
  });
});

describe('powered-coverall', () => {
  const procedure = demoProcedure('powered-coverall');
  const run = ['hose-off', 'belt-open', 'powered-unit-off', 'hood-off'] as StepId[];

  // Common practice, no source: a hood without air is taken off without a pause; the order of the run is CDC PPE training
  // 2014, powered respirator and coverall, doffing page 9.
  it('has nothing that could come between hose and hood: while the air is off, the hood is the next thing', () => {
    const others = doffing(procedure).filter((one) => !run.includes(one.id));
    for (const { id } of others) {
      const before = alwaysBefore(procedure, id, 'hose-off' as StepId);
      const after = alwaysBefore(procedure, 'hood-off' as StepId, id);
      expect(before || after, id).toBe(true);
    }
  });

  // CDC PPE training 2014, powered respirator and gown, doffing page 10; powered respirator and coverall, page 12.
  it('the assistant detaches the hose, takes the unit, and rolls hood and coverall', () => {
    const byAssistant = doffing(procedure).filter((one) => one.by === 'assistant' && one.takesOff.length > 0);
    expect(byAssistant.flatMap((one) => one.takesOff)).toEqual(['hose', 'powered-unit', 'hood', 'coverall']);
  });

  // CDC PPE training 2014, powered respirator and gown, doffing page 17.
  it('the assistant inspects with the observer at the end', () => {
    const last = doffing(procedure).at(-1);
    expect([last?.id, last?.by, last?.verifiedBy]).toEqual(['final-inspection', 'assistant', 'observer']);
  });

  // Common practice, no source.
  it('unit and hose go back for decontamination', () => {
    for (const item of ['powered-unit', 'hose'])
      expect(procedure.steps.find((one) => one.takesOff.includes(item))?.goesTo).toContain('decontamination');
  });
});
