import { describe, expect, it } from 'vitest';
import {
  atThreshold,
  called,
  donned,
  dressed,
  doffed,
  enters,
  feverish,
  given,
  inside,
  laneOf,
  minute,
  observerOf,
  onDuty,
  openedAt,
  passes,
  readied,
  reports,
  screened,
  second,
  taken,
  trip,
  verified,
  vitals,
} from '../support/unit-fixture.ts';

const w1 = { worker: 'w1' };

describe('a whole entry', () => {
  it('leads from the call to the rest, and every step is a fact', () => {
    const story = given(onDuty('o1'));
    const kinds = story
      .when(trip('o1', 'w1', 'l1', 20 * minute), passes(0))
      .outcome.world.log.map((fact) => fact.kind)
      .slice(story.world.log.length);
    expect(kinds).toEqual([
      'worker-called',
      'worker-taken',
      'screening-recorded',
      ...['kit-item-confirmed', 'kit-item-confirmed'],
      ...['step-verified', 'step-verified', 'step-verified'],
      ...['inspection-passed', 'limit-set'],
      ...['room-entered', 'worker-released'],
      'called-out',
      'worker-taken',
      'step-verified',
      'room-left',
      'lane-entered',
      ...['step-verified', 'step-verified', 'step-verified', 'step-verified', 'lane-left'],
      ...['worker-released', 'post-check-recorded'],
    ]);
  });

  it('leaves everybody where they should be: the worker resting, the observer free, the lane in turnover', () => {
    const then = given(onDuty('o1')).when(trip('o1', 'w1', 'l1', 20 * minute));
    expect(then.worker('w1').place).toEqual({ rest: 'recovering' });
    expect(then.worker('w1').machine.context.worn).toEqual([{ from: openedAt, minutes: 20 }]);
    expect(observerOf(then.state, 'o1').value).toBe('available');
    expect(laneOf(then.state, 'l1').value).toBe('turnover');
    expect(then.alerts()).toEqual([]);
  });

  it('is over when the rest is: then the worker may be called again', () => {
    given(onDuty('o1'), trip('o1', 'w1', 'l1', 20 * minute))
      .when(passes(30 * minute + second))
      .then('rest-ended')
      .when(called('w1'))
      .then('worker-called');
  });

  it('keeps the limit, its reason and its source with the inspection', () => {
    const limit = given(onDuty('o1')).when(donned('o1', 'w1')).then('inspection-passed', 'limit-set').fact('limit-set');
    expect(limit.data).toMatchObject({
      minutes: 60,
      reason: 'the rule for this ensemble',
      limitAt: openedAt + 60 * minute,
      // 60 min less 10 for doffing and 5 of margin; told 10 min before.
      callOutAt: openedAt + 45 * minute,
      warnAt: openedAt + 35 * minute,
    });
  });
});

