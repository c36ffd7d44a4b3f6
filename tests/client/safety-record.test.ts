import { describe, expect, it } from 'vitest';
import { nothingRemembered, onlyOpen, remember } from '../../client/state/remembered.ts';
import { claimOf, reviewWords, whyOf } from '../../client/safety/claim.ts';
import { holdOf } from '../../client/safety/measured-values.ts';
import { quietOf } from '../../client/safety/quiet.ts';
import { hasSayer, raisedBy, saidAbout } from '../../client/safety/said.ts';
import { fold } from '../../machines/unit/fold.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { Fact, NumberedFact } from '../../machines/wire/fact.ts';
import {
  atThreshold,
  called,
  enters,
  fallsSilent,
  feverish,
  given,
  inside,
  minute,
  onDuty,
  passes,
  reports,
  screened,
  taken,
  trip,
  verified,
  vitals,
  type World,
} from '../support/unit-fixture.ts';
import { alertOf, id } from './safety-fixture.ts';

const screening = (values: typeof vitals, points = ['drank', 'toilet']) =>
  reports('o1', 'record-screening', { worker: 'w1', points, vitals: values });
const held = [called('w1'), taken('o1', 'w1'), screening(feverish)];
const inLane = [...inside('o1', 'w1'), ...atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1')];
const doffed = ['clean-gloves', 'gown-off', 'gloves-off', 'mask-off'].map((step) => verified('o1', 'w1', step));

/** What a page remembers that has folded the whole log from its start. */
function rememberedOf({ log }: World) {
  let state: UnitState | undefined;
  let remembered = nothingRemembered;
  for (const fact of log) {
    state = fold(state, fact);
    remembered = remember(remembered, fact as Fact, state);
  }
  return remembered;
}
const openPart = (facts: readonly NumberedFact[]) =>
  facts.map(({ confidential: _withheld, ...open }) => open as NumberedFact);

describe('what a page remembers of confidential values', () => {
  it('is the last measurement of somebody whose entry is open', () => {
    const { world } = given(onDuty('o1'), held, passes(minute), screening({ ...feverish, pulsePerMin: 120 }));
    expect(rememberedOf(world)).toEqual({
      w1: expect.objectContaining({
        check: 'pre-check',
        by: 'o1',
        at: world.now,
        vitals: { ...feverish, pulsePerMin: 120 },
        findings: [expect.stringContaining('temperature'), expect.stringContaining('pulse')],
      }) as unknown,
    });
  });

  it('is gone when the entry is over', () => {
    const cancelled = given(onDuty('o1'), held, reports('c1', 'cancel-entry', { worker: 'w1', reason: 'not fit' }));
    expect(rememberedOf(cancelled.world)).toEqual({});
    expect(rememberedOf(given(onDuty('o1'), trip('o1', 'w1', 'l1', minute)).world)).toEqual({});
  });

  it('is gone when a state comes in which the entry is over', () => {
    const before = given(onDuty('o1'), held);
    const { state } = before.when(reports('c1', 'cancel-entry', { worker: 'w1', reason: 'not fit' }));
    const remembered = rememberedOf(before.world);
    expect(onlyOpen(remembered, before.world.state)).toBe(remembered);
    expect(onlyOpen(remembered, state)).toEqual({});
  });

  it('is nothing on a screen that gets only the open part', () => {
    const { world } = given(onDuty('o1'), held);
    expect(rememberedOf({ ...world, log: openPart(world.log) })).toEqual({});
  });
});

describe('a hold', () => {
  it('shows each sign beside the unit’s bounds', () => {
    const hot = screening({ temperatureC: 38.9, pulsePerMin: 60 });
    const { world } = given(onDuty('o1'), called('w1'), taken('o1', 'w1'), hot);
    const hold = holdOf(world.state, id('w1'), rememberedOf(world));
    expect(hold).toMatchObject({ check: 'pre-check', because: 'vitals-out-of-bounds' });
    expect(hold?.signs).toEqual([
      { name: 'temperatureC', value: 38.9, low: undefined, high: 37.5, verdict: 'above' },
      { name: 'pulsePerMin', value: 60, low: 45, high: 100, verdict: 'within' },
    ]);
  });

  it('says so when the values are not on this device', () => {
    const { world } = given(onDuty('o1'), held);
    const hold = holdOf(world.state, id('w1'), nothingRemembered);
    expect(hold).toMatchObject({ check: 'pre-check', measured: undefined, signs: [] });
  });

  it('after doffing never shows what was measured before donning', () => {
    const story = given(onDuty('o1'), inLane, doffed);
    const before = rememberedOf(story.world);
    expect(before[id('w1')]?.check).toBe('pre-check');
    const { state, outcome } = story.when(
      reports('o1', 'record-post-check', { worker: 'w1', vitals: { ...vitals, pulsePerMin: 140 } }),
    );
    expect(holdOf(state, id('w1'), before)).toMatchObject({ check: 'post-check', measured: undefined });
    expect(holdOf(state, id('w1'), rememberedOf(outcome.world))?.signs).toEqual([
      { name: 'pulsePerMin', value: 140, low: undefined, high: 110, verdict: 'above' },
    ]);
  });

  it('tells apart who is not ready from whose signs are out of bounds, and who is not held', () => {
    const notReady = given(onDuty('o1'), called('w1'), taken('o1', 'w1'), screening(vitals, ['drank']));
    expect(holdOf(notReady.world.state, id('w1'), nothingRemembered)?.because).toBe('not-ready');
    const passed = given(onDuty('o1'), called('w1'), taken('o1', 'w1'), screened('o1', 'w1'));
    expect(holdOf(passed.world.state, id('w1'), nothingRemembered)).toBeUndefined();
  });
});

describe('what was said about an alert', () => {
  const said = ({ state, log }: World, kind: Parameters<typeof alertOf>[1]) =>
    saidAbout(alertOf(state, kind).context, openPart(log) as Fact[]);

  it('is the note of the breach it is about, and not of another', () => {
    const declares = (note: string) => reports('o1', 'declare-breach', { worker: 'w1', breachKind: 'splash', note });
    const { world } = given(onDuty('o1'), inside('o1', 'w1'), declares('left eye'), declares('right eye'));
    const notes = Object.values(world.state.alerts).map(
      ({ context }) => saidAbout(context, openPart(world.log) as Fact[])?.words,
    );
    expect(notes).toEqual(['left eye', 'right eye']);
  });

  it('is the reason of a short rest', () => {
    const early = reports('c1', 'call-worker', { worker: 'w1', room: 'r1', procedure: 'gown', despiteRest: 'relief' });
    const { world } = given(onDuty('o1'), trip('o1', 'w1', 'l1', 10 * minute), early);
    expect(said(world, 'rest-too-short')).toEqual({ by: 'c1', at: world.now, words: 'relief' });
  });

  it('is the reason of an emergency, and nothing when none was given', () => {
    const exit = (more: object) => reports('o1', 'declare-emergency', { worker: 'w1', ...more });
    const fainted = given(onDuty('o1'), inside('o1', 'w1'), exit({ reason: 'fainted' }));
    expect(said(fainted.world, 'emergency-exit')?.words).toBe('fainted');
    const silent = given(onDuty('o1'), inside('o1', 'w1'), exit({}));
    expect(said(silent.world, 'emergency-exit')).toMatchObject({ by: 'o1', words: undefined });
  });

  it('is never a vital value', () => {
    const { world } = given(onDuty('o1'), held);
    expect(said(world, 'vitals-out-of-bounds')).toEqual({ by: 'o1', at: world.now, words: undefined });
  });

  it('is nothing for what a deadline raised', () => {
    const { world } = given(onDuty('o1'), inside('o1', 'w1'), passes(45 * minute));
    expect(said(world, 'call-out')).toBeUndefined();
    expect(hasSayer('call-out')).toBe(false);
  });

  it('is found from the number in the alert’s id', () => {
    const { world } = given(onDuty('o1'), inside('o1', 'w1'), passes(45 * minute));
    const { context } = alertOf(world.state, 'call-out');
    expect(world.log.find((fact) => fact.number === raisedBy(context))?.kind).toBe('alert-raised');
  });
});

describe('a review', () => {
  it('of a refused report says what was claimed, when and why', () => {
    const { state, outcome } = given(onDuty('o1', 'o2'), inside('o1', 'w1')).when(
      reports('o2', 'take-worker', { worker: 'w1' }, { agoMs: 5 * minute }),
    );
    const [review] = state.reviews;
    const fact = outcome.facts.at(-1) as Fact;
    expect(review?.number).toBe(fact.number);
    expect(whyOf(review!)).toBe('contradiction');
    expect(reviewWords(review!)).toContain(review!.sentence);
    expect(claimOf(fact)).toMatchObject({
      what: 'take worker',
      person: 'o2',
      claimedAt: outcome.world.now - 5 * minute,
      receivedAt: outcome.world.now,
      countedAt: undefined,
    });
  });

  it('of a late report that counts says from when it counts', () => {
    const { state, outcome } = given(onDuty('o1'), inside('o1', 'w1'), passes(10 * minute)).when(
      reports('o1', 'declare-breach', { worker: 'w1', breachKind: 'splash' }, { agoMs: 3 * minute }),
    );
    const [review] = state.reviews;
    const fact = outcome.world.log.find((one) => one.number === review?.number) as Fact;
    expect(whyOf(review!)).toBe('late');
    const claim = claimOf(fact);
    expect(claim).toMatchObject({ what: 'breach declared', claimedAt: outcome.world.now - 3 * minute });
    expect(claim.countedAt).toBe(claim.claimedAt);
    expect(claim.details).toContainEqual({ name: 'breachKind', value: 'splash' });
  });

  it('of a report from the future says so', () => {
    const { state } = given(onDuty('o1'), inside('o1', 'w1')).when(
      reports('o1', 'call-out', { worker: 'w1' }, { agoMs: -90_000 }),
    );
    expect(state.reviews.map(whyOf)).toEqual(['from-the-future']);
  });
});

describe('all quiet', () => {
  it('is counted, with who has to be called out next', () => {
    const { world } = given(onDuty('o1', 'o2'), inside('o1', 'w1'), passes(minute), inside('o2', 'w2'));
    expect(quietOf(world.state, world.now)).toEqual({
      inPpe: 2,
      overLimit: 0,
      nextCallOut: { person: 'w1', at: world.now - minute + 45 * minute },
      doffing: 0,
      watched: 0,
      onDuty: 2,
      silent: 0,
      held: 0,
    });
  });

  it('counts what is not quiet too', () => {
    const { world } = given(onDuty('o1', 'o2'), inLane, fallsSilent('o1'), passes(70 * minute));
    expect(quietOf(world.state, world.now)).toMatchObject({
      inPpe: 1,
      overLimit: 1,
      doffing: 1,
      watched: 0,
      silent: 1,
    });
    expect(quietOf(world.state, world.now).nextCallOut).toBeUndefined();
    const waiting = given(onDuty('o1'), held);
    expect(quietOf(waiting.world.state, waiting.world.now).held).toBe(1);
  });
});
