import type { UnitId } from '../../machines/wire/ids.ts';

/**
 * Who wants to know when a unit's log has grown, for the logs that live in one process. Called in a microtask of its own: a
 * follower that throws is a bug in the follower and must not turn a durable append into a failed one.
 */
export class Followers {
  private readonly byUnit = new Map<UnitId, Set<() => void>>();

  follow(unit: UnitId, onGrown: () => void): () => void {
    // Wrapped, so that the same function followed twice is two followers and stopping one leaves the other.
    const follower = () => onGrown();
    const followers = this.byUnit.get(unit) ?? new Set();
    this.byUnit.set(unit, followers.add(follower));
    return () => {
      followers.delete(follower);
      if (followers.size === 0 && this.byUnit.get(unit) === followers) this.byUnit.delete(unit);
    };
  }

  grown(unit: UnitId): void {
    const followers = this.byUnit.get(unit);
    for (const follower of followers ?? []) {
      queueMicrotask(() => {
        if (followers?.has(follower)) follower();
      });
    }
  }

  clear(): void {
    for (const followers of this.byUnit.values()) followers.clear();
    this.byUnit.clear();
  }
}