describe('the screening', () => {
  const asked = given(onDuty('o1'), called('w1'), taken('o1', 'w1'));
  const record = (points: string[], measured: object) =>
    reports('o1', 'record-screening', { ...w1, points, vitals: measured });
  const all = ['drank', 'toilet'];

  it('holds a worker whose vital signs are out of bounds, and tells the safety officer without the values', () => {
    const then = asked.when(record(all, feverish)).then('screening-recorded', 'alert-raised');
    expect(then.worker('w1').place).toEqual({ 'pre-check': 'held' });
    expect(then.alerts()).toEqual(['vitals-out-of-bounds:w1 medium safety-officer']);
    const fact = then.fact('screening-recorded');
    expect(fact.data).toEqual({ worker: 'w1', entry: 'E4', verdict: 'vitals-out-of-bounds', missingPoints: [] });
    expect(fact.confidential).toMatchObject({ vitals: feverish });
    expect(fact.confidential?.findings).toHaveLength(2);
  });

  it('counts a sign that was not measured as out of bounds: an empty form does not pass', () => {
    const fact = asked.when(record(all, { pulsePerMin: 70 })).fact('screening-recorded');
    expect(fact.data.verdict).toBe('vitals-out-of-bounds');
    expect(fact.confidential?.findings).toEqual(['temperature (°C) was not measured']);
  });

  it('holds a worker who is not ready, and tells the coordinator, low: it is mostly put right on the spot', () => {
    const then = asked.when(record(['drank'], vitals)).then('screening-recorded', 'alert-raised');
    expect(then.fact('alert-raised').data).toMatchObject({
      alertKind: 'not-ready',
      priority: 'low',
      level: 'coordinator',
    });
    expect(then.fact('screening-recorded').data).toMatchObject({ verdict: 'not-ready', missingPoints: ['toilet'] });
    then.when(record(all, vitals)).then('screening-recorded', 'alert-cleared');
  });

  it('may be measured again, and passes then', () => {
    const then = asked.when(record(all, feverish), passes(5 * minute), record(all, vitals));
    then.then('screening-recorded', 'alert-cleared');
    expect(then.worker('w1').place).toEqual({ 'pre-check': 'kit' });
    const rest = dressed('o1', 'w1').slice(3);
    then.when(rest, reports('o1', 'pass-inspection', w1)).then('inspection-passed', 'limit-set');
  });

  it('a hold is released by the safety officer alone, by name and with a reason', () => {
    const held = asked.when(record(all, feverish));
    held.when(reports('o1', 'release-hold', { ...w1, reason: 'it is warm in here' })).thenRefused('rights/not-yours');
    held.when(reports('c1', 'release-hold', { ...w1, reason: 'we need them' })).thenRefused('rights/not-yours');
    const then = held.when(reports('s1', 'release-hold', { ...w1, reason: 'seen by the physician' }));
    then.then('hold-released', 'alert-cleared');
    expect(then.fact('hold-released').by).toMatchObject({ person: 's1', role: 'safety-officer' });
    expect(then.worker('w1').entry?.screening).toBe('released');
  });

  it('passes at the bounds themselves, and holds a hair beyond them', () => {
    const verdict = (measured: object) => asked.when(record(all, measured)).fact('screening-recorded').data.verdict;
    expect(verdict({ pulsePerMin: 45, temperatureC: 37.5 })).toBe('passed');
    expect(verdict({ pulsePerMin: 100, temperatureC: 30 })).toBe('passed');
    for (const measured of [{ pulsePerMin: 44.9 }, { pulsePerMin: 100.1 }, { temperatureC: 37.6 }])
      expect(verdict({ ...vitals, ...measured })).toBe('vitals-out-of-bounds');
  });

  it('names no point that the procedure does not have', () => {
    asked.when(record(['drank', 'toilet', 'dancing'], vitals)).thenRefused('point/unknown', /dancing/);
  });
});

