import { describe, expect, it } from 'vitest';
import { acceptReport } from '../../machines/unit/accept.ts';
import type { DeviceId } from '../../machines/wire/ids.ts';
import { refusalCodes } from '../../machines/wire/refusal.ts';
import { reportKinds, reportSchemas, wireVersion, type Report, type ReportKind } from '../../machines/wire/report.ts';
import { maySend, rights, roles } from '../../machines/wire/rights.ts';
import {
  called,
  feverish,
  given,
  gown,
  inside,
  minute,
  onDuty,
  openedAt,
  openedUnit,
  passes,
  readied,
  reports,
  salt,
  second,
  taken,
  unwatched,
  verified,
  vitals,
  type Then,
} from '../support/unit-fixture.ts';

const w1 = { worker: 'w1' };
const step = { ...w1, step: 'rub-hands', tookSeconds: 60 };

describe('when a report counts from', () => {
  const ready = given(onDuty('o1'), readied('o1', 'w1'), passes(10 * minute));

  it('from when it was seen, kept beside what was claimed and how far off the clock was', () => {
    const then = ready.when(reports('o1', 'verify-step', step, { agoMs: 30 * second, clockErrorMs: 120, basedOn: 8 }));
    const fact = then.fact('step-verified');
    expect([fact.at, fact.receivedAt]).toEqual([openedAt + 9.5 * minute, openedAt + 10 * minute]);
    expect(fact.report).toMatchObject({ clockErrorMs: 120, basedOn: 8 });
    expect(fact.claimedAt).toBeUndefined();
  });

  it('never from before what is on record about the worker', () => {
    const then = ready.when(
      reports('o1', 'verify-step', step),
      passes(second),
      reports('o1', 'verify-step', { ...w1, step: 'gloves-on' }, { agoMs: 20 * second }),
    );
    const fact = then.fact('step-verified');
    expect([fact.at, fact.claimedAt]).toEqual([openedAt + 10 * minute, openedAt + 10 * minute - 19 * second]);
  });

  it('being let go, and a lane being held, are on record about the worker too', () => {
    const let_go = ready.when(
      reports('o1', 'release-worker', w1),
      passes(5 * second),
      reports('o1', 'take-worker', w1, { agoMs: minute }),
    );
    expect(let_go.fact('worker-taken').at).toBe(openedAt + 10 * minute);
    const held = given(
      onDuty('o1'),
      inside('o1', 'w1'),
      passes(minute),
      reports('c1', 'hold-lane', { lane: 'l1', ...w1 }),
    );
    const out = held.when(passes(second), reports('c1', 'call-out', w1, { agoMs: 30 * second }));
    expect(out.fact('called-out').at).toBe(openedAt + minute);
    const freed = held.when(
      reports('c1', 'call-out', w1, { agoMs: -2 * second }),
      passes(second),
      reports('c1', 'release-lane-hold', { lane: 'l1' }, { agoMs: 50 * second }),
    );
    expect(freed.fact('lane-hold-released').at).toBe(openedAt + minute);
  });

  it('never from after its receipt: a clock a little ahead is pulled back', () => {
    const fact = ready.when(reports('o1', 'verify-step', step, { agoMs: -4 * second })).fact('step-verified');
    expect([fact.at, fact.claimedAt]).toEqual([openedAt + 10 * minute, openedAt + 10 * minute + 4 * second]);
  });
});

