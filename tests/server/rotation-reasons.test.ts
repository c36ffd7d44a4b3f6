import { describe, expect, it, vi } from 'vitest';
import { RotationApi } from '../../client/rotation/answers.ts';
import { shortWords } from '../../client/rotation/short-said.ts';
import { floorNames } from '../../client/board/floor-names.ts';
import { wallClock } from '../../client/board/clock.ts';
import { shortageReason } from '../../machines/unit/shortage.ts';
import { apiSchemas } from '../../server/http/api-schemas.ts';
import { rotationCommand } from '../../server/cli/rotation.ts';
import { planAsk, readAsk } from '../../server/rotation/live/plan-ask.ts';
import { notPlannableSentence } from '../../server/rotation/live/not-plannable.ts';
import { planView } from '../../server/rotation/live/plan-view.ts';
import type { RotationInstance } from '../../server/rotation/instance.ts';
import { planRotation } from '../../server/rotation/plan-rotation.ts';
import { countedShortage, hopelessExits } from '../../server/rotation/proof/counted-shortage.ts';
import { slottedOf } from '../../server/rotation/proof/slotted.ts';
import { windowShortage } from '../../server/rotation/proof/window-shortage.ts';
import { readInstance } from '../../server/rotation/read-instance.ts';
import { shortageText } from '../../server/rotation/shortage-text.ts';
import { randomInstance } from '../support/random-instance.ts';
import { rotationRules } from '../support/rotation-fixture.ts';
import { instanceNamed } from '../support/rotation-instance.ts';
import { everyReason } from '../support/shortage-reasons.ts';
import { given, inside, minute, onDuty, opening, passes, unitChanges } from '../support/unit-fixture.ts';

// Solvers share the machine with whatever else runs: a limit on time here would be a limit on that.
vi.setConfig({ testTimeout: 120_000 });