describe('kit and donning', () => {
  const ready = given(onDuty('o1', 'o2'), readied('o1', 'w1'));

  it('no donning step before the kit is complete', () => {
    given(onDuty('o1'), called('w1'), taken('o1', 'w1'), screened('o1', 'w1'))
      .when(verified('o1', 'w1', 'rub-hands'))
      .thenRefused('worker/elsewhere');
  });

  it('a kit item confirmed twice is confirmed once', () => {
    const one = reports('o1', 'confirm-kit-item', { ...w1, item: 'kit-gown' });
    given(onDuty('o1'), called('w1'), taken('o1', 'w1'), screened('o1', 'w1'), one).when(one).then();
    ready.when(reports('o1', 'confirm-kit-item', { ...w1, item: 'kit-boots' })).thenRefused('point/unknown');
  });

  it('steps keep their order, and the refusal says what comes first', () => {
    ready.when(verified('o1', 'w1', 'gloves-on')).thenRefused('step/out-of-order', /Rub your hands/);
    ready.when(verified('o1', 'w1', 'rub-hands'), verified('o1', 'w1', 'gloves-on')).then('step-verified');
  });

  it('a step is done once', () => {
    ready.when(verified('o1', 'w1', 'rub-hands'), verified('o1', 'w1', 'rub-hands')).thenRefused('step/done-already');
  });

  it('hand hygiene has its contact time', () => {
    const rub = (tookSeconds?: number) =>
      reports('o1', 'verify-step', { ...w1, step: 'rub-hands', ...(tookSeconds !== undefined && { tookSeconds }) });
    ready.when(rub(29.9)).thenRefused('step/contact-time-short', /30 s are needed, 29 s were given/);
    ready.when(rub()).thenRefused('step/contact-time-short');
    ready.when(rub(30)).then('step-verified');
  });

  it('a step of another procedure, or of none, is told apart', () => {
    ready.when(verified('o1', 'w1', 'hood-on')).thenRefused('step/other-procedure', /Powered hood/);
    ready.when(verified('o1', 'w1', 'dance')).thenRefused('step/unknown');
  });

  it('only whoever guides the worker verifies', () => {
    ready.when(verified('o2', 'w1', 'rub-hands')).thenRefused('observer/not-with-worker', /take the worker over/i);
    ready.when(reports('c1', 'verify-step', { ...w1, step: 'rub-hands' })).thenRefused('rights/not-yours');
  });

  it('a deviation stops everything until it is put right', () => {
    const noted = ready.when(
      verified('o1', 'w1', 'rub-hands'),
      reports('o1', 'note-deviation', { ...w1, step: 'rub-hands', deviationKind: 'touched' }),
    );
    noted.then('deviation-noted', 'alert-raised');
    const { deviation } = noted.fact('deviation-noted').data;
    noted.when(verified('o1', 'w1', 'gloves-on')).thenRefused('step/correct-first');
    const corrected = noted.when(reports('o1', 'correct-deviation', { ...w1, deviation }));
    corrected.then('deviation-corrected', 'alert-cleared');
    expect(corrected.fact('alert-cleared').data.reason).toBe('its cause is over');
    corrected.when(verified('o1', 'w1', 'gloves-on')).then('step-verified');
    corrected.when(reports('o1', 'correct-deviation', { ...w1, deviation })).thenRefused('deviation/unknown');
  });

  it('no donning step is ever overridden, not even by the safety officer', () => {
    ready
      .when(reports('s1', 'override-step', { ...w1, step: 'rub-hands', reason: 'no rub left' }))
      .thenRefused('worker/elsewhere', /Cancel the entry/);
  });

  it('a cancelled entry frees the observer and leaves nothing open', () => {
    const noted = ready.when(
      reports('o1', 'note-deviation', { ...w1, step: 'rub-hands', deviationKind: 'torn' }),
      reports('c1', 'cancel-entry', { ...w1, reason: 'not needed any more' }),
    );
    noted.then('worker-released', 'entry-cancelled', 'alert-cleared');
    expect(noted.worker('w1')).toMatchObject({ place: { rest: 'ready' }, entry: undefined });
    expect(observerOf(noted.state, 'o1').value).toBe('available');
  });
});

describe('the final inspection', () => {
  const inspected = given(onDuty('o1'), dressed('o1', 'w1'));

  it('that fails sends the worker back to the named steps, and the clock does not start', () => {
    const failed = inspected.when(reports('o1', 'fail-inspection', { ...w1, steps: ['gown-on', 'gown-on'] }));
    failed.then('inspection-failed');
    expect(failed.fact('inspection-failed').data.steps).toEqual(['gown-on']);
    expect(failed.worker('w1').place).toEqual({ 'pre-check': 'donning' });
    expect(failed.worker('w1').entry?.donnedAt).toBeUndefined();
    failed.when(reports('o1', 'pass-inspection', w1)).thenRefused('worker/elsewhere');
    failed
      .when(verified('o1', 'w1', 'gown-on'), reports('o1', 'pass-inspection', w1))
      .then('inspection-passed', 'limit-set');
  });

  it('names donning steps only', () => {
    inspected.when(reports('o1', 'fail-inspection', { ...w1, steps: ['gown-off'] })).thenRefused('step/unknown');
    inspected.when(reports('o1', 'fail-inspection', { ...w1, steps: ['hood-on'] })).thenRefused('step/other-procedure');
  });

  it('is no step: what is wrong there is a failed inspection, not a deviation', () => {
    inspected
      .when(reports('o1', 'note-deviation', { ...w1, step: 'gown-on', deviationKind: 'torn' }))
      .thenRefused('worker/elsewhere', /not at any step/);
  });

  it('promise 4: nobody is let in before it is passed', () => {
    for (const acts of [[called('w1'), taken('o1', 'w1')], readied('o1', 'w1'), dressed('o1', 'w1')])
      given(onDuty('o1'), acts)
        .when(reports('o1', 'enter-room', w1))
        .thenRefused('worker/elsewhere');
  });
});

