import { describe, expect, it } from 'vitest';
import { foldAll } from '../../machines/unit/fold.ts';
import { foldVersion } from '../../machines/unit/state.ts';
import type { Procedure } from '../../machines/procedure/procedure.ts';
import type { Fact, NumberedFact } from '../../machines/wire/fact.ts';
import type { ReportAnswer } from '../../machines/wire/messages.ts';
import { sealFact, verifyChain } from '../../server/log/hash-chain.ts';
import type { Log } from '../../server/log/log.ts';
import { MemoryLog } from '../../server/log/memory-log.ts';
import { openAuthority, type Authority } from '../../server/unit/authority.ts';
import type { BatchMeasure } from '../../server/unit/batch-writer.ts';
import type { UnitOpening } from '../../server/unit/open-record.ts';
import { boardOf, openSmall, partsWith, smallUnit, tabletOf, wholeLog, Tablet } from '../support/authority-fixture.ts';
import { settled } from '../support/fake-clock.ts';
import { MoodyLog } from '../support/moody-log.ts';
import { openedAt } from '../support/unit-fixture.ts';

const call = (worker: string, room = 'r1') => ({ worker, room, procedure: 'gown' });

const openAuthorityOf = (unit: UnitOpening, log: Log) => openAuthority(unit, partsWith(log));

function smallUnitChanged(): UnitOpening {
  const { rules } = smallUnit.opening;
  return { ...smallUnit, opening: { ...smallUnit.opening, rules: { ...rules, name: 'Renamed' } } };
}

/** A fact that has its place in the hash chain, and none in the story. */
async function sealedAfter(log: Log, fact: object): Promise<Fact> {
  const head = await log.head(smallUnit.id);
  const stamp = { v: 1, unit: smallUnit.id, number: head.number + 1, at: openedAt, receivedAt: openedAt };
  return sealFact({ ...stamp, by: { watch: true }, ...fact } as NumberedFact, head.hash);
}

const accepted = (answer: ReportAnswer): number[] => {
  if (!answer.accepted) throw new Error(`refused: ${answer.code}`);
  return answer.numbers;
};

/** A log, an authority on it, and everything it publishes. */
async function opened(options: { log?: MoodyLog; snapshotEvery?: number } = {}) {
  const log = options.log ?? new MoodyLog();
  const batches: BatchMeasure[] = [];
  const authority = await openSmall(log, { ...options, onBatch: (batch) => batches.push(batch) });
  const published: Fact[] = [];
  authority.onFacts((facts) => published.push(...facts));
  return { log, authority, batches, published };
}

const startsDuty = (tablet: Tablet, authority: Authority) => tablet.sends(authority, tablet.report('start-duty'));

