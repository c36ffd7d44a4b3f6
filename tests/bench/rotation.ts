import { readdirSync, readFileSync } from 'node:fs';
import type { RotationInstance } from '../../server/rotation/instance.ts';
import { planRotation } from '../../server/rotation/plan-rotation.ts';

/**
 * What the planner reaches in ten seconds on the sample instances. Times mean little without the machine, so a small fixed
 * computation is timed before and after each instance and printed beside it.
 */
const seconds = 10;
const folder = new URL('../support/rotation-instances/', import.meta.url);

/** Milliseconds for two million steps of a linear congruential generator and a sum of square roots: one core's speed. */
function speedMs(): number {
  const start = performance.now();
  let state = 1;
  let sum = 0;
  for (let step = 0; step < 2_000_000; step += 1) {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    sum += Math.sqrt(state);
  }
  return sum > 0 ? performance.now() - start : NaN;
}

speedMs();
for (const file of readdirSync(folder).sort()) {
  const { instance } = JSON.parse(readFileSync(new URL(file, folder), 'utf8')) as { instance: RotationInstance };
  const before = speedMs();
  let fullSeconds: number | undefined;
  const result = await planRotation(instance, {
    seconds,
    seed: 1,
    now: () => performance.now(),
    onProgress: (soFar) => {
      if (soFar.uncoveredMinutes === 0) fullSeconds ??= soFar.seconds;
    },
  });
  const { status, objective, lowerBound, boundSource, gapPct, shortOf } = result;
  console.log(
    [
      file.replace('.json', ''),
      status,
      `objective ${objective}`,
      `bound ${lowerBound} (${boundSource})`,
      `gap ${gapPct} %`,
      fullSeconds === undefined ? 'no full plan' : `full plan after ${fullSeconds} s`,
      `ended after ${result.seconds} s`,
      shortOf ? `short of ${shortOf.resource}: proven ${shortOf.atLeast ?? '?'}, found ${shortOf.enough ?? '?'}` : '',
      `fixed computation ${before.toFixed(1)} and ${speedMs().toFixed(1)} ms`,
    ]
      .filter(Boolean)
      .join(', '),
  );
}
