import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { RotationInstance } from '../../server/rotation/instance.ts';
import { readInstance, rotationRefusalCodes } from '../../server/rotation/read-instance.ts';

const url = new URL('../support/rotation-instances/S1-12h-1pos-6w.json', import.meta.url);
const { instance: good } = JSON.parse(readFileSync(url, 'utf8')) as { instance: RotationInstance };

type Fields = Record<string, unknown>;

/** An instance in which anything may be put anywhere. */
interface Loose {
  horizonMinutes: unknown;
  durations: Fields;
  weights: Fields;
  observerBreak: Fields;
  workers: Fields[];
  inside: Fields[];
}

/** The sample with something changed. */
function changed(change: (instance: Loose) => void): unknown {
  const copy = structuredClone(good) as unknown as Loose;
  change(copy);
  return copy;
}

function refusalOf(value: unknown) {
  const read = readInstance(value);
  return read.ok ? 'accepted' : `${read.refusal.code}: ${read.refusal.message}`;
}

const cases: [what: string, change: (instance: Loose) => void, answer: string][] = [
  [
    'a negative duration',
    (one) => (one.durations.donning = -5),
    'rotation/out-of-bounds: durations.donning must be at least 0, not -5',
  ],
  [
    'an unknown worker inside',
    (one) => (one.inside[0]!.worker = 'nobody'),
    'rotation/unknown-worker: inside[0].worker "nobody" is not among the workers',
  ],
  [
    'an unknown room inside',
    (one) => (one.inside[0]!.room = 'R9'),
    'rotation/unknown-room: inside[0].room "R9" is not among the rooms',
  ],
  [
    'a worker twice',
    (one) => one.workers.push({ ...one.workers[0] }),
    'rotation/twice: workers[6].id "G1-w01" is there already as workers[0].id',
  ],
  [
    'a person inside twice',
    (one) => one.inside.push({ ...one.inside[0] }),
    'rotation/twice: inside[1].worker "G1-w01" is there already as inside[0].worker',
  ],
  [
    'a missing key',
    (one) => delete one.workers[2]!.entriesSoFar,
    'rotation/missing-field: the field workers[2].entriesSoFar is missing',
  ],
  [
    'an unknown key',
    (one) => (one.durations.showering = 5),
    'rotation/unknown-field: there is no field durations.showering',
  ],
  [
    'a duration between two slots',
    (one) => (one.durations.rest = 7),
    'rotation/not-on-a-slot: durations.rest must be a multiple of slotMinutes (5), not 7',
  ],
  [
    'a number that is none',
    (one) => (one.durations.rest = NaN),
    'rotation/wrong-type: durations.rest must be a number, not NaN',
  ],
  [
    'a text for a number',
    (one) => (one.weights.entry = '1'),
    'rotation/wrong-type: weights.entry must be a number, not "1"',
  ],
  [
    'a duty backwards',
    (one) => (one.workers[1]!.onDutyToMinute = -10),
    'rotation/duty-backwards: workers[1].onDutyToMinute -10 lies before its onDutyFromMinute 0',
  ],
  [
    'a huge horizon',
    (one) => (one.horizonMinutes = 1e9),
    'rotation/out-of-bounds: horizonMinutes must be at most 2880, not 1000000000',
  ],
  [
    'a break longer than its period',
    (one) => (one.observerBreak.minutes = 300),
    'rotation/out-of-bounds: observerBreak.minutes must be at most its everyMinutes (240), not 300',
  ],
  [
    'somebody inside who comes later',
    (one) => (one.inside[0]!.sinceMinute = 5),
    'rotation/out-of-bounds: inside[0].sinceMinute must be at most 0, not 5',
  ],
  [
    'somebody inside beyond every overrun',
    (one) => (one.inside[0]!.sinceMinute = -150),
    'rotation/no-way-out: inside[0]: "G1-w01" is inside for 150 minutes already and cannot leave within the longest stay and maxOverrunMinutes (150 together)',
  ],
  [
    'somebody inside whose duty is over',
    (one) => (one.workers[0]!.onDutyToMinute = 35),
    'rotation/no-way-out: inside[0]: "G1-w01" cannot be out before onDutyToMinute 35: doffing and post-check take until minute 40',
  ],
];

describe('reading an instance', () => {
  it('accepts all samples', () => {
    for (const name of [
      'S1-12h-1pos-6w',
      'M2-12h-4pos-20w',
      'INFEASIBLE-X1-lane-short',
      'INFEASIBLE-X5-shift-overlap',
    ]) {
      const file = new URL(`../support/rotation-instances/${name}.json`, import.meta.url);
      const { instance } = JSON.parse(readFileSync(file, 'utf8')) as { instance: RotationInstance };
      expect(readInstance(instance)).toEqual({ ok: true, instance });
    }
  });

  it.each(cases)('refuses %s and names the field', (_what, change, answer) => {
    expect(refusalOf(changed(change))).toBe(answer);
  });

  it('refuses more people × slots than can be searched', () => {
    const value = { ...good, slotMinutes: 1, horizonMinutes: 2880, rooms: [{ id: 'R1', staffInside: 500 }] };
    expect(refusalOf(value)).toBe(
      'rotation/too-large: rooms ask for 500 people over 2880 slots; at most 200000 people × slots',
    );
  });

  it('answers anything at all, with a known code and one line', () => {
    fc.assert(
      fc.property(fc.anything(), (value) => {
        const read = readInstance(value);
        if (read.ok) return false;
        return rotationRefusalCodes.includes(read.refusal.code) && !read.refusal.message.includes('\n');
      }),
    );
  });

  it('answers every field being anything', () => {
    const fields = Object.keys(good);
    fc.assert(
      fc.property(fc.constantFrom(...fields), fc.anything(), (field, value) => {
        const read = readInstance({ ...good, [field]: value });
        return read.ok || rotationRefusalCodes.includes(read.refusal.code);
      }),
    );
  });
});
