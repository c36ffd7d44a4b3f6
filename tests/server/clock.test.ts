import { afterEach, expect, it, vi } from 'vitest';
import { systemClock } from '../../server/clock.ts';

afterEach(() => void vi.restoreAllMocks());

/** The two clocks of a machine: the one that people set, and the one that only counts. */
function machine(time: number) {
  let counted = 0;
  vi.spyOn(Date, 'now').mockImplementation(() => time);
  vi.spyOn(performance, 'now').mockImplementation(() => counted);
  return {
    passes(ms: number) {
      time += ms;
      counted += ms;
    },
    isSet(to: number) {
      time = to;
    },
  };
}

it('follows the clock of the machine', () => {
  const at = machine(1_000_000);
  const clock = systemClock();
  at.passes(1_500.5);
  expect(clock.now()).toBe(1_001_500);
});

it('goes on at its own pace when the clock of the machine is set back, and never runs backwards', () => {
  const at = machine(1_000_000);
  const clock = systemClock();
  at.passes(1_000);
  at.isSet(0);
  expect(clock.now()).toBe(1_001_000);
  at.passes(2_000);
  expect(clock.now()).toBe(1_003_000);
});

it('follows at once when the machine has slept or was set forward', () => {
  const at = machine(1_000_000);
  const clock = systemClock();
  at.isSet(5_000_000);
  expect(clock.now()).toBe(5_000_000);
});

it('rings once, unless it is stopped', async () => {
  const clock = systemClock();
  const rung: string[] = [];
  clock.setTimer(0, () => rung.push('stopped'))();
  await new Promise<void>((ring) => clock.setTimer(1, () => ring(void rung.push('rung'))));
  expect(rung).toEqual(['rung']);
});