describe('one queue: order, group commit, answers', () => {
  it('answers a report with the numbers of its own facts, and publishes them', async () => {
    const { authority, published } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    const answer = await startsDuty(tablet, authority);
    expect(answer).toEqual({ accepted: true, numbers: [3] });
    expect(published.map((fact) => fact.kind)).toEqual(['device-joined', 'duty-started']);
    expect(authority.state.observers['o1' as never]).toMatchObject({ value: 'available' });
  });

  it('takes everything that has gathered as one append', async () => {
    const { authority, batches } = await opened();
    const tablets = ['o1', 'o2', 'o3'].map((who) => tabletOf(who));
    await Promise.all(tablets.map((tablet) => tablet.joins(authority)));
    await Promise.all(tablets.map((tablet) => startsDuty(tablet, authority)));
    expect(batches.map(({ inputs, reports, facts }) => ({ inputs, reports, facts }))).toEqual([
      { inputs: 3, reports: 0, facts: 3 },
      { inputs: 3, reports: 3, facts: 3 },
    ]);
  });

  it('gathers the next batch while the one before is on its way to the disk', async () => {
    const { log, authority, batches } = await opened();
    const board = await boardOf().joins(authority);
    log.mood = 'held';
    const first = board.sends(authority, board.report('call-worker', call('w1')));
    await settled();
    const later = ['w2', 'w3'].map((who) => board.sends(authority, board.report('call-worker', call(who, 'r2'))));
    await settled();
    expect(authority.state.number).toBe(2);
    log.release();
    const answers = await Promise.all([first, ...later]);
    expect(answers.map((answer) => answer.accepted)).toEqual([true, true, false]);
    expect(batches.map(({ reports }) => reports)).toEqual([0, 1, 2]);
  });

  it('decides each report on the state as the one before it in the batch left it', async () => {
    const { authority } = await opened();
    const board = await boardOf().joins(authority);
    const answers = await Promise.all([
      board.sends(authority, board.report('call-worker', call('w1', 'r2'))),
      board.sends(authority, board.report('call-worker', call('w2', 'r2'))),
    ]);
    expect(answers[0]).toMatchObject({ accepted: true });
    expect(answers[1]).toMatchObject({ accepted: false, code: 'room/full' });
  });

  it('promise 1: nobody is answered and nothing is published before the facts are durable', async () => {
    const { log, authority, published } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    log.mood = 'held';
    let answered = 0;
    authority.report(tablet.report('start-duty'), 'observer', () => (answered += 1));
    await settled();
    expect([answered, published.length, authority.state.number]).toEqual([0, 1, 2]);
    log.release();
    await settled();
    expect([answered, published.length, authority.state.number]).toEqual([1, 2, 3]);
  });

  it('answers before it publishes', async () => {
    const { authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    const order: string[] = [];
    authority.onFacts(() => order.push('published'));
    await new Promise<void>((resolve) => {
      authority.report(tablet.report('start-duty'), 'observer', () => order.push('answered'));
      authority.onFacts(() => resolve());
    });
    expect(order).toEqual(['answered', 'published']);
  });

  it('a report that trips over a bug is answered, and the others of its batch are taken', async () => {
    const { authority } = await opened();
    const [one, two] = await Promise.all([tabletOf('o1').joins(authority), tabletOf('o2').joins(authority)]);
    const broken = { ...one.report('start-duty'), kind: 'no-such-kind' } as never;
    const answers = await Promise.all([one.sends(authority, broken), startsDuty(two, authority)]);
    expect(answers[0]).toMatchObject({ accepted: false, code: 'message/not-understood' });
    expect(answers[1]).toMatchObject({ accepted: true });
  });

  it('a listener that throws undoes nothing and stops nobody else', async () => {
    const { authority } = await opened();
    authority.onFacts(() => {
      throw new Error('a bug in a listener');
    });
    const heard: string[] = [];
    authority.onFacts((facts) => heard.push(...facts.map((fact) => fact.kind)));
    const tablet = await tabletOf('o1').joins(authority);
    expect(accepted(await startsDuty(tablet, authority))).toEqual([3]);
    expect(heard).toEqual(['device-joined', 'duty-started']);
  });

  it('turns away what is more than a standing log can hold, to be sent again', async () => {
    const { log, authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    log.mood = 'held';
    await Promise.race([startsDuty(tablet, authority), settled()]);
    const answers = Array.from({ length: 5_001 }, () => authority.tick());
    expect(await answers.at(-1)).toMatchObject({ accepted: false, code: 'unit/busy', retry: true });
    log.release();
    expect(await answers[0]).toMatchObject({ accepted: true });
  });
});

describe('a report is taken once, however often it is sent', () => {
  it('a duplicate of a report that is still pending waits for the same commit', async () => {
    const { log, authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    log.mood = 'held';
    const report = tablet.report('start-duty');
    const answers: ReportAnswer[] = [];
    for (let times = 0; times < 3; times += 1) authority.report(report, 'observer', (one) => answers.push(one));
    await settled();
    authority.report(report, 'observer', (one) => answers.push(one));
    await settled();
    expect(answers).toEqual([]);
    log.release();
    await settled();
    expect(answers).toEqual(Array.from({ length: 4 }, () => ({ accepted: true, numbers: [3] })));
    expect(await wholeLog(log)).toHaveLength(3);
  });

  it('a report that is in the log already is answered with its numbers and written no second time', async () => {
    const { log, authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    const report = tablet.report('start-duty');
    await tablet.sends(authority, report);
    expect(await tablet.sends(authority, report)).toEqual({ accepted: true, numbers: [3], repeat: true });
    expect(await wholeLog(log)).toHaveLength(3);
  });

  it('a report that was refused and kept is refused again, under the same number', async () => {
    const { log, authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    await startsDuty(tablet, authority);
    const late = tablet.report('verify-step', { worker: 'w1', step: 'gown-on' }, { observedAt: 0 });
    const first = await tablet.sends(authority, late);
    expect(first).toMatchObject({ accepted: false, code: 'worker/elsewhere', keptAs: 4 });
    expect(await tablet.sends(authority, late)).toEqual(first);
    expect((await wholeLog(log)).map((fact) => fact.kind).at(-1)).toBe('report-kept');
  });

  it('the id of a report in the log, sent by another device, is refused', async () => {
    const { authority } = await opened();
    const [mine, other] = await Promise.all([tabletOf('o1').joins(authority), tabletOf('o2').joins(authority)]);
    const report = mine.report('start-duty');
    await mine.sends(authority, report);
    // Its sequence is above everything this device has in the log, so only the log itself can tell.
    const copy = other.report('start-duty', {}, { id: report.id });
    expect(await other.sends(authority, copy)).toMatchObject({ accepted: false, code: 'report/id-used' });
    expect(authority.state.observers['o2' as never]).toMatchObject({ value: 'off-shift' });
  });

  it('so is the id of a report that is still pending', async () => {
    const { log, authority } = await opened();
    const [mine, other] = await Promise.all([tabletOf('o1').joins(authority), tabletOf('o2').joins(authority)]);
    log.mood = 'held';
    const report = mine.report('start-duty');
    const pending = mine.sends(authority, report);
    const copy = other.report('start-duty', {}, { id: report.id });
    expect(await other.sends(authority, copy)).toMatchObject({ accepted: false, code: 'report/id-used' });
    log.release();
    expect(await pending).toMatchObject({ accepted: true });
  });

  it('a used sequence with a new id is refused', async () => {
    const { authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    await startsDuty(tablet, authority);
    const again = tablet.report('start-break', {}, { sequence: 1 });
    expect(await tablet.sends(authority, again)).toMatchObject({ accepted: false, code: 'report/sequence-used' });
  });
});

describe('several servers on one log', () => {
  it('whoever is slower decides again on what the other wrote; both see the same log', async () => {
    const log = new MoodyLog();
    const one = await opened({ log });
    const two = await opened({ log });
    const board = new Tablet('board-1', 'c1', 'coordinator');
    const other = new Tablet('board-2', 'c1', 'coordinator');
    await Promise.all([board.joins(one.authority), other.joins(two.authority)]);
    const answers = await Promise.all([
      board.sends(one.authority, board.report('call-worker', call('w1', 'r2'))),
      other.sends(two.authority, other.report('call-worker', call('w2', 'r2'))),
    ]);
    await settled();
    // Room 2 has one place: whoever came second was decided again, and refused.
    expect(answers.map((answer) => answer.accepted).sort()).toEqual([false, true]);
    expect(one.authority.state).toEqual(two.authority.state);
    const numbers = (facts: Fact[]) => facts.map((fact) => fact.number);
    expect(numbers(one.published)).toEqual([2, 3, 4]);
    // The second server was opened by then and publishes the rest, each once and in order.
    expect(numbers(two.published)).toEqual([2, 3, 4]);
    expect(await verifyChain(await wholeLog(log))).toMatchObject({ ok: true, count: 4 });
  });

  it('a report that another server took is a repeat here', async () => {
    const log = new MoodyLog();
    const one = await opened({ log });
    const two = await opened({ log });
    const tablet = await tabletOf('o1').joins(one.authority);
    const report = tablet.report('start-duty');
    const numbers = accepted(await tablet.sends(one.authority, report));
    expect(await tablet.sends(two.authority, report)).toEqual({ accepted: true, numbers, repeat: true });
  });

  it('many reports through two servers at once: each is in the log once, and both servers agree', async () => {
    const log = new MoodyLog();
    const servers = [await opened({ log }), await opened({ log })];
    const tablets = await Promise.all(
      ['o1', 'o2', 'o3', 'both'].map((who, index) => tabletOf(who).joins(servers[index % 2]!.authority)),
    );
    const kinds = ['start-duty', 'start-break', 'end-break', 'start-break', 'end-break', 'end-duty'] as const;
    for (const kind of kinds) {
      // Every report goes to both servers at the same moment, as a tablet does that was cut off in between.
      const sent = tablets.flatMap((tablet) => {
        const report = tablet.report(kind);
        return servers.map(({ authority }) => tablet.sends(authority, report));
      });
      for (const answer of await Promise.all(sent)) expect(accepted(answer)).toHaveLength(1);
    }
    await settled();
    const facts = await wholeLog(log);
    expect(facts).toHaveLength(1 + tablets.length * (1 + kinds.length));
    expect(new Set(facts.flatMap((fact) => fact.report?.id ?? [])).size).toBe(tablets.length * kinds.length);
    for (const { authority } of servers) expect(authority.state).toEqual(foldAll(undefined, facts));
  });

  it('facts another server wrote are folded and published without anything happening here', async () => {
    const log = new MoodyLog();
    const one = await opened({ log });
    const two = await opened({ log });
    await startsDuty(await tabletOf('o1').joins(one.authority), one.authority);
    await settled();
    expect(two.published.map((fact) => fact.kind)).toEqual(['device-joined', 'duty-started']);
  });
});

describe('a log that fails', () => {
  it('an append that failed and wrote nothing is done again; nothing was answered in between', async () => {
    const { log, authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    log.mood = 'loses';
    expect(await startsDuty(tablet, authority)).toEqual({ accepted: true, numbers: [3] });
    expect(await wholeLog(log)).toHaveLength(3);
  });

  it('an append that failed and yet was written is found in the log and answered as it stands there', async () => {
    const { log, authority, published } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    log.mood = 'writes-and-fails';
    expect(await startsDuty(tablet, authority)).toEqual({ accepted: true, numbers: [3], repeat: true });
    expect(await wholeLog(log)).toHaveLength(3);
    expect(published.map((fact) => fact.number)).toEqual([2, 3]);
  });

  it('while the log is away nothing is acknowledged; afterwards the same report is taken', async () => {
    const { log, authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    log.mood = 'gone';
    const report = tablet.report('start-duty');
    expect(await tablet.sends(authority, report)).toMatchObject({
      accepted: false,
      code: 'unit/log-unavailable',
      retry: true,
    });
    log.release();
    expect(await tablet.sends(authority, report)).toEqual({ accepted: true, numbers: [3] });
  });

  it('later reports of a device never overtake one that was turned away, so that none is lost', async () => {
    const { log, authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    log.mood = 'gone';
    const first = tablet.report('start-duty');
    const second = tablet.report('start-break');
    expect(await tablet.sends(authority, first)).toMatchObject({ retry: true });
    log.release();
    expect(await tablet.sends(authority, second)).toMatchObject({ accepted: false, code: 'unit/busy', retry: true });
    expect(await tablet.sends(authority, first)).toMatchObject({ accepted: true });
    expect(await tablet.sends(authority, second)).toMatchObject({ accepted: true });
  });

  it('nor one that stood in the queue behind it', async () => {
    const { log, authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    log.mood = 'held';
    const first = tablet.sends(authority, tablet.report('start-duty'));
    await settled();
    const second = tablet.sends(authority, tablet.report('start-break'));
    log.release();
    log.mood = 'gone';
    expect(await first).toMatchObject({ accepted: false, retry: true });
    expect(await second).toMatchObject({ accepted: false, retry: true });
  });

  it('a device that says hello again starts with the oldest report it still has', async () => {
    const { log, authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    log.mood = 'gone';
    expect(await startsDuty(tablet, authority)).toMatchObject({ retry: true });
    log.release();
    await tablet.joins(authority);
    expect(await startsDuty(tablet, authority)).toMatchObject({ accepted: true });
  });
});

describe('start and restart', () => {
  it('opens an empty log with one fact', async () => {
    const { log, authority } = await opened();
    expect((await wholeLog(log)).map((fact) => fact.kind)).toEqual(['unit-opened']);
    expect(authority.state.unit).toBe('small');
  });

  it('comes back to exactly the state it had, from a snapshot and the facts after it', async () => {
    const { log, authority } = await opened({ snapshotEvery: 4 });
    const tablet = await tabletOf('o1').joins(authority);
    for (const kind of ['start-duty', 'start-break', 'end-break', 'start-break'] as const)
      await tablet.sends(authority, tablet.report(kind));
    await settled();
    const snapshot = await log.latestSnapshot(authority.unit, foldVersion);
    expect(snapshot?.number).toBeGreaterThan(1);
    expect(snapshot?.number).toBeLessThan(authority.head.number);
    const again = await openSmall(log);
    expect(again.state).toEqual(authority.state);
    expect(again.head).toEqual(authority.head);
    // What a screen may be missing is known too, though it lies before the snapshot.
    expect(again.missingAfter(1)).toMatchObject({ head: authority.head.number, facts: { length: 5 } });
  });

  it('leaves a snapshot when it is closed, and takes nothing more', async () => {
    const { log, authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    await authority.close();
    expect((await log.latestSnapshot(authority.unit, foldVersion))?.number).toBe(2);
    expect(await startsDuty(tablet, authority)).toMatchObject({ accepted: false, code: 'unit/busy', retry: true });
  });

  it('refuses a log whose facts do not follow each other, and names the first', async () => {
    const good = new MoodyLog();
    const { authority } = await opened({ log: good });
    await tabletOf('o1').joins(authority);
    const facts = await wholeLog(good);
    const changed = facts.map((fact) => (fact.number === 2 ? { ...fact, receivedAt: fact.receivedAt + 1 } : fact));
    const broken = new MemoryLog();
    await broken.append(authority.unit, 0, changed);
    await expect(openSmall(broken)).rejects.toThrow(/broken at fact 2/);
  });

  it('refuses a log that does not fold, and names the number', async () => {
    const { log, authority } = await opened();
    const strange = await sealedAfter(log, { kind: 'duty-ended', data: { observer: 'o1' } });
    await log.append(authority.unit, 1, [strange]);
    await expect(openSmall(log)).rejects.toThrow(/fact 2 \(duty-ended\)/);
  });

  it('refuses a log that is shorter than its snapshot', async () => {
    const { log, authority } = await opened();
    await tabletOf('o1').joins(authority);
    await authority.close();
    const snapshot = (await log.latestSnapshot(authority.unit, foldVersion))!;
    const short = new MemoryLog();
    await short.append(authority.unit, 0, (await wholeLog(log)).slice(0, 1));
    await short.saveSnapshot(authority.unit, snapshot);
    await expect(openSmall(short)).rejects.toThrow(/does not hold fact 2 as it was/);
  });

  it('a running server that finds such a fact says so and acknowledges nothing more', async () => {
    const { log, authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    const strange = await sealedAfter(log, { kind: 'duty-ended', data: { observer: 'o1' } });
    await log.append(authority.unit, 2, [strange]);
    await settled();
    expect(authority.fault).toMatch(/fact 3 \(duty-ended\)/);
    expect(await startsDuty(tablet, authority)).toMatchObject({ code: 'unit/log-unavailable', retry: true });
  });

  it('writes down that the files of the unit have changed, once', async () => {
    const { log } = await opened();
    const changed = { ...smallUnitChanged() };
    const again = await openAuthorityOf(changed, log);
    expect(again.state.rules.name).toBe('Renamed');
    await openAuthorityOf(changed, log);
    expect((await wholeLog(log)).map((fact) => fact.kind)).toEqual(['unit-opened', 'unit-changed']);
  });

  it('refuses a procedure that was changed under the same version', async () => {
    const { log } = await opened();
    const [gown, hood] = smallUnit.opening.procedures as [Procedure, Procedure];
    const changed = { ...gown, title: 'Other words' };
    const unit = { ...smallUnit, opening: { ...smallUnit.opening, procedures: [changed, hood] } };
    await expect(openAuthorityOf(unit, log)).rejects.toThrow(/Procedure gown was changed.*Raise its version/);
  });
});

describe('what a screen is missing', () => {
  it('is the facts after its number, nothing when it is level, and the state when it is ahead', async () => {
    const { authority } = await opened();
    await startsDuty(await tabletOf('o1').joins(authority), authority);
    expect(authority.missingAfter(1)).toMatchObject({ facts: [{ number: 2 }, { number: 3 }], head: 3 });
    expect(authority.missingAfter(3)).toEqual({ facts: [], head: 3 });
    expect(authority.missingAfter(4)).toEqual({ state: authority.state, head: 3 });
  });

  it('is the state when more than 500 facts are missing', async () => {
    const { authority } = await opened();
    const tablet = await tabletOf('o1').joins(authority);
    await startsDuty(tablet, authority);
    for (let round = 0; round < 250; round += 1)
      await Promise.all(
        (['start-break', 'end-break'] as const).map((kind) => tablet.sends(authority, tablet.report(kind))),
      );
    const head = authority.head.number;
    expect(head).toBe(503);
    expect(authority.missingAfter(head - 500)).toMatchObject({ facts: { length: 500 } });
    expect(authority.missingAfter(head - 501)).toEqual({ state: authority.state, head });
  });
});
