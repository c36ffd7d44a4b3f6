import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { DeviceId } from '../../machines/wire/ids.ts';
import type { Presence } from '../../server/presence/presence.ts';
import { unitNamed } from '../support/facts.ts';

/** What presence must do, whatever it is kept in. `open` opens another one on the same store where `shared`. */
export function presenceContract(name: string, shared: boolean, makeStore: () => () => Promise<Presence>): void {
  describe(`the presence contract on ${name}`, () => {
    const unit = unitNamed('cedar');
    const tablet = 'tablet-1' as DeviceId;
    const wall = 'wall-1' as DeviceId;
    let open: () => Promise<Presence>;
    let presence: Presence;
    beforeEach(async () => {
      open = makeStore();
      presence = await open();
    });
    afterEach(() => presence.close());

    it('has heard nobody at first', async () => {
      expect(await presence.lastHeard(unit)).toEqual(new Map());
    });

    it('remembers when each device was last heard, unit by unit', async () => {
      await presence.heard(unit, tablet, 1000);
      await presence.heard(unit, wall, 1500);
      await presence.heard(unit, tablet, 2000);
      await presence.heard(unitNamed('birch'), tablet, 9000);
      expect(await presence.lastHeard(unit)).toEqual(
        new Map([
          [tablet, 2000],
          [wall, 1500],
        ]),
      );
    });

    it('takes nothing back for a heartbeat that came late', async () => {
      await presence.heard(unit, tablet, 1_900_000_000_002);
      await presence.heard(unit, tablet, 1_900_000_000_001);
      expect(await presence.lastHeard(unit)).toEqual(new Map([[tablet, 1_900_000_000_002]]));
    });

    it('forgets a device that left, and hears it again when it is back', async () => {
      await presence.heard(unit, tablet, 1000);
      await presence.forget(unit, tablet);
      await presence.forget(unit, wall);
      expect(await presence.lastHeard(unit)).toEqual(new Map());
      await presence.heard(unit, tablet, 500);
      expect(await presence.lastHeard(unit)).toEqual(new Map([[tablet, 500]]));
    });

    it('gives a copy', async () => {
      await presence.heard(unit, tablet, 1000);
      const before = await presence.lastHeard(unit);
      await presence.heard(unit, tablet, 2000);
      expect(before.get(tablet)).toBe(1000);
    });

    if (shared)
      it('is one for all servers', async () => {
        const second = await open();
        await Promise.all([
          presence.heard(unit, tablet, 1000),
          second.heard(unit, tablet, 3000),
          presence.heard(unit, tablet, 2000),
        ]);
        for (const one of [presence, second]) expect(await one.lastHeard(unit)).toEqual(new Map([[tablet, 3000]]));
        await second.close();
      });
  });
}
