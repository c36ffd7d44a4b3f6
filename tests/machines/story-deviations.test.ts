import { describe, expect, it } from 'vitest';
import { correctiveFor, deviationKinds } from '../../machines/procedure/corrective.ts';
import { step } from '../../machines/procedure/procedure.ts';
import { acceptReport } from '../../machines/unit/accept.ts';
import { breachIdOf, deviationIdOf } from '../../machines/unit/report-ids.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import { factData } from '../../machines/wire/fact.ts';
import { deviationId, personId, type ReportId } from '../../machines/wire/ids.ts';
import type { Report } from '../../machines/wire/report.ts';
import {
  atThreshold,
  donned,
  enters,
  given,
  inside,
  leaving,
  minute,
  onDuty,
  openedUnit,
  passes,
  play,
  readied,
  reports,
  salt,
  second,
  verified,
  workerOf,
  type Act,
  type World,
} from '../support/unit-fixture.ts';

const w1 = { worker: 'w1' };
const inLane = [...inside('o1', 'w1'), ...atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1')];
const wrong = (step: string, deviationKind = 'torn', actor = 'worker') =>
  reports('o1', 'note-deviation', { ...w1, step, deviationKind, actor });
const openDeviations = (state: UnitState) => workerOf(state, 'w1').entry!.deviations;

/** About whatever deviation is open first at that moment. */
const does =
  (index: number, tookSeconds?: number): Act =>
  (world) =>
    reports('o1', 'verify-corrective', {
      ...w1,
      deviation: openDeviations(world.state)[0]!.id,
      index,
      ...(tookSeconds !== undefined && { tookSeconds }),
    })(world);
const corrects: Act = (world) =>
  reports('o1', 'correct-deviation', { ...w1, deviation: openDeviations(world.state)[0]!.id })(world);

describe('a deviation of a kind the unit has steps for', () => {
  const torn = given(onDuty('o1'), inLane).when(wrong('gown-off'));

  it('carries in its fact what was decided: the words of the step first, then the list of the unit', () => {
    torn.then('deviation-noted', 'alert-raised');
    expect(torn.fact('deviation-noted').data).toMatchObject({
      doNow: 'Stop. Hands away from the face.',
      corrective: [
        { words: 'Stop. Hands away from the face.' },
        { words: 'Stop.' },
        { words: 'Disinfect the gloves.', contactSeconds: 20 },
        { words: 'New glove.' },
      ],
    });
  });

  it('is walked through one step at a time, and then the worker is back where they left', () => {
    const walked = torn.when(does(0), does(1), does(2, 20), does(3)).then('corrective-step-done');
    expect(walked.fact('corrective-step-done').data).toMatchObject({ index: 3 });
    expect(walked.worker('w1').place).toEqual({ doffing: 'corrective' });
    const back = walked.when(corrects).then('deviation-corrected', 'alert-cleared');
    expect(back.worker('w1').place).toEqual({ doffing: 'stepping' });
    back.when(verified('o1', 'w1', 'clean-gloves')).then('step-verified');
  });

  it('is not put right before each of its steps is done', () => {
    torn.when(corrects).thenRefused('deviation/steps-open', /"Stop. Hands away from the face." comes next/);
    torn.when(does(0), does(1), does(2, 20), corrects).thenRefused('deviation/steps-open', /"New glove." comes next/);
  });

  it('holds every step to its turn, to its contact time and to being done once', () => {
    torn.when(does(1)).thenRefused('step/out-of-order', /comes first/);
    torn.when(does(0), does(0)).thenRefused('step/done-already');
    torn.when(does(4)).thenRefused('deviation/no-such-step', /has 4 corrective steps/);
    torn.when(does(0), does(1), does(2)).thenRefused('step/contact-time-short', /20 s are needed, 0 s were given/);
    torn.when(does(0), does(1), does(2, 19.9)).thenRefused('step/contact-time-short', /19 s were given/);
    const all = torn.when(does(0), does(1), does(2, 20), does(3));
    all.when(does(3)).thenRefused('step/done-already');
  });

  it('is walked through by the observer who guides the worker, and by nobody else', () => {
    const { deviation } = torn.fact('deviation-noted').data;
    const by = (who: string) => reports(who, 'verify-corrective', { ...w1, deviation, index: 0 });
    torn.when(onDuty('o2'), by('o2')).thenRefused('observer/not-with-worker');
    torn.when(by('s1')).thenRefused('rights/not-yours');
    torn
      .when(reports('o1', 'verify-corrective', { ...w1, deviation: 'D9', index: 0 }))
      .thenRefused('deviation/unknown');
  });

  it('keeps its own progress beside that of another one', () => {
    const two = torn.when(does(0), wrong('clean-gloves', 'torn', 'assistant'), does(1), does(2, 30), does(3));
    expect(openDeviations(two.state).map((one) => [one.actor, one.corrective?.length, one.correctiveDone])).toEqual([
      ['worker', 4, 4],
      ['assistant', 3, undefined],
    ]);
    const one = two.when(corrects);
    expect(one.worker('w1').place).toEqual({ doffing: 'corrective' });
    one.when(corrects).thenRefused('deviation/steps-open');
  });

  it('never holds anybody in the room: leaving and emergency exit go on with its steps open', () => {
    const atDoor = given(onDuty('o1'), inside('o1', 'w1'), leaving('o1', 'w1'), wrong('wipe-gloves'));
    atDoor.when(verified('o1', 'w1', 'wipe-gloves'), reports('o1', 'leave-room', w1)).then('room-left');
    atDoor.when(reports('o1', 'declare-emergency', w1)).then('emergency-declared', 'lane-held', 'alert-raised');
    const along = atDoor.when(does(0), reports('o1', 'declare-emergency', w1), enters('o1', 'w1', 'l1'));
    expect(along.worker('w1').place).toEqual({ doffing: 'corrective' });
    along.when(does(1, 20)).then('corrective-step-done');
    const left = along.when(corrects);
    expect(left.outcome.facts.map(({ kind }) => kind)).toContain('deviation-corrected');
    expect(left.worker('w1').place).toEqual({ doffing: 'stepping' });
  });

  it('is walked through in donning and at the door as well, and in donning no step comes before that', () => {
    const donning = given(onDuty('o1'), readied('o1', 'w1'), wrong('gloves-on'));
    donning.when(verified('o1', 'w1', 'rub-hands')).thenRefused('step/correct-first');
    const back = donning.when(does(0), does(1, 25), does(2), corrects);
    back.then('deviation-corrected', 'alert-cleared');
    back.when(verified('o1', 'w1', 'rub-hands')).then('step-verified');
    given(onDuty('o1'), inside('o1', 'w1'), leaving('o1', 'w1'), wrong('wipe-gloves'))
      .when(does(0), does(1, 20), does(2), corrects)
      .then('deviation-corrected', 'alert-cleared');
  });
});

describe('a deviation of a kind nobody has written steps for', () => {
  it('is put right by one sentence, as before', () => {
    const touched = given(onDuty('o1'), inLane).when(wrong('gown-off', 'touched'));
    expect(touched.fact('deviation-noted').data).not.toHaveProperty('corrective');
    touched.when(does(0)).thenRefused('deviation/no-such-step');
    touched.when(corrects).then('deviation-corrected', 'alert-cleared');
  });
});

describe('which steps a deviation gets', () => {
  const unit = { torn: [{ words: 'Of the unit.' }], missed: [{ words: 'Go back.' }] };
  const own = { torn: [{ words: 'Of the step.', contactSeconds: 30 }] };

  it('the list of the step for that kind stands alone; else its sentence, then the list of the unit', () => {
    const one = { corrective: own, whenWrong: 'Stop.' };
    expect(correctiveFor(one, 'torn', unit)).toEqual(own.torn);
    expect(correctiveFor(one, 'missed', unit)).toEqual([{ words: 'Stop.' }, { words: 'Go back.' }]);
    expect(correctiveFor({}, 'missed', unit)).toEqual(unit.missed);
    expect(correctiveFor(one, 'touched', unit)).toBeUndefined();
    expect(correctiveFor({ whenWrong: 'Stop.' }, 'torn', undefined)).toBeUndefined();
  });

  it('knows every kind, and refuses a kind or a list that means nothing', () => {
    const parse = (corrective: object) => step.safeParse({ id: 's', phase: 'doffing', words: 'Do it.', corrective });
    for (const kind of deviationKinds) expect(parse({ [kind]: [{ words: 'Stop.' }] }).success).toBe(true);
    expect(parse({ spilt: [{ words: 'Stop.' }] }).success).toBe(false);
    expect(parse({ torn: [] }).success).toBe(false);
    expect(parse({ torn: [{ words: 'Rub.', contactSeconds: 0 }] }).success).toBe(false);
  });
});

describe('a tablet without network', () => {
  /** What the tablet does on its own copy: it decides by the same rules, and keeps the reports. */
  function offline(copy: World, acts: readonly Act[]): { world: World; kept: Report[] } {
    return acts.reduce<{ world: World; kept: Report[] }>(
      ({ world, kept }, act) => {
        const { world: next, report, refusal } = act(world);
        expect(refusal).toBeUndefined();
        return { world: next, kept: [...kept, report!] };
      },
      { world: copy, kept: [] },
    );
  }

  it('notes a deviation, walks through it and puts it right; on return everything is accepted', () => {
    const parted = play(openedUnit(), [...onDuty('o1', 'o2'), ...inLane]);
    const { kept } = offline(parted, [wrong('gown-off'), does(0), does(1), does(2, 22), does(3), corrects]);
    // Meanwhile the unit went on, so the numbers of the log are others.
    const elsewhere = play(parted, [...donned('o2', 'w2'), passes(3 * second)]);
    const ids = kept.flatMap((one) => ('deviation' in one.data ? [one.data.deviation] : []));
    expect(ids).toHaveLength(5);
    let state = elsewhere.state;
    for (const report of kept) {
      const answer = acceptReport(state, { report, role: 'observer', receivedAt: elsewhere.now + minute, salt });
      expect('refusal' in answer && answer.refusal).toBe(false);
      if ('state' in answer) state = answer.state;
    }
    expect(workerOf(state, 'w1').place).toEqual({ doffing: 'stepping' });
    expect(new Set(ids)).toEqual(new Set([deviationIdOf(kept[0]!.id)]));
  });

  it('signs off the same breach as the server: the id comes from the report', () => {
    const parted = play(openedUnit(), [...onDuty('o1'), ...inLane]);
    const splash = reports('o1', 'declare-breach', { ...w1, breachKind: 'splash' });
    const [report] = offline(parted, [splash]).kept;
    const moved = play(parted, [reports('c1', 'call-worker', { worker: 'w2', room: 'r1', procedure: 'gown' })]);
    const answer = acceptReport(moved.state, { report: report!, role: 'observer', receivedAt: moved.now, salt });
    if (!('state' in answer)) throw new Error('refused');
    expect(workerOf(answer.state, 'w1').machine.context.breaches.map((one) => one.id)).toEqual([
      breachIdOf(report!.id),
    ]);
  });
});

describe('ids that come from a report', () => {
  const longest = (letter: string) => letter.repeat(64) as ReportId;

  it('fit an id and, with the longest id of a worker, the subject of an alert', () => {
    const subject = factData['alert-raised'].shape.subject;
    for (const report of ['a', 'tablet-o1.17', ...['z', '9', ':'].map(longest)]) {
      const id = deviationIdOf(report as ReportId);
      expect(deviationId.parse(id)).toBe(id);
      const worker = personId.parse('w'.repeat(64));
      expect(subject.parse(`${worker}/${id}`)).toHaveLength(64 + 1 + 14);
    }
  });

  it('tell the reports of a long shift apart, and none is like an id of an older log', () => {
    const ids = Array.from({ length: 20_000 }, (_, index) => deviationIdOf(`tablet-${index % 7}.${index}` as ReportId));
    expect(new Set(ids).size).toBe(20_000);
    expect(ids.filter((id) => /^D\d{1,12}$/.test(id))).toEqual([]);
  });

  it('are the same for the same report, for ever: they are in logs', () => {
    // FNV-1a with 64 bits of "foobar" is 85944171f73967e8, from memory of its authors' test vectors.
    expect(deviationIdOf('foobar' as ReportId)).toBe(`D${0x85944171f73967e8n.toString(36).padStart(13, '0')}`);
    expect(breachIdOf('foobar' as ReportId).slice(1)).toBe(deviationIdOf('foobar' as ReportId).slice(1));
  });
});
