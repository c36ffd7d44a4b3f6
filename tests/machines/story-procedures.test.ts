import { describe, expect, it } from 'vitest';
import { adoptionLimits, adoptionProblems, proveForAdoption } from '../../machines/procedure/adoption.ts';
import { procedure as procedureSchema, type Procedure, type Step } from '../../machines/procedure/procedure.ts';
import { acceptReport } from '../../machines/unit/accept.ts';
import { foldAll } from '../../machines/unit/fold.ts';
import { procedureKey } from '../../machines/unit/state.ts';
import { fact as factSchema } from '../../machines/wire/fact.ts';
import type { ProcedureId, StepId } from '../../machines/wire/ids.ts';
import {
  called,
  doffed,
  dressed,
  given,
  gown,
  inside,
  minute,
  onDuty,
  passes,
  readied,
  reports,
  screened,
  taken,
  trip,
  unitChanges,
  workerOf,
  type Act,
} from '../support/unit-fixture.ts';
import { smallProcedure } from './prove-fixture.ts';

/** What the unit goes by: a version is adopted when its number is new, it is sound, and it is proved or somebody answers for it. */
const sound = (version: number, change: (procedure: Procedure) => Procedure = (same) => same): Procedure =>
  change({ ...smallProcedure(), id: 'gown' as ProcedureId, version });
const adopts = (procedure: Procedure, override?: string): Act =>
  reports('lead', 'adopt-procedure', { procedure, ...(override !== undefined && { override }) });

const changing = (id: string, change: (step: Step) => Step) => (procedure: Procedure) => ({
  ...procedure,
  steps: procedure.steps.map((step) => (step.id === id ? change(step) : step)),
});
const withoutStep = (id: string) => (procedure: Procedure) => ({
  ...procedure,
  steps: procedure.steps
    .filter((step) => step.id !== id)
    .map((step) => ({ ...step, after: step.after.filter((before) => before !== id) })),
});
/** The gloves come off without having been disinfected. */
const contaminating = withoutStep('rub-after-gown');
/** So many steps in any order that nobody walks them all. */
const endless = (procedure: Procedure): Procedure => {
  const [first, second, ...rest] = procedure.steps as [Step, Step, ...Step[]];
  const looks = Array.from({ length: 40 }, (_, index) => ({ ...second, id: `look-${index}` as StepId }));
  return { ...procedure, steps: [first, second, ...looks, ...rest] };
};
const gownId = 'gown' as ProcedureId;

describe('adopting a version', () => {
  it('that is proved is one fact, with the whole version and what the proof said', () => {
    const story = given()
      .when(adopts(sound(2)))
      .then('procedure-adopted');
    const { data, by } = story.fact('procedure-adopted');
    expect(data.procedure).toEqual(sound(2));
    expect(data.proof).toEqual({ verdict: 'proved', states: 33, orders: '4' });
    expect(data).not.toHaveProperty('overrideReason');
    expect(by).toMatchObject({ role: 'lead', person: 'lead' });
  });

  it('gives it to the next entry, while an open entry keeps the version it began with', () => {
    const story = given(onDuty('o1'), called('w1'), adopts(sound(2))).when(called('w2'));
    expect([workerOf(story.state, 'w1').entry?.version, workerOf(story.state, 'w2').entry?.version]).toEqual([1, 2]);
    // The first one is still read out from the version 1 that it began with.
    story.when(taken('o1', 'w1')).when(screened('o1', 'w1')).then('screening-recorded');
  });

  it('keeps an old version only as long as an open entry needs it', () => {
    const versions = (story: { state: { procedures: object } }) =>
      Object.keys(story.state.procedures).filter((key) => key.startsWith('gown@'));
    const during = given(called('w1')).when(adopts(sound(2)), adopts(sound(3)));
    expect(versions(during)).toEqual(['gown@1', 'gown@3']);
    const after = during.when(reports('c1', 'cancel-entry', { worker: 'w1', reason: 'no' }), adopts(sound(4)));
    expect(versions(after)).toEqual(['gown@4']);
  });

  it('of a procedure that is new to the unit begins with any version', () => {
    const fresh = { ...sound(7), id: 'new-one' as ProcedureId };
    const { state } = given().when(adopts(fresh)).then('procedure-adopted');
    expect(state.adopted).toEqual({ gown: 1, hood: 1, 'new-one': 7 });
  });

  it('says since when, by whom, and how', () => {
    const { state } = given(passes(minute)).when(adopts(sound(2)));
    expect(state.adoptions).toEqual({ gown: { version: 2, at: state.at, by: 'lead', how: 'proved' } });
  });

  it('replays from its facts alone', () => {
    const story = given(onDuty('o1'), called('w1')).when(adopts(sound(2)), called('w2'));
    const facts = story.outcome.world.log;
    for (const fact of facts)
      if (fact.kind === 'procedure-adopted')
        expect(
          factSchema.safeParse({ ...fact, previousHash: '0'.repeat(64), hash: '0'.repeat(64) }).error,
        ).toBeUndefined();
    expect(foldAll(undefined, facts)).toEqual(story.state);
  });
});

