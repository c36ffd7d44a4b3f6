import { describe, expect, it } from 'vitest';
import { hourWindow, partOf, shareOf, tenMinuteMarks } from '../../client/board/hour.ts';
import { lanePlan, laneViews, nextInLane, overlaps, type LanePlan } from '../../client/board/lane-view.ts';
import type { LaneId } from '../../machines/wire/ids.ts';
import {
  atThreshold,
  doffed,
  enters,
  given,
  inside,
  leaving,
  minute,
  onDuty,
  passes,
  reports,
  type Act,
} from '../support/unit-fixture.ts';

const l1 = 'l1' as LaneId;
const l2 = 'l2' as LaneId;
const closes = (lane: string) => reports('c1', 'close-lane', { lane, reason: 'Spill' });
const holds = (lane: string, worker: string) => reports('c1', 'hold-lane', { lane, worker });

function planned(...acts: (Act | Act[])[]) {
  const { state, now } = given(onDuty('o1', 'o2'), ...acts).world;
  return { state, now, plan: lanePlan(state, now) };
}
const laneIn = (plan: LanePlan, lane: LaneId) => plan.lines.find((line) => line.lane === lane)!;

describe('a lane as the board shows it', () => {
  it('is free, held for somebody, or closed with the reason', () => {
    const { state } = planned(inside('o1', 'w1'), holds('l1', 'w1'));
    expect(laneViews(state)).toMatchObject([
      { id: 'l1', is: 'held', worker: 'w1' },
      { id: 'l2', is: 'free' },
    ]);
    expect(laneViews(planned(closes('l2')).state)[1]).toMatchObject({ is: 'closed', because: 'Spill' });
  });

  it('is occupied since a time, with the minutes that are expected', () => {
    const { state, now } = planned(
      inside('o1', 'w1'),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l1'),
      passes(3 * minute),
    );
    expect(laneViews(state)[0]).toMatchObject({
      is: 'occupied',
      worker: 'w1',
      since: now - 3 * minute,
      expectedMinutes: 10,
    });
  });

  it('is in turnover until the time that the fact carries', () => {
    const acts = [...inside('o1', 'w1'), ...atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1'), ...doffed('o1', 'w1')];
    const { state, now } = planned(acts);
    expect(laneViews(state)[0]).toMatchObject({ is: 'turnover', until: now + 10 * minute });
  });
});

describe('the doffings to be expected', () => {
  it('are nobody’s while nobody is in equipment', () => {
    const { plan } = planned();
    expect(plan.lines.map((line) => line.spans)).toEqual([[], []]);
  });

  it('start at the call-out time, take the expected minutes and carry call-out time and limit', () => {
    const { plan, now } = planned(inside('o1', 'w1'), passes(5 * minute));
    expect(laneIn(plan, l1).spans).toEqual([
      {
        worker: 'w1',
        going: false,
        wanted: now + 40 * minute,
        from: now + 40 * minute,
        to: now + 50 * minute,
        callOutAt: now + 40 * minute,
        limitAt: now + 55 * minute,
      },
    ]);
    expect(laneIn(plan, l1).turnovers).toEqual([{ from: now + 50 * minute, to: now + 60 * minute }]);
  });

  it('take different lanes when they come at the same time', () => {
    const { plan } = planned(inside('o1', 'w1'), inside('o2', 'w2'));
    expect(nextInLane(plan, l1)?.worker).toBe('w1');
    expect(nextInLane(plan, l2)?.worker).toBe('w2');
    expect(overlaps(plan, Infinity)).toEqual([]);
  });

  it('begin now for somebody who is called out', () => {
    const { plan, now } = planned(inside('o1', 'w1'), leaving('o1', 'w1'));
    expect(nextInLane(plan, l1)).toMatchObject({ wanted: now, from: now, callOutAt: undefined });
  });

  it('show an exit that would have to wait, and for how long', () => {
    const { plan, now } = planned(closes('l2'), inside('o1', 'w1'), inside('o2', 'w2'));
    const spans = laneIn(plan, l1).spans;
    expect(spans.map((span) => span.worker)).toEqual(['w1', 'w2']);
    // Ten minutes of doffing and ten of turnover come first.
    expect(spans[1]).toMatchObject({ wanted: now + 45 * minute, from: now + 65 * minute });
    expect(overlaps(plan, Infinity).map((span) => span.worker)).toEqual(['w2']);
    expect(overlaps(plan, now + 30 * minute)).toEqual([]);
  });

  it('let whoever is at the threshold go before whoever is still inside', () => {
    const { plan } = planned(closes('l2'), inside('o1', 'w1'), inside('o2', 'w2'), atThreshold('o2', 'w2'));
    expect(laneIn(plan, l1).spans.map((span) => span.worker)).toEqual(['w2', 'w1']);
  });

  it('keep a held lane for whom it is held, and put others behind', () => {
    const { plan } = planned(closes('l2'), inside('o1', 'w1'), inside('o2', 'w2'), holds('l1', 'w2'));
    expect(laneIn(plan, l1).spans.map((span) => span.worker)).toEqual(['w2', 'w1']);
  });

  it('go on in the lane until the expected end, and at least until now', () => {
    const acts = [...inside('o1', 'w1'), ...atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1')];
    const early = planned(acts, passes(4 * minute));
    expect(laneIn(early.plan, l1).spans[0]).toMatchObject({ going: true, to: early.now + 6 * minute });
    const late = planned(acts, passes(14 * minute));
    expect(laneIn(late.plan, l1).spans[0]).toMatchObject({ going: true, to: late.now });
    expect(nextInLane(late.plan, l1)).toBeUndefined();
  });

  it('wait without a lane when none is open', () => {
    const { plan } = planned(closes('l1'), closes('l2'), inside('o1', 'w1'));
    expect(plan.without.map((span) => span.worker)).toEqual(['w1']);
    expect(overlaps(plan, Infinity).map((span) => span.worker)).toEqual(['w1']);
  });

  it('give everybody in equipment exactly one doffing', () => {
    const { plan } = planned(
      inside('o1', 'w1'),
      atThreshold('o1', 'w1'),
      enters('o1', 'w1', 'l2'),
      inside('o2', 'w2', 'hood'),
      inside('o2', 'w3', 'gown', 'r2'),
    );
    const everybody = [...plan.lines.flatMap((line) => line.spans), ...plan.without].map((span) => span.worker);
    expect(everybody.sort()).toEqual(['w1', 'w2', 'w3']);
  });

  it('never put two people into a lane at the same time, nor into one that is being cleaned', () => {
    const { plan } = planned(
      closes('l2'),
      inside('o1', 'w1'),
      inside('o2', 'w2', 'hood'),
      inside('o2', 'w3', 'gown', 'r2'),
      passes(20 * minute),
    );
    const { spans, turnovers } = laneIn(plan, l1);
    expect(spans).toHaveLength(3);
    for (const [index, span] of spans.slice(1).entries()) {
      expect(span.from).toBeGreaterThanOrEqual(spans[index]!.to);
      expect(span.from).toBeGreaterThanOrEqual(turnovers[index]!.to);
    }
  });
});

describe('the window of the next hour', () => {
  const now = Date.parse('2026-03-02T08:03:40Z');
  const window = hourWindow(now);

  it('starts with the whole minute, so that it moves once a minute', () => {
    expect(window).toEqual({ from: Date.parse('2026-03-02T08:03:00Z'), to: Date.parse('2026-03-02T09:03:00Z') });
    expect(hourWindow(now + 19_000)).toEqual(window);
  });

  it('places times by their share, and none that is outside', () => {
    expect(shareOf(window, window.from + 15 * minute)).toBe(0.25);
    expect(shareOf(window, window.from - 1)).toBeUndefined();
    expect(shareOf(window, window.to + 1)).toBeUndefined();
  });

  it('cuts a span to what is inside', () => {
    expect(partOf(window, window.from - 10 * minute, window.from + 30 * minute)).toEqual({ start: 0, length: 0.5 });
    expect(partOf(window, window.from + 45 * minute, window.to + 10 * minute)).toEqual({ start: 0.75, length: 0.25 });
    expect(partOf(window, window.to, window.to + minute)).toBeUndefined();
  });

  it('has its marks on the full ten minutes', () => {
    const marks = tenMinuteMarks(window).map((mark) => new Date(mark).toISOString().slice(11, 16));
    expect(marks).toEqual(['08:10', '08:20', '08:30', '08:40', '08:50', '09:00']);
  });
});
