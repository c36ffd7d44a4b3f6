import { describe, expect, it } from 'vitest';
import { audienceOf } from '../../machines/alert/audience.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { roles, type Role } from '../../machines/wire/rights.ts';
import { given, inside, leaving, onDuty, passes, reports, second, type Then } from '../support/unit-fixture.ts';

/** Who an alert calls while it climbs. */
const noted = given(
  onDuty('o1', 'o2'),
  inside('o1', 'w1'),
  leaving('o1', 'w1'),
  reports('o1', 'note-deviation', { worker: 'w1', step: 'gown-off', deviationKind: 'torn' }),
);
const climbed = (ms: number) => noted.when(passes(ms));
const audience = ({ state }: Then, role: Role, person?: string) =>
  audienceOf(state, Object.values(state.alerts)[0]!, role, person as PersonId | undefined);
const called = (then: Then) =>
  roles.filter((role) => audience(then, role, role === 'observer' ? 'o2' : undefined) === 'called');

describe('whom an alert calls', () => {
  it('first the observer it concerns, and no other', () => {
    const fresh = climbed(0);
    expect([audience(fresh, 'observer', 'o1'), audience(fresh, 'observer', 'o2'), audience(fresh, 'observer')]).toEqual(
      ['called', 'not-theirs', 'not-theirs'],
    );
    expect([called(fresh), audience(fresh, 'coordinator')]).toEqual([[], 'shown']);
  });

  it('then the coordinator, the safety officer, and at last everybody; whoever was called stays called', () => {
    expect(called(climbed(10 * second))).toEqual(['coordinator']);
    expect(called(climbed(60 * second))).toEqual(['coordinator', 'safety-officer']);
    expect(called(climbed(180 * second))).toEqual(['coordinator', 'observer', 'safety-officer']);
    expect(audience(climbed(180 * second), 'observer', 'o1')).toBe('called');
  });

  it('a wall shows, whatever happens', () => {
    expect([audience(climbed(0), 'wall'), audience(climbed(180 * second), 'wall')]).toEqual(['shown', 'shown']);
  });

  it('an observer who is only expected is called too', () => {
    const expected = given(
      onDuty('o2'),
      reports('c1', 'call-worker', { worker: 'w1', room: 'r1', procedure: 'gown', observer: 'o2' }),
    ).when(reports('c1', 'declare-breach', { worker: 'w1', breachKind: 'splash' }));
    expect([audience(expected, 'observer', 'o2'), audience(expected, 'observer', 'o1')]).toEqual([
      'called',
      'not-theirs',
    ]);
  });
});