describe('promise 2: late and contradictory reports are kept and shown, never dropped and never rewriting what was decided', () => {
  const ready = given(onDuty('o1', 'o2'), readied('o1', 'w1'), passes(10 * minute));

  it('late and fitting: accepted, said to be late, and listed for review', () => {
    const then = ready.when(reports('o1', 'verify-step', step, { agoMs: 5 * minute })).then('step-verified');
    expect(then.outcome.notice?.code).toBe('report/late');
    expect(then.outcome.notice?.sentence).toMatch(/Accepted 5 min after it was seen/);
    expect(then.fact('step-verified').report?.late).toBe(true);
    expect(then.state.reviews).toEqual([
      {
        number: then.fact('step-verified').number,
        at: openedAt + 5 * minute,
        receivedAt: openedAt + 10 * minute,
        worker: 'w1',
        report: then.outcome.report?.id,
        code: 'report/late',
        sentence: '"step-verified" arrived 5 min after it was seen to happen.',
      },
    ]);
  });

  it('is late from the time on that the unit says, and one report is listed once', () => {
    expect(ready.when(reports('o1', 'verify-step', step, { agoMs: 60 * second })).state.reviews).toEqual([]);
    const pass = given(
      onDuty('o1'),
      readied('o1', 'w1'),
      ['rub-hands', 'gloves-on', 'gown-on'].map((one) => verified('o1', 'w1', one)),
      unwatched(2 * minute),
    ).when(reports('o1', 'pass-inspection', w1, { agoMs: 61 * second }));
    pass.then('inspection-passed', 'limit-set');
    expect(pass.state.reviews).toHaveLength(1);
  });

  it('late and contradicting the record: refused, kept as it came, and the record stays as it is', () => {
    const then = ready.when(reports('o2', 'verify-step', step, { agoMs: 5 * minute }));
    then.thenKept('observer/not-with-worker');
    expect(then.worker('w1').machine).toEqual(
      ready.world.state.workers['w1' as keyof typeof ready.world.state.workers]!.machine,
    );
    const fact = then.fact('report-kept');
    expect(JSON.parse(fact.data.message)).toEqual(then.outcome.report);
    expect(then.state.reviews).toMatchObject([{ number: fact.number, code: 'observer/not-with-worker', worker: 'w1' }]);
  });

  it('late and refused for any other reason of the matter: kept as well', () => {
    const hooded = given(onDuty('o1'), inside('o1', 'w1', 'hood'), reports('c1', 'call-out', w1), taken('o1', 'w1'));
    const out = hooded.when(reports('o1', 'leave-room', w1), unwatched(10 * minute));
    out
      .when(reports('o1', 'enter-lane', { ...w1, lane: 'l1', confirmed: ['lane-clean'] }, { agoMs: 5 * minute }))
      .thenKept('assistant/needed');
    ready
      .when(reports('c1', 'call-worker', { worker: 'w-old-fit', room: 'r1', procedure: 'gown' }, { agoMs: 5 * minute }))
      .thenKept('qualification/fit-test');
  });

  it('late and about no worker: kept all the same', () => {
    const then = ready
      .when(reports('c1', 'reopen-lane', { lane: 'l1' }, { agoMs: 5 * minute }))
      .thenKept('lane/not-free');
    expect(then.fact('report-kept').data).not.toHaveProperty('worker');
    expect(then.state.reviews[0]).not.toHaveProperty('worker');
  });

  it('late about an alert or a review that is over: nothing is lost, and nothing kept', () => {
    ready
      .when(reports('s1', 'acknowledge-alert', { alert: 'A1' }, { agoMs: 5 * minute }))
      .thenRefused('alert/unknown')
      .thenNothingKept();
    ready
      .when(reports('s1', 'close-review', { review: 1, reason: 'read' }, { agoMs: 5 * minute }))
      .thenRefused('review/unknown')
      .thenNothingKept();
  });

  it('at once and refused: a press that came too soon is answered and forgotten', () => {
    ready
      .when(verified('o1', 'w1', 'gown-on'))
      .thenRefused('step/out-of-order')
      .thenNothingKept();
  });

  it('made on an older picture of the worker: refused and kept', () => {
    const basedOn = ready.world.state.workers['w1' as keyof typeof ready.world.state.workers]!.version;
    const done = ready.when(verified('o1', 'w1', 'rub-hands'));
    done.when(reports('o1', 'verify-step', step, { basedOn })).thenKept('step/done-already');
    done
      .when(reports('o1', 'verify-step', step, { basedOn: basedOn + 1 }))
      .thenRefused('step/done-already')
      .thenNothingKept();
  });

  it('from a time to come: refused, and kept, because something did happen', () => {
    const then = ready.when(reports('o1', 'verify-step', step, { agoMs: -5001 }));
    then.thenKept('report/from-the-future');
    expect(then.outcome.refusal?.sentence).toMatch(/6 s from now. Set this device's clock/);
    ready.when(reports('o1', 'verify-step', step, { agoMs: -5000 })).then('step-verified');
  });

  it('from a screen that has seen more than the log has: refused, and kept, because the log has lost something', () => {
    const basedOn = ready.world.state.number + 1;
    ready.when(reports('o1', 'verify-step', step, { basedOn })).thenKept('report/ahead-of-log');
    ready.when(reports('o1', 'verify-step', step, { basedOn: basedOn - 1 })).then('step-verified');
  });

  it('from somebody who is not on the roster: refused and not kept', () => {
    ready
      .when(reports('nobody', 'verify-step', step, { agoMs: 5 * minute }))
      .thenRefused('session/unknown-person')
      .thenNothingKept();
  });

  it('vital signs of a refused report are not kept in the open', () => {
    const then = ready.when(
      reports('o2', 'record-screening', { ...w1, points: [], vitals: feverish }, { agoMs: 5 * minute }),
    );
    then.thenKept('observer/not-with-worker');
    expect(then.fact('report-kept').data.message).not.toMatch(/vitals|38\.875|123\.25/);
  });

  it('a review is closed by the safety officer, once', () => {
    const kept = ready.when(reports('o2', 'verify-step', step, { agoMs: 5 * minute }));
    const { number } = kept.fact('report-kept');
    const close = (who: string, review = number) => reports(who, 'close-review', { review, reason: 'spoke with both' });
    kept.when(close('o1')).thenRefused('rights/not-yours');
    kept.when(close('s1', 4711)).thenRefused('review/unknown');
    const closed = kept.when(close('s1')).then('review-closed');
    expect(closed.state.reviews).toEqual([]);
    closed.when(close('s1')).thenRefused('review/unknown');
  });
});

describe('what is remembered of a device', () => {
  it('is the highest number of its reports, whatever they were about and in whatever order they came', () => {
    const sequence = (then: Then) => then.state.devices['tablet-o1' as DeviceId]?.context.sequence;
    const joined = given(onDuty('o1'), called('w1')).when(taken('o1', 'w1'));
    expect(sequence(joined)).toBe(joined.outcome.report?.sequence);
    const kept = joined.when(unwatched(10 * minute), reports('o1', 'verify-step', step, { agoMs: 5 * minute }));
    kept.thenKept('worker/elsewhere');
    expect(sequence(kept)).toBe(kept.outcome.report?.sequence);
  });
});

describe('promise 6: every report is answered', () => {
  it('every kind may be sent by the roles the table names, and by nobody else', () => {
    const who = { coordinator: 'c1', observer: 'o1', 'safety-officer': 's1', lead: 'lead', wall: 'c1' } as const;
    let refused = 0;
    for (const kind of reportKinds)
      for (const role of roles) {
        const { outcome } = given().when((world) => {
          const report = { ...blank(kind), person: who[role] } as Report;
          const answer = acceptReport(world.state, { report, role, receivedAt: world.now, salt });
          return { before: world, world, facts: [], ...('refusal' in answer && { refusal: answer.refusal }) };
        });
        if (!maySend(role, kind)) refused += 1;
        expect([kind, role, outcome.refusal?.code === 'rights/not-yours']).toEqual([
          kind,
          role,
          !rights[kind].includes(role),
        ]);
      }
    expect(refused).toBeGreaterThan(60);
  });

  it('a refusal for want of rights says whose it is', () => {
    given()
      .when(reports('o1', 'release-hold', { ...w1, reason: 'r' }))
      .thenRefused('rights/not-yours', /It is for: safety-officer\./);
  });

  it('every refusal code is spelled once', () => {
    expect(new Set(refusalCodes).size).toBe(refusalCodes.length);
  });

  it('a call with everything wrong is refused with one reason, and nothing is written', () => {
    given(called('w1'))
      .when(called('w1'))
      .thenRefused('worker/elsewhere', /at the pre-check/)
      .thenNothingKept();
    given()
      .when(reports('c1', 'call-out', w1))
      .thenRefused('worker/elsewhere', /no open entry/)
      .thenNothingKept();
    given(onDuty('o1'))
      .when(reports('o1', 'record-post-check', { ...w1, vitals }))
      .thenRefused('worker/elsewhere');
  });
});

/** A well-formed report of every kind about things that mostly are not there. */
function blank(kind: ReportKind): Report {
  const data: Record<string, unknown> = {
    ...w1,
    room: 'r1',
    procedure: 'gown',
    observer: 'o1',
    reason: 'r',
    points: [],
    vitals: {},
    item: 'i',
    step: 's',
    steps: ['s'],
    deviationKind: 'torn',
    deviation: 'd',
    index: 0,
    lane: 'l1',
    confirmed: [],
    breachKind: 'splash',
    breach: 'b',
    alert: 'a',
    review: 1,
    climate: { airTemperatureC: 25, relativeHumidityPct: 40 },
    work: 'heavy',
    rotation: { startAt: 1, endAt: 2, trips: [], breaks: [] },
  };
  const envelope = {
    v: wireVersion,
    id: 'x',
    unit: 'small',
    device: 'd',
    sequence: 1,
    person: 'o1',
    observedAt: openedAt,
  };
  const shape = reportSchemas[kind].shape.data.shape as Record<string, unknown>;
  const own = Object.fromEntries(Object.keys(shape).flatMap((key) => (key in data ? [[key, data[key]]] : [])));
  if (kind === 'adopt-procedure') own['procedure'] = gown;
  return reportSchemas[kind].parse({ ...envelope, kind, data: own }) as unknown as Report;
}

describe('the first fact', () => {
  it('opens the unit, and the state says so', () => {
    const { state } = openedUnit();
    expect([state.number, Object.keys(state.workers).length, Object.keys(state.lanes)]).toEqual([1, 6, ['l1', 'l2']]);
  });
});
