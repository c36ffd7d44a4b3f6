import { describe, expect, it } from 'vitest';
import { floorNames } from '../../client/board/floor-names.ts';
import { wallClock } from '../../client/board/clock.ts';
import { RotationApi, type PlanAnswer } from '../../client/rotation/answers.ts';
import { reasonWords, shortWords } from '../../client/rotation/short-said.ts';
import { minuteMs } from '../../client/rotation/times.ts';
import type { ShortageReason } from '../../machines/unit/shortage.ts';
import { everyReason } from '../support/shortage-reasons.ts';
import { given, openedAt } from '../support/unit-fixture.ts';

const { rules } = given().world.state;
const names = floorNames(rules, (id) => `Name of ${id.replace('w', 'worker ')}`);
const clock = (minute: number) => wallClock(openedAt + minute * minuteMs);
const said = (reason: ShortageReason) => reasonWords(reason, clock, names);

/** Every moment of a reason, whatever its kind. */
const momentsOf = (reason: ShortageReason): number[] =>
  Object.entries(reason).flatMap(([name, value]) => (name.endsWith('Minute') ? [value as number] : []));

describe('why something is short, on the page', () => {
  it.each(everyReason.map((reason) => [reason.kind, reason] as const))(
    '%s: every moment as a clock time, no minute of the plan and no id',
    (_kind, reason) => {
      const text = said(reason).join(' ');
      expect(text.length).toBeGreaterThan(20);
      for (const moment of momentsOf(reason)) {
        expect(text).toContain(clock(moment));
        expect(text).not.toMatch(new RegExp(`(?<!\\d)${moment}(?!\\d)`));
      }
      expect(text).not.toMatch(/\bminutes? \d/i);
      expect(text).not.toMatch(/\b(r|w|l|o)\d\b/);
      expect(text).not.toMatch(/undefined|NaN|\[object/);
      for (const sentence of said(reason)) expect(sentence).toMatch(/^[A-Z0-9].*\.$/);
    },
  );

  it('names the room, and whoever is left out', () => {
    expect(
      said({ kind: 'room-empty', room: 'r1', staffInside: 1, there: 0, atMinute: 20, newcomersMinute: 30 }),
    ).toEqual([
      `Room 1 needs 1 person at ${clock(20)}, and nobody of those inside can cover it then.`,
      `Whoever starts donning now covers from ${clock(30)} at the earliest: only people who are inside already could fill this gap.`,
    ]);
    expect(said({ kind: 'left-out', workers: ['w1', 'w2', 'w3'] })[0]).toBe(
      'Not planned, because it would be too late: the exit of Name of worker 1, Name of worker 2 and Name of worker 3.',
    );
  });

  it('says between which times exits clash', () => {
    const [first, relief, held] = said({
      ...{ kind: 'late-exits', resource: 'lanes', has: 1, heldMinutes: 35, people: 2 },
      ...{ fromMinute: 20, byMinute: 55, reliefMinute: 20, overrunIncluded: false },
    });
    expect(first).toBe(`2 of those inside now are due out between ${clock(20)} and ${clock(55)}.`);
    expect(relief).toBe(`Nobody can relieve them before ${clock(20)}.`);
    expect(held).toBe('Each takes the only doffing lane for 35 min, so the last would be late.');
  });

  it('after what is short and how many would do, each sentence once', () => {
    const reason: ShortageReason = { kind: 'tight-mostly', resource: 'lanes', ofMinutes: 240 };
    const short = { resource: 'lanes', atLeast: 1, enough: 2, startAt: openedAt, reasons: [reason, null, reason] };
    expect(shortWords(short, names)).toEqual([
      'Short of doffing lanes.',
      'At least 1 more doffing lane would be needed.',
      '2 more doffing lanes would do.',
      'The doffing lanes are short most of the time.',
    ]);
  });

  it('counts its times from the start of the plan', () => {
    const reasons: ShortageReason[] = [
      { kind: 'tightest', resource: 'lanes', fromMinute: 20, toMinute: 55, dueOut: 0 },
    ];
    const startAt = openedAt + 90 * minuteMs;
    expect(shortWords({ resource: 'lanes', startAt, reasons }, names)).toContain(
      `The doffing lanes are tightest between ${clock(110)} and ${clock(145)}.`,
    );
  });
});

it('a reason of a kind that the page does not know is left out, and the plan is shown all the same', async () => {
  const known: ShortageReason = { kind: 'no-help', resources: ['observers'] };
  const shortOf = { resource: 'lanes', reason: 'Text.', startAt: openedAt, reasons: [{ kind: 'weather' }, known] };
  const plan = { id: 'p', status: 'finished', seconds: 10, secondsSoFar: 10, whatIf: false, notKept: [] };
  const api = new RotationApi('small' as never, () => Promise.resolve(Response.json({ ...plan, shortOf })));
  const asked = await api.planSoFar('p');
  const answer = asked.is === 'answered' ? (asked.answer as PlanAnswer) : undefined;
  expect(answer?.shortOf?.reasons).toEqual([null, known]);
  expect(shortWords(answer!.shortOf!, names)).toEqual([
    'Short of doffing lanes.',
    'More observers alone would not help.',
  ]);
});
