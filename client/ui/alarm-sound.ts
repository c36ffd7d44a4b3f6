import type { Priority } from '../../machines/wire/fact.ts';

/**
 * Alarm bursts after the pattern of the published medical alarm standard (IEC 60601-1-8, from memory): ten, three or two
 * pulses, fundamental between 150 and 1000 Hz with at least four harmonics, so that a tablet's small loudspeaker and an older
 * ear still have something to hear. Browsers keep a page silent until somebody has pressed something: `ready` says so.
 */
export interface Burst {
  pulses: number;
  pulseSeconds: number;
  spacingSeconds: number;
  /** High alarms come as two groups of five, each with a longer pause in the middle. */
  pausesAfter: readonly number[];
  pauseSeconds: number;
  repeatSeconds: number;
  frequencyHz: number;
}

export const bursts: Readonly<Record<Priority, Burst>> = {
  high: {
    pulses: 10,
    pulseSeconds: 0.15,
    spacingSeconds: 0.1,
    pausesAfter: [3, 5, 8],
    pauseSeconds: 0.35,
    repeatSeconds: 8,
    frequencyHz: 660,
  },
  medium: {
    pulses: 3,
    pulseSeconds: 0.2,
    spacingSeconds: 0.2,
    pausesAfter: [],
    pauseSeconds: 0,
    repeatSeconds: 15,
    frequencyHz: 523,
  },
  low: {
    pulses: 2,
    pulseSeconds: 0.2,
    spacingSeconds: 0.25,
    pausesAfter: [],
    pauseSeconds: 0,
    repeatSeconds: 30,
    frequencyHz: 440,
  },
};

/** Start of each pulse of a burst, in seconds from its beginning. */
export function pulseStarts(burst: Burst): number[] {
  const starts: number[] = [];
  let start = 0;
  for (let pulse = 1; pulse <= burst.pulses; pulse++) {
    starts.push(start);
    start += burst.pulseSeconds + (burst.pausesAfter.includes(pulse) ? burst.pauseSeconds : burst.spacingSeconds);
  }
  return starts;
}

const harmonics = new Float32Array([0, 1, 0.7, 0.5, 0.35, 0.25]);

export class AlarmSound {
  private context: AudioContext | undefined;

  get ready(): boolean {
    return this.context?.state === 'running';
  }

  /** Must be called from a press. */
  async unlock(): Promise<void> {
    this.context ??= new AudioContext();
    await this.context.resume();
  }

  play(priority: Priority): void {
    if (!this.context || this.context.state !== 'running') return;
    const { context } = this;
    const burst = bursts[priority];
    const wave = context.createPeriodicWave(new Float32Array(harmonics.length), harmonics);
    for (const start of pulseStarts(burst)) playPulse(context, wave, burst, context.currentTime + 0.02 + start);
  }
}

function playPulse(context: AudioContext, wave: PeriodicWave, burst: Burst, start: number): void {
  const tone = context.createOscillator();
  const level = context.createGain();
  tone.setPeriodicWave(wave);
  tone.frequency.value = burst.frequencyHz;
  level.gain.setValueAtTime(0, start);
  level.gain.linearRampToValueAtTime(0.5, start + 0.02);
  level.gain.setValueAtTime(0.5, start + burst.pulseSeconds - 0.03);
  level.gain.linearRampToValueAtTime(0, start + burst.pulseSeconds);
  tone.connect(level).connect(context.destination);
  tone.start(start);
  tone.stop(start + burst.pulseSeconds);
}
