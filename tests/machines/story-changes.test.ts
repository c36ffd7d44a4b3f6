import { describe, expect, it } from 'vitest';
import { FoldError } from '../../machines/unit/fold-parts.ts';
import { fold, foldAll } from '../../machines/unit/fold.ts';
import { assistantsFree, freeLanes, lanesFor } from '../../machines/unit/questions.ts';
import type { NumberedFact } from '../../machines/wire/fact.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import {
  atThreshold,
  called,
  doffed,
  donned,
  enters,
  given,
  gown,
  hood,
  inside,
  laneOf,
  leaving,
  minute,
  onDuty,
  openedUnit,
  passes,
  readied,
  reports,
  taken,
  unitChanges,
  verified,
  type UnitOpening,
} from '../support/unit-fixture.ts';

const w1 = { worker: 'w1' };
const withoutLane = (lane: string) =>
  unitChanges((same) => ({
    ...same,
    rules: { ...same.rules, lanes: same.rules.lanes.filter((one) => one.id !== lane) },
  }));
const withoutPeople = (...ids: string[]) =>
  unitChanges((same) => ({ ...same, roster: same.roster.filter((one) => !ids.includes(one.id)) }));
const withRoles = (id: string, roles: UnitOpening['roster'][number]['roles']) =>
  unitChanges((same) => ({ ...same, roster: same.roster.map((one) => (one.id === id ? { ...one, roles } : one)) }));

