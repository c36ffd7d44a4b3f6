import { describe, expect, it } from 'vitest';
import { choicesOf } from '../../client/safety/deed-choices.ts';
import {
  deedsFor,
  deedsOnMessage,
  isSameDeed,
  needsReason,
  reportOf,
  type Deed,
  type DeedKind,
} from '../../client/safety/deeds.ts';
import { acceptReport } from '../../machines/unit/accept.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import { reportSchemas, wireVersion, type Report } from '../../machines/wire/report.ts';
import { rights } from '../../machines/wire/rights.ts';
import {
  atThreshold,
  called,
  donned,
  dressed,
  enters,
  feverish,
  given,
  inside,
  leaving,
  minute,
  onDuty,
  readied,
  reports,
  salt,
  taken,
  trip,
  verified,
  vitals,
  type Given,
} from '../support/unit-fixture.ts';
import { alertOf, id, officer } from './safety-fixture.ts';

const screening = (values: typeof vitals) =>
  reports('o1', 'record-screening', { worker: 'w1', points: ['drank', 'toilet'], vitals: values });
const inLane = [...inside('o1', 'w1'), ...atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1')];
const doffing = ['clean-gloves', 'gown-off', 'gloves-off', 'mask-off'];
const measured = (pulsePerMin: number) =>
  reports('o1', 'record-post-check', { worker: 'w1', vitals: { ...vitals, pulsePerMin } });
const breach = reports('o1', 'declare-breach', { worker: 'w1', breachKind: 'splash' });

/** Every place a worker can be at, with something open where it matters. */
const places: Record<string, Given> = {
  ready: given(onDuty('o1')),
  'ready with a breach': given(onDuty('o1'), breach),
  'stood down': given(reports('c1', 'stand-down', { worker: 'w1', reason: 'unwell' })),
  resting: given(onDuty('o1'), trip('o1', 'w1', 'l1', 10 * minute)),
  'called too early': given(
    onDuty('o1'),
    trip('o1', 'w1', 'l1', 10 * minute),
    reports('c1', 'call-worker', { worker: 'w1', room: 'r1', procedure: 'gown', despiteRest: 'nobody else' }),
  ),
  screening: given(onDuty('o1'), called('w1')),
  'held before donning': given(onDuty('o1'), called('w1'), taken('o1', 'w1'), screening(feverish)),
  kit: given(onDuty('o1'), called('w1'), taken('o1', 'w1'), screening(vitals)),
  donning: given(onDuty('o1'), readied('o1', 'w1')),
  inspection: given(onDuty('o1'), dressed('o1', 'w1')),
  'at the door': given(onDuty('o1'), donned('o1', 'w1')),
  inside: given(onDuty('o1'), inside('o1', 'w1'), breach),
  leaving: given(onDuty('o1'), inside('o1', 'w1'), leaving('o1', 'w1')),
  threshold: given(onDuty('o1'), inside('o1', 'w1'), atThreshold('o1', 'w1')),
  'in a lane': given(onDuty('o1'), inLane, verified('o1', 'w1', 'clean-gloves'), verified('o1', 'w1', 'gown-off')),
  'with a deviation': given(
    onDuty('o1'),
    inLane,
    reports('o1', 'note-deviation', { worker: 'w1', step: 'gown-off', deviationKind: 'torn' }),
  ),
  'emergency in a lane': given(onDuty('o1'), inLane, reports('s1', 'declare-emergency', { worker: 'w1' })),
  'post-check': given(onDuty('o1'), inLane, ...doffing.map((step) => verified('o1', 'w1', step))),
  'held after doffing': given(
    onDuty('o1'),
    inLane,
    ...doffing.map((step) => verified('o1', 'w1', step)),
    measured(140),
  ),
};

const expected: Record<string, DeedKind[]> = {
  ready: ['stand-down', 'declare-breach'],
  'ready with a breach': ['clear-breach', 'stand-down', 'declare-breach'],
  'stood down': ['lift-stand-down', 'declare-breach'],
  resting: ['stand-down', 'declare-breach'],
  'called too early': ['clear-alert', 'declare-breach'],
  screening: ['declare-breach'],
  'held before donning': ['release-hold', 'declare-breach'],
  kit: ['declare-breach'],
  donning: ['declare-breach'],
  inspection: ['declare-breach'],
  'at the door': ['declare-breach', 'declare-emergency'],
  inside: ['clear-breach', 'call-out', 'declare-breach', 'declare-emergency'],
  leaving: ['override-step', 'declare-breach', 'declare-emergency'],
  threshold: ['declare-breach', 'declare-emergency'],
  'in a lane': ['override-step', 'declare-breach', 'declare-emergency'],
  'with a deviation': ['declare-breach', 'declare-emergency'],
  'emergency in a lane': ['override-step', 'declare-breach'],
  'post-check': ['declare-breach'],
  'held after doffing': ['release-hold', 'stand-down', 'declare-breach'],
};

const deedsAt = ({ world }: Given) => deedsFor(world.state, officer, id('w1'), world.now);

describe.each(Object.keys(places))('what the officer can do about somebody %s', (name) => {
  const story = places[name]!;
  const deeds = deedsAt(story);

  it('is exactly what fits', () => {
    expect(deeds.open.map((deed) => deed.kind)).toEqual(expected[name]);
  });

  it('is accepted by the server, each and every choice of it, and changes something', () => {
    for (const deed of deeds.open)
      for (const choice of choicesOf(deed, story.world.state.rules)
        .map((one) => one.id)
        .concat(noChoice(deed))) {
        const outcome = sent(story, deed, choice);
        expect('refusal' in outcome ? outcome.refusal : outcome.facts.length, `${deed.kind} ${choice}`).toBeGreaterThan(
          0,
        );
      }
  });
});

const noChoice = (deed: Deed): string[] =>
  deed.kind === 'override-step' || deed.kind === 'declare-breach' ? [] : [''];

function sent({ world }: Given, deed: Deed, choice: string) {
  const reason = needsReason(deed.kind) ? 'seen and spoken with' : '';
  const { kind, data } = reportOf(deed, { reason, ...(choice && { choice }) });
  const report = reportSchemas[kind].parse({
    v: wireVersion,
    id: 'deed-1',
    unit: world.state.unit,
    device: officer.device,
    sequence: 1,
    person: officer.person,
    observedAt: world.now,
    kind,
    data,
  }) as unknown as Report;
  return acceptReport(world.state, { report, role: 'safety-officer', receivedAt: world.now, salt });
}

describe('an override', () => {
  it('offers the steps that can be next, and says how many are left', () => {
    const [deed] = deedsAt(places['in a lane']!).open;
    expect(deed).toMatchObject({ kind: 'override-step', phase: 'doffing', outstanding: 2 });
    expect(choicesOf(deed!, places['in a lane']!.world.state.rules).map((one) => one.id)).toEqual([
      'gloves-off',
      'mask-off',
    ]);
  });

  it('says why it is not offered while a deviation is open', () => {
    expect(deedsAt(places['with a deviation']!).barred).toEqual([
      { kind: 'override-step', refusal: expect.objectContaining({ code: 'step/correct-first' }) as unknown },
    ]);
  });

  it('marks critical steps', () => {
    const story = given(onDuty('o1'), inLane, verified('o1', 'w1', 'clean-gloves'));
    const [deed] = deedsAt(story).open;
    expect(choicesOf(deed!, story.world.state.rules)).toEqual([
      { id: 'gown-off', name: 'Take off the gown.', remark: 'critical step' },
    ]);
  });
});

describe('the deeds on a message', () => {
  it('are those of its own breach, of several', () => {
    const twice = given(onDuty('o1'), inside('o1', 'w1'), breach, breach);
    const alerts = Object.values(twice.world.state.alerts);
    expect(alerts).toHaveLength(2);
    for (const { context } of alerts) {
      const shown = deedsOnMessage(deedsAt(twice), context).open;
      expect(shown.map((deed) => deed.kind)).toEqual(['clear-breach', 'call-out', 'declare-emergency']);
      const [first] = shown;
      expect(first?.kind === 'clear-breach' && `w1/${first.breach.id}`).toBe(context.subject);
    }
    const [a, b] = deedsAt(twice).open;
    expect([isSameDeed(a!, a!), isSameDeed(a!, b!)]).toEqual([true, false]);
  });

  it('start with the likeliest, and never with recording another breach', () => {
    const held = places['held after doffing']!;
    const { context } = alertOf(held.world.state, 'vitals-out-of-bounds');
    expect(deedsOnMessage(deedsAt(held), context).open.map((deed) => deed.kind)).toEqual([
      'release-hold',
      'stand-down',
    ]);
  });

  it('end an accepted short rest for good', () => {
    const tooEarly = places['called too early']!;
    const [accept] = deedsAt(tooEarly).open;
    const outcome = sent(tooEarly, accept!, '');
    expect(Object.keys((outcome as { state: UnitState }).state.alerts)).toEqual([]);
  });
});

describe('reasons', () => {
  it('are asked for wherever the wire needs one, and never before help', () => {
    expect([needsReason('declare-emergency'), needsReason('declare-breach')]).toEqual([false, false]);
    const officerOnly: DeedKind[] = ['release-hold', 'override-step', 'clear-breach', 'clear-alert', 'lift-stand-down'];
    for (const kind of officerOnly) {
      expect(rights[kind]).toEqual(['safety-officer']);
      expect(needsReason(kind)).toBe(true);
    }
  });
});
