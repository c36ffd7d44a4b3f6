import { describe, expect, it } from 'vitest';
import { whatIsLeft } from '../../client/rotation/editing.ts';
import type { Rotation } from '../../machines/unit/rotation.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { plannedFor } from '../support/rotation-fixture.ts';
import {
  atThreshold,
  doffed,
  enters,
  given,
  inside,
  minute,
  onDuty,
  openedAt,
  passes,
  reports,
} from '../support/unit-fixture.ts';

/** A rotation that is withdrawn by a slip: what is left of it can be had back, and says nothing untrue about what is over. */
const at = (minutes: number) => openedAt + minutes * minute;
const l2 = { lane: 'l2' } as Partial<ReturnType<typeof plannedFor>>;
const o1 = 'o1' as PersonId;
const rotation: Rotation = {
  ...{ startAt: openedAt, endAt: at(240) },
  trips: [plannedFor('w1', 0), plannedFor('w2', 50, l2), plannedFor('w3', 120), plannedFor('w1', 150)],
  breaks: [
    { observer: o1, at: at(20), minutes: 15 },
    { observer: o1, at: at(100), minutes: 15 },
  ],
  quality: { objective: 10, lowerBound: 9, gapPct: 10 },
};
const adopts = (one: Rotation) => reports('c1', 'adopt-rotation', { rotation: one });
const shift = given(
  onDuty('o1', 'o2'),
  adopts(rotation),
  inside('o1', 'w1'),
  passes(45 * minute),
  atThreshold('o1', 'w1'),
  enters('o1', 'w1', 'l1'),
  passes(10 * minute),
  doffed('o1', 'w1'),
  inside('o2', 'w2'),
  passes(8 * minute),
).world;
const adopted = shift.state.rotation!;
const left = whatIsLeft(adopted, shift.now);

describe('what is left of a rotation', () => {
  it('has what is running and what is ahead, and neither what is done nor what nobody began in time', () => {
    expect(left.trips.map(({ id }) => id)).toEqual(['w2-50', 'w3-120', 'w1-150']);
    expect(whatIsLeft(adopted, at(170)).trips.map(({ id }) => id)).toEqual(['w2-50', 'w1-150']);
  });
  it('begins now, on a whole slot, with the breaks that are ahead and no proof about what it was', () => {
    expect(left.startAt).toBe(at(60));
    expect(left.breaks).toEqual([rotation.breaks[1]]);
    expect(left).not.toHaveProperty('quality');
  });
  it('is accepted after it was withdrawn, and knows who is in an entry already', () => {
    const again = given(() => ({ world: shift, before: shift, facts: [] }) as never)
      .when(reports('c1', 'drop-rotation', { reason: 'adopted by mistake' }), adopts(left))
      .then('rotation-adopted');
    expect(again.state.rotation?.real).toEqual({ 'w2-50': adopted.real['w2-50'] });
  });
});