describe('what is not adopted, and nothing is written', () => {
  it.each(['c1', 's1', 'o1'] as const)('from anybody but the lead (%s)', (who) => {
    given()
      .when(reports(who, 'adopt-procedure', { procedure: sound(2) }))
      .thenRefused('rights/not-yours', /It is for: lead\./)
      .thenNothingKept();
  });

  it('a version that is adopted already, or a lower one: the refusal names the number to use', () => {
    for (const version of [1, 2])
      given(adopts(sound(2)))
        .when(adopts(sound(version)))
        .thenRefused('procedure/version-not-higher', new RegExp(`says version ${version}.*Give it version 3`))
        .thenNothingKept();
  });

  it('the second of two leads who adopt at the same time', () => {
    const other = sound(2, (one) => ({ ...one, title: 'Another' }));
    given(adopts(sound(2)))
      .when(adopts(other))
      .thenRefused('procedure/version-not-higher', /Give it version 3/);
  });

  const cycle = changing('look-kit', (step) => ({ ...step, after: ['rub-hands' as StepId] }));
  const twice = changing('gown-off', (step) => ({ ...step, id: 'inner-off' as StepId }));
  const long = changing('gown-off', (step) => ({ ...step, whenWrong: 'x'.repeat(500) }));
  it.each([
    ['steps that wait for each other', cycle, /wait for each other and can never start: look-kit, rub-hands/],
    ['two steps with one id', twice, /Two steps are called "inner-off"/],
    ['a piece that nobody takes off', withoutStep('gown-off'), /"gown" is put on and never taken off/],
    ['words that no alert could read out', long, /500 characters are too long/],
  ])('%s: the first problem in one sentence, with or without a reason', (_, change, sentence) => {
    for (const override of [undefined, 'we do it like this here'])
      given()
        .when(adopts(sound(2, change), override))
        .thenRefused('procedure/not-sound', sentence)
        .thenNothingKept();
  });

  it('a version that contaminates: the refusal is the sentence of the counter-example', () => {
    const proof = proveForAdoption(sound(2, contaminating));
    if (proof.verdict !== 'not-proved') throw new Error(proof.verdict);
    const refused = given().when(adopts(sound(2, contaminating)));
    refused.thenRefused('procedure/not-proved').thenNothingKept();
    expect(refused.outcome.refusal?.sentence).toContain(proof.counterExample.sentence);
  });

  it('a version with too many orders to walk', () => {
    given()
      .when(adopts(sound(2, endless)))
      .thenRefused('procedure/not-proved', /could not be proved: donning allows too many orders/);
  });
});

describe('adopting without a proof', () => {
  const reason = 'guidance of the ministry, reviewed on paper';
  it.each([
    ['not-proved', contaminating],
    ['undecided', endless],
  ] as const)('is possible with a reason, which is on record for ever (%s)', (verdict, change) => {
    const story = given()
      .when(adopts(sound(2, change), reason))
      .then('procedure-adopted');
    const { data } = story.fact('procedure-adopted');
    expect([data.proof.verdict, data.overrideReason]).toEqual([verdict, reason]);
    expect(data.proof).toHaveProperty('sentence');
    expect(story.state.adoptions).toMatchObject({ gown: { how: 'override' } });
  });

  it('a reason that was not needed is not recorded', () => {
    const { data } = given()
      .when(adopts(sound(2), reason))
      .fact('procedure-adopted');
    expect(data).not.toHaveProperty('overrideReason');
  });
});