describe('a lane that is gone from the settings', () => {
  it('is finished by whoever is in it, and takes nobody after', () => {
    const inLane = given(onDuty('o1', 'o2'), inside('o1', 'w1'), atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1'));
    const gone = inLane.when(withoutLane('l1'), doffed('o1', 'w1')).then('step-verified', 'lane-left');
    expect(laneOf(gone.state, 'l1').value).toBe('turnover');
    const free = gone.when(reports('c1', 'clear-lane', { lane: 'l1' })).then('lane-cleared');
    expect(freeLanes(free.state)).toEqual(['l2']);
    const next = free.when(inside('o2', 'w2', 'gown', 'r2'), atThreshold('o2', 'w2'));
    expect(lanesFor(next.state, 'w2' as PersonId)).toEqual(['l2']);
    next.when(enters('o2', 'w2', 'l1')).thenRefused('lane/not-free', /Lane "l2" may be entered/);
    next.when(reports('c1', 'hold-lane', { worker: 'w2', lane: 'l1' })).thenRefused('lane/unknown');
    next
      .when(reports('o2', 'declare-emergency', { worker: 'w2' }), enters('o2', 'w2', 'l1'))
      .thenRefused('lane/not-free');
  });

  it('may still be entered by whoever holds it', () => {
    given(
      onDuty('o1'),
      inside('o1', 'w1'),
      reports('c1', 'hold-lane', { lane: 'l1', ...w1 }),
      withoutLane('l1'),
      atThreshold('o1', 'w1'),
    )
      .when(enters('o1', 'w1', 'l1'))
      .then('lane-entered');
  });

  it('counts for a clash at once', () => {
    const both = [
      ...inside('o1', 'w1'),
      ...inside('o2', 'w2', 'gown', 'r2'),
      ...leaving('o1', 'w1'),
      ...leaving('o2', 'w2'),
    ];
    const then = given(onDuty('o1', 'o2'), both).when(withoutLane('l2')).then('unit-changed', 'alert-raised');
    expect(then.alerts()).toEqual(['lane-clash:lanes medium coordinator']);
  });
});

describe('a person who is gone from the roster', () => {
  it('in an entry is brought out like everybody else', () => {
    const out = given(onDuty('o1'), inside('o1', 'w1'), withoutPeople('w1')).when(
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
      doffed('o1', 'w1'),
    );
    out.then('step-verified', 'lane-left');
  });

  it('is not called again', () => {
    given(withoutPeople('w1')).when(called('w1')).thenRefused('worker/unknown');
    given(withRoles('both', ['observer']))
      .when(called('both'))
      .thenRefused('worker/not-a-worker');
  });

  it('while guiding sends nothing more, and another observer takes over', () => {
    const gone = given(onDuty('o1', 'o2'), readied('o1', 'w1'), withoutPeople('o1'));
    gone.when(verified('o1', 'w1', 'rub-hands')).thenRefused('session/unknown-person');
    gone.when(taken('o2', 'w1'), verified('o2', 'w1', 'rub-hands')).then('step-verified');
  });

  it('and comes back is where they were', () => {
    const back = given(onDuty('o1'), inside('o1', 'w1'), withoutPeople('w1')).when(unitChanges((same) => same));
    expect(back.worker('w1').place).toEqual({ inside: 'working' });
  });
});

describe('a procedure that changes', () => {
  const second = { ...gown, version: 2, steps: gown.steps.filter((step) => step.id !== 'mask-off') };
  const changed = unitChanges((same) => ({ ...same, procedures: [second, hood] }));

  it('does not change an entry that is under way; the next one follows the new version', () => {
    const story = given(onDuty('o1', 'o2'), readied('o1', 'w1'), changed);
    const called2 = story.when(called('w2'));
    expect(called2.worker('w1').entry).toMatchObject({ version: 1, outstanding: { doffing: { length: 4 } } });
    expect(called2.worker('w2').entry).toMatchObject({ version: 2, outstanding: { doffing: { length: 3 } } });
    const dressed = ['rub-hands', 'gloves-on', 'gown-on'].map((step) => verified('o1', 'w1', step));
    story.when(dressed, reports('o1', 'pass-inspection', w1)).then('inspection-passed', 'limit-set');
  });

  it('that is gone is finished by who is in it, and nobody is called for it', () => {
    const gone = given(
      onDuty('o1', 'o3'),
      inside('o1', 'w1', 'hood'),
      unitChanges((same) => ({ ...same, procedures: [gown] })),
    );
    gone.when(called('w2', 'hood')).thenRefused('procedure/unknown');
    gone
      .when(atThreshold('o1', 'w1', 'hood'), enters('o1', 'w1', 'l1', 'hood', 'o3'), doffed('o1', 'w1', 'hood'))
      .then('step-verified', 'lane-left');
  });

  it('new limits count for the next entry: what was decided stays decided', () => {
    const stricter = { ...gown, version: 2, limit: { ...gown.limit, minutes: 30 } };
    const story = given(
      onDuty('o1'),
      donned('o1', 'w1'),
      unitChanges((same) => ({ ...same, procedures: [stricter, hood] })),
    );
    expect(story.when(passes(31 * minute)).alerts()).toEqual([]);
  });
});

describe('assistants', () => {
  it('free to help: has the role, rests, guides nobody, assists nobody', () => {
    const free = (...acts: Parameters<typeof given>) => assistantsFree(given(...acts).world.state);
    expect(free()).toEqual(['o3', 'both']);
    expect(free(called('both'))).toEqual(['o3']);
    expect(free(onDuty('o3'), called('w1'), taken('o3', 'w1'))).toEqual(['both']);
    expect(
      free(
        onDuty('o1'),
        inside('o1', 'w1', 'hood'),
        atThreshold('o1', 'w1', 'hood'),
        enters('o1', 'w1', 'l1', 'hood', 'o3'),
      ),
    ).toEqual(['both']);
  });
});

describe('a log that does not fit', () => {
  const opened = openedUnit();
  const next = (change: Partial<NumberedFact>): NumberedFact =>
    ({
      v: 1,
      number: 2,
      unit: 'small',
      at: opened.now,
      receivedAt: opened.now,
      by: { watch: true },
      kind: 'lane-cleared',
      data: { lane: 'l1' },
      ...change,
    }) as NumberedFact;

  it.each([
    ['another unit', next({ unit: 'other' as NumberedFact['unit'] }), /it belongs to unit other/],
    ['a gap in the numbers', next({ number: 3 }), /the fact before it is number 1/],
    ['a lane that is not in turnover', next({}), /lane l1 is "free"/],
    [
      'a worker nobody knows',
      next({ kind: 'rest-ended', data: { worker: 'nobody' } } as never),
      /nobody called nobody/,
    ],
    ['a worker who is elsewhere', next({ kind: 'rest-ended', data: { worker: 'w1' } } as never), /worker w1 is in/],
    [
      'an observer for nobody',
      next({ kind: 'observer-assigned', data: { worker: 'nobody', entry: 'E', observer: 'o1' } } as never),
      /nobody called nobody/,
    ],
    [
      'nobody taken by an observer',
      next({
        kind: 'worker-taken',
        data: { worker: 'nobody', entry: 'E', observer: 'o1', guiding: 'donning' },
      } as never),
      /nobody called nobody/,
    ],
    ['an observer off duty', next({ kind: 'duty-ended', data: { observer: 'o1' } } as never), /observer o1 is in/],
    [
      'an alert that is not open',
      next({ kind: 'alert-cleared', data: { alert: 'A1', reason: 'r' } } as never),
      /"not open"/,
    ],
    [
      'a procedure that is not in the log',
      next({
        kind: 'worker-called',
        data: { worker: 'w1', entry: 'E', room: 'r1', procedure: 'gown', version: 9 },
      } as never),
      /gown version 9 is not in the log/,
    ],
  ])('throws, with the number and the reason: %s', (_, fact, why) => {
    expect(() => fold(opened.state, fact)).toThrow(FoldError);
    expect(() => fold(opened.state, fact)).toThrow(why);
  });

  it('starts with the opening of the unit', () => {
    expect(() => fold(undefined, next({ number: 1 }))).toThrow(/a log starts with unit-opened/);
    expect(foldAll(undefined, [])).toBeUndefined();
  });

  it('replays what was decided under older rules, whatever the rules are now', () => {
    const tight = unitChanges((same) => ({
      ...same,
      rules: { ...same.rules, perDay: { ...same.rules.perDay, entries: 1 } },
    }));
    const { log, state } = given(onDuty('o1'), inside('o1', 'w1'), tight, called('w2')).world;
    expect(foldAll(undefined, log)).toEqual(state);
  });
});