describe('a reason as the text of the command line', () => {
  it.each(everyReason.map((reason) => [reason.kind, reason] as const))(
    '%s: moments are minutes of the plan, and rooms and people go by their ids',
    (_kind, reason) => {
      const text = shortageText([reason]);
      expect(text).toMatch(/^[A-Za-z0-9].{20,}\.$/);
      expect(text).not.toMatch(/undefined|NaN|\[object|\d\d:\d\d/);
      for (const [name, value] of Object.entries(reason)) {
        if (name.endsWith('Minute')) expect(text).toMatch(new RegExp(`\\b(minutes? |and |to )${value as number}\\b`));
        if (name === 'room') expect(text).toContain(value);
        if (name === 'workers') expect(text).toContain((value as string[]).join(', '));
      }
    },
  );

  it('says the same as ever where something is short of two things', () => {
    const exits = { kind: 'exits', withinMinutes: 560, people: 28, heldMinutes: 35 } as const;
    const entries = { kind: 'entries', needed: 37, allowed: 24 } as const;
    expect(
      shortageText([
        { kind: 'too-few', resource: 'lanes', has: 1, atLeast: 1, cause: exits },
        { kind: 'too-few-as-well', resource: 'workers', cause: entries },
      ]),
    ).toBe(
      '1 doffing lane is not enough to keep every room staffed: at least 1 more is needed. Within any 560 minutes at least 28 ' +
        'people leave, and each takes a doffing lane for 35 minutes. The workers are too few as well: It takes at least 37 ' +
        'entries, and all together may make 24.',
    );
  });
});

describe('what counting finds', () => {
  it('is whole figures of a known kind, in every instance', () => {
    const kinds = new Set<string>();
    for (let seed = 0; seed < 300; seed += 1) {
      const instance = randomInstance({ seed, size: 'tiny' });
      const slotted = slottedOf(instance);
      for (const count of [hopelessExits, windowShortage, countedShortage]) {
        for (const reason of count(instance, slotted)?.shortage.reasons ?? []) {
          expect(shortageReason.parse(reason)).toEqual(reason);
          kinds.add(reason.kind);
        }
      }
    }
    expect([...kinds].sort()).toEqual(
      ['duties-apart', 'late-exits', 'room-empty', 'too-few', 'too-few-as-well', 'too-few-on-duty'].sort(),
    );
  });
});

describe('the JSON of `anteroom rotation`', () => {
  it.each([
    ['INFEASIBLE-X4-exits-clash', 'between minutes 30 and 60'],
    ['INFEASIBLE-X5-shift-overlap', 'From minute 685 to 690'],
  ])('%s: shortOf has a resource, counts and one reason, in minutes', async (name, minutes) => {
    const { stdout } = await rotationCommand(JSON.stringify(instanceNamed(name)), { seconds: 1.2, seed: 1 });
    const { shortOf } = JSON.parse(stdout) as { shortOf: Record<string, unknown> };
    const fields = 'resource atLeast enough reason'.split(' ');
    expect(Object.keys(shortOf)).toEqual(fields.filter((field) => field in shortOf));
    expect(typeof shortOf['resource']).toBe('string');
    expect(typeof shortOf['atLeast']).toBe('number');
    expect(shortOf['reason']).toContain(minutes);
  });
});

describe('a live unit that is short', () => {
  const opened = opening((unit) => ({ ...unit, rules: { ...unit.rules, rotation: rotationRules } }));
  const { state, now } = given(
    unitChanges(() => opened),
    onDuty('o1', 'o2'),
    inside('o1', 'w1'),
    passes(10 * minute),
  ).world;
  const names = floorNames(
    state.rules,
    (id) => `Name ${{ w1: 'One', w2: 'Two', w3: 'Three' }[id as string] ?? 'else'}`,
  );
  const question = { hours: 4, procedure: 'gown', staffInside: { r1: 1 }, seconds: 1 };

  /** From the question to what the page shows, with the real planner; its clock moves on whenever it is read. */
  async function answerTo(asked: object, alter: (instance: RotationInstance) => void = () => undefined) {
    const ask = planAsk.parse({ ...question, ...asked });
    const read = readAsk(state, ask, now);
    if (!read.ok) throw new Error(read.refusal.sentence);
    alter(read.problem.instance);
    let milliseconds = 0;
    const clock = () => (milliseconds += 4);
    const result = await planRotation(read.problem.instance, { seconds: 1, seed: 1, now: clock });
    const kept = { id: 'p', ask, state, askedAt: now, endedAt: now, status: 'finished' as const };
    const told: unknown = JSON.parse(JSON.stringify(planView({ ...kept, ...read, result }, now)));
    const answer = apiSchemas.Plan.parse(told);
    const page = await new RotationApi('small' as never, () => Promise.resolve(Response.json(told))).planSoFar('p');
    if (page.is !== 'answered') throw new Error('the page does not understand the answer');
    const { startAt } = read.problem.frame;
    return { answer, said: shortWords(page.answer.shortOf!, names), startAt };
  }

  it('with nobody to watch: says on the page who is left out by name, and in the text by id', async () => {
    const { answer, said, startAt } = await answerTo({ whatIf: { observersLess: 20 } });
    expect(answer).toMatchObject({ infeasible: true, shortOf: { resource: 'observers', startAt } });
    expect(answer.shortOf?.reason).toContain('the exit of w1');
    expect(said).toContain('Those inside now can’t leave: there is no observer.');
    expect(said).toContain('Not planned, because it would be too late: the exit of Name One.');
    expect(said.join(' ')).not.toMatch(/\b[wrol]\d\b|\bminutes? \d/);
  });

  it('with more people wanted than there are: says when by the clock', async () => {
    const { answer, said, startAt } = await answerTo({}, (instance) => {
      for (const one of instance.workers) one.onDutyToMinute = one.id === 'w1' ? 120 : 60;
    });
    const [reason] = answer.shortOf!.reasons;
    if (reason?.kind !== 'too-few-on-duty') throw new Error(`it is short of something else: ${reason?.kind}`);
    expect(answer.shortOf?.reason).toContain(`At minute ${reason.atMinute} the rooms need 1 person`);
    const time = wallClock(startAt + reason.atMinute * minute);
    expect(said).toContain(`At ${time} the rooms need 1 person inside, and nobody can be covering then.`);
  });
});

describe('a unit that can’t be planned', () => {
  const sample = instanceNamed('M2-12h-4pos-20w');
  const [first] = sample.inside;
  const withFirst = (change: Partial<RotationInstance['workers'][number]>) =>
    sample.workers.map((one) => (one.id === first!.worker ? { ...one, ...change } : one));
  const cases: [string, Partial<RotationInstance>, string][] = [
    [
      'inside for too long',
      { inside: [{ ...first!, sinceMinute: -150 }] },
      "Somebody inside now can't be planned. They have been inside for 150 min already; a plan may keep nobody inside past 150 min, overrun included.",
    ],
    [
      'off duty before doffing is over',
      { inside: [first!], workers: withFirst({ onDutyToMinute: 35 }) },
      "Somebody inside now can't be planned. Doffing and check would end 5 min after the end of their duty.",
    ],
    [
      'in equipment for too long',
      { inside: [{ ...first!, sinceMinute: -5 }], workers: withFirst({ minutesInEquipmentSoFar: 1000 }) },
      `Somebody inside now can't be planned. They would come to ${1000 + 10 + sample.durations.doffing} min in equipment, and the day allows ${sample.perPerson.maxMinutesInEquipment} min.`,
    ],
    [
      'in too often',
      { inside: [{ ...first!, sinceMinute: -5 }], workers: withFirst({ entriesSoFar: 20 }) },
      `Somebody inside now can't be planned. This is entry 21 of their day, and the day allows ${sample.perPerson.maxEntries}.`,
    ],
    [
      'too large',
      { slotMinutes: 5, horizonMinutes: 2880, rooms: [{ id: 'R1', staffInside: 500 }], inside: [] },
      'So many people over so many hours are too much for one plan. Ask for fewer hours.',
    ],
  ];
  it.each(cases)('because of somebody or something %s: says so without an id', (_what, change, sentence) => {
    const read = readInstance({ ...sample, ...change });
    if (read.ok) throw new Error('it can be planned');
    expect(notPlannableSentence(read.refusal)).toBe(sentence);
  });

  it('because of its file: names the setting for the lead', () => {
    const read = readInstance({ ...sample, observerBreak: { minutes: 60, everyMinutes: 30 } });
    expect(read.ok ? '' : notPlannableSentence(read.refusal)).toBe(
      "The unit can't be planned: observerBreak.minutes must be at most its everyMinutes (30), not 60.",
    );
  });
});
