import { describe, expect, it } from 'vitest';
import { bursts, pulseStarts } from '../../client/ui/alarm-sound.ts';

// IEC 60601-1-8, from memory: pulses per burst, pulse length, spacing, fundamental and repetition of the three priorities.
describe('the alarm bursts', () => {
  it('have ten, three and two pulses (IEC 60601-1-8, from memory)', () => {
    expect(pulseStarts(bursts.high)).toHaveLength(10);
    expect(pulseStarts(bursts.medium)).toHaveLength(3);
    expect(pulseStarts(bursts.low)).toHaveLength(2);
  });

  it('keep pulse length, spacing, fundamental and repetition inside the bands (IEC 60601-1-8, from memory)', () => {
    const bands = {
      high: { pulse: [0.075, 0.2], spacing: [0.05, 0.125], repeat: [2.5, 15] },
      medium: { pulse: [0.125, 0.25], spacing: [0.125, 0.25], repeat: [2.5, 30] },
      low: { pulse: [0.125, 0.25], spacing: [0.125, 0.25], repeat: [15, Infinity] },
    } as const;
    for (const priority of ['high', 'medium', 'low'] as const) {
      const burst = bursts[priority];
      const { pulse, spacing, repeat } = bands[priority];
      expect(burst.pulseSeconds).toBeGreaterThanOrEqual(pulse[0]);
      expect(burst.pulseSeconds).toBeLessThanOrEqual(pulse[1]);
      expect(burst.spacingSeconds).toBeGreaterThanOrEqual(spacing[0]);
      expect(burst.spacingSeconds).toBeLessThanOrEqual(spacing[1]);
      expect(burst.repeatSeconds).toBeGreaterThanOrEqual(repeat[0]);
      expect(burst.repeatSeconds).toBeLessThanOrEqual(repeat[1]);
      expect(burst.frequencyHz).toBeGreaterThanOrEqual(150);
      expect(burst.frequencyHz).toBeLessThanOrEqual(1000);
    }
  });

  it('end before they begin again, and never overlap their own pulses', () => {
    for (const burst of Object.values(bursts)) {
      const starts = pulseStarts(burst);
      expect((starts.at(-1) ?? 0) + burst.pulseSeconds).toBeLessThan(burst.repeatSeconds);
      starts
        .slice(1)
        .forEach((start, index) => expect(start - (starts[index] ?? 0)).toBeGreaterThan(burst.pulseSeconds));
    }
  });
});