describe('doffing', () => {
  const stepping = given(onDuty('o1'), inside('o1', 'w1'), atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1'));

  it('nothing comes off before the lane is entered', () => {
    given(onDuty('o1'), inside('o1', 'w1'), atThreshold('o1', 'w1'))
      .when(verified('o1', 'w1', 'clean-gloves'))
      .thenRefused('worker/elsewhere');
  });

  it('steps without an order between them may come in either', () => {
    const both = ['clean-gloves', 'gown-off'].map((step) => verified('o1', 'w1', step));
    for (const last of [
      ['gloves-off', 'mask-off'],
      ['mask-off', 'gloves-off'],
    ])
      stepping
        .when(
          both,
          last.map((step) => verified('o1', 'w1', step)),
        )
        .then('step-verified', 'lane-left');
  });

  it('the post-check is out of reach with a step outstanding', () => {
    stepping
      .when(doffed('o1', 'w1').slice(0, 3), reports('o1', 'record-post-check', { ...w1, vitals }))
      .thenRefused('worker/elsewhere');
  });

  it('a step that goes wrong in a critical place is a high alert with what to do', () => {
    const noted = stepping.when(
      verified('o1', 'w1', 'clean-gloves'),
      reports('o1', 'note-deviation', { ...w1, step: 'gown-off', deviationKind: 'touched', actor: 'assistant' }),
    );
    expect(noted.worker('w1').place).toEqual({ doffing: 'corrective' });
    expect(noted.fact('alert-raised').data).toMatchObject({
      priority: 'high',
      level: 'observer',
      because: 'Step "gown-off": something was touched, by the assistant. Stop. Hands away from the face.',
    });
  });

  it('the safety officer may override a doffing step with a reason, and not past an open deviation', () => {
    const override = reports('s1', 'override-step', { ...w1, step: 'clean-gloves', reason: 'no rub within reach' });
    stepping
      .when(reports('o1', 'override-step', { ...w1, step: 'clean-gloves', reason: 'hurry' }))
      .thenRefused('rights/not-yours');
    const done = stepping.when(override).then('step-overridden');
    expect(done.worker('w1').entry?.overridden).toEqual(['clean-gloves']);
    stepping
      .when(reports('o1', 'note-deviation', { ...w1, step: 'clean-gloves', deviationKind: 'missed' }), override)
      .thenRefused('step/correct-first');
  });

  it('the last step may be overridden too: the lane is left and the clock stops', () => {
    const last = reports('s1', 'override-step', { ...w1, step: 'mask-off', reason: 'cut off in the lane' });
    const done = stepping
      .when(doffed('o1', 'w1').slice(0, 3), passes(minute), last)
      .then('step-overridden', 'lane-left');
    expect(done.worker('w1')).toMatchObject({
      place: { 'post-check': 'measuring' },
      entry: { doffedAt: openedAt + minute },
    });
  });

  it('a powered hood comes off with an assistant, who is nobody else meanwhile', () => {
    const hooded = given(onDuty('o1', 'o3'), inside('o1', 'w1', 'hood'), atThreshold('o1', 'w1', 'hood'), called('w2'));
    hooded.when(enters('o1', 'w1', 'l1', 'hood')).thenRefused('assistant/needed');
    hooded.when(enters('o1', 'w1', 'l1', 'hood', 'o2')).thenRefused('assistant/not-free');
    hooded.when(enters('o1', 'w1', 'l1', 'hood', 'o1')).thenRefused('assistant/not-free');
    const assisted = hooded.when(enters('o1', 'w1', 'l1', 'hood', 'o3')).then('lane-entered');
    expect(assisted.worker('w1').entry?.assistant).toBe('o3');
    assisted.when(taken('o3', 'w2')).thenRefused('observer/not-free', /assisting/);
    assisted.when(doffed('o1', 'w1', 'hood'), taken('o3', 'w2')).then('worker-taken');
  });

  it('an assistant is not called for an entry of their own', () => {
    given(
      onDuty('o1'),
      inside('o1', 'w1', 'hood'),
      atThreshold('o1', 'w1', 'hood'),
      enters('o1', 'w1', 'l1', 'hood', 'both'),
    )
      .when(called('both'))
      .thenRefused('worker/guiding-somebody', /assisting/);
  });

  it('every point of the lane is confirmed before anybody steps in', () => {
    given(onDuty('o1'), inside('o1', 'w1'), atThreshold('o1', 'w1'))
      .when(reports('o1', 'enter-lane', { ...w1, lane: 'l1', confirmed: ['lane-clean'] }))
      .thenRefused('lane/not-ready', /The bin is open/);
  });
});

describe('the post-check', () => {
  const out = given(onDuty('o1', 'o2'), trip('o1', 'w1', 'l1', 20 * minute).slice(0, -1));

  it('may be recorded by any observer on duty', () => {
    out.when(reports('o2', 'record-post-check', { ...w1, vitals })).then('worker-released', 'post-check-recorded');
    out.when(reports('o3', 'record-post-check', { ...w1, vitals })).thenRefused('observer/not-on-duty');
  });

  it('holds a worker out of bounds; measured again, they rest', () => {
    const held = out.when(reports('o1', 'record-post-check', { ...w1, vitals: feverish }));
    held.then('worker-released', 'post-check-recorded', 'alert-raised');
    expect(held.worker('w1')).toMatchObject({ place: { 'post-check': 'held' }, observer: 'o1' });
    held.when(reports('o2', 'record-post-check', { ...w1, vitals })).then('post-check-recorded', 'alert-cleared');
  });

  it('a hold after doffing is released to a longer rest, or ends in standing down', () => {
    const held = out.when(reports('o1', 'record-post-check', { ...w1, vitals: feverish }));
    const released = held.when(reports('s1', 'release-hold', { ...w1, reason: 'seen by the physician' }));
    released.then('hold-released', 'alert-cleared');
    expect(released.worker('w1').machine.context.rest?.until).toBe(openedAt + 20 * minute + 3_600_001);
    const down = held.when(reports('s1', 'stand-down', { ...w1, reason: 'fever' }));
    down.then('stood-down', 'alert-cleared');
    expect(down.worker('w1')).toMatchObject({ place: { rest: 'stood-down' }, entry: undefined });
    expect(down.worker('w1').machine.context.worn).toHaveLength(1);
    down.when(called('w1')).thenRefused('worker/stood-down', /fever/);
    down.when(reports('c1', 'lift-stand-down', { ...w1, reason: 'well' })).thenRefused('rights/not-yours');
    down.when(reports('s1', 'lift-stand-down', { ...w1, reason: 'well again' }), called('w1')).then('worker-called');
  });

  it('gives a longer rest after the limit was passed, and every time is a whole millisecond', () => {
    const rest = (insideMs: number) =>
      given(onDuty('o1'))
        .when(trip('o1', 'w1', 'l1', insideMs))
        .fact('post-check-recorded');
    expect(rest(59 * minute).data.restUntil).toBe(openedAt + 59 * minute + 1_800_001);
    // To the limit is inside it.
    expect(rest(60 * minute).data.restUntil).toBe(openedAt + 60 * minute + 1_800_001);
    expect(rest(61 * minute).data).toMatchObject({ restUntil: openedAt + 61 * minute + 3_600_001 });
    expect(rest(61 * minute).data.restReason).toMatch(/the limit was passed/);
  });
});