describe('files that are taken in later', () => {
  it('forget who adopted what they now say otherwise, and keep the rest', () => {
    const story = given(adopts(sound(2)));
    const same = story.when(
      unitChanges((files) => ({ ...files, procedures: [sound(2), ...files.procedures.slice(1)] })),
    );
    expect(same.state.adoptions).toMatchObject({ gown: { version: 2 } });
    const newer = story.when(
      unitChanges((files) => ({ ...files, procedures: [sound(3), ...files.procedures.slice(1)] })),
    );
    expect([newer.state.adopted, newer.state.adoptions]).toEqual([{ gown: 3, hood: 1 }, {}]);
  });
});

describe('the proof inside the running server', () => {
  it('searches less than the command line, and the less the wider a procedure is', () => {
    const usual = adoptionLimits(smallProcedure());
    expect(usual).toEqual({ states: 3_000, moves: 20_000 });
    const wide = changing('rub-bare', (step) => ({ ...step, touches: Array.from({ length: 20_000 }, () => 'hands') }));
    expect(adoptionLimits(wide(smallProcedure())).moves).toBe(149);
  });

  it('is enough for every way to shape a procedure that the schema takes: it ends with a verdict', () => {
    const widest = procedureSchema.parse({
      ...smallProcedure(),
      steps: endless(endless(smallProcedure())).steps.map((step, index) =>
        index > 1 && index < 82 ? { ...step, id: `step-${index}` } : step,
      ),
    });
    expect(adoptionProblems(widest)).toEqual([]);
    expect(proveForAdoption(widest).verdict).toBe('undecided');
  });
});

describe('the unit learns how long its donnings take', () => {
  it('from the complete kit to the passed inspection, of entries that came to one', () => {
    const dressing = given(onDuty('o1'), readied('o1', 'w1'), passes(7 * minute));
    expect(dressing.world.state.donnings).toEqual({});
    const worn = dressing.when(
      ...dressed('o1', 'w1').slice(readied('o1', 'w1').length),
      passes(2 * minute),
      reports('o1', 'pass-inspection', { worker: 'w1' }),
    );
    expect(worn.state.donnings).toEqual({ gown: [9] });
    const cancelled = dressing.when(reports('c1', 'cancel-entry', { worker: 'w1', reason: 'no need' }));
    expect(cancelled.state.donnings).toEqual({});
    expect(workerOf(cancelled.state, 'w1')).not.toHaveProperty('donningSince');
  });
});

describe('the unit learns how long its doffings take', () => {
  const trips = (count: number, minutes: (index: number) => number): Act[] =>
    Array.from({ length: count }, (_, index): Act[] => {
      const worker = `w${(index % 3) + 1}`;
      const steps = trip('o1', worker, 'l1', 5 * minute);
      const inLane = steps.findIndex((_one, at) => at > 0 && at === steps.length - 1 - doffed('o1', worker).length);
      return [
        ...steps.slice(0, inLane),
        passes(minutes(index) * minute),
        ...steps.slice(inLane),
        passes(25 * 60 * minute),
        reports('c1', 'clear-lane', { lane: 'l1' }),
      ];
    }).flat();

  const doffingMinutes = (count: number, minutes: (index: number) => number) =>
    given(onDuty('o1'), trips(count, minutes))
      .when(...inside('o1', 'w1').slice(0, -1))
      .fact('limit-set').data.doffingMinutes;

  it('plans with the file until there are ten, and then with what nine in ten did not pass', () => {
    expect(gown.expected.doffingMinutes).toBe(10);
    expect(doffingMinutes(9, () => 14)).toBe(10);
    expect(doffingMinutes(10, (index) => (index === 3 ? 40 : index === 7 ? 16 : 12))).toBe(16);
  }, 20_000);

  it('keeps what an entry was called with, whatever is learned during it', () => {
    const { state } = given(onDuty('o1')).when(called('w1'));
    expect(workerOf(state, 'w1').entry).not.toHaveProperty('ownDoffingMinutes');
    expect(state.procedures[procedureKey(gownId, 1)]).toEqual(gown);
  });
});

it('asks the very same code on a screen and on the server', () => {
  const { world } = given();
  const act = adopts(sound(2))(world);
  const again = acceptReport(world.state, {
    report: act.report!,
    role: 'lead',
    receivedAt: world.now,
    salt: 'a-salt-for-tests-only-0',
  });
  expect(again).toMatchObject({ facts: [{ kind: 'procedure-adopted' }] });
});
