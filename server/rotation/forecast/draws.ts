import type { Play } from './floor.ts';
import { normalQuantile } from './normal.ts';
import { fractionOf, philox, wordsOf } from './philox.ts';
import type { Remaining } from './spread.ts';

/** The stages that take chance, in the order of the words of one draw. */
export const drawnStages = ['donning', 'inside', 'leaving', 'doffing'] as const;
export type DrawnStage = (typeof drawnStages)[number];

/** How each person's times are drawn; arrays of four per person. */
export interface Draws {
  seed: readonly [number, number];
  /** Two words per person, from their name and not from their place in the list. */
  keys: Uint32Array;
  scale: Float64Array;
  sigma: Float64Array;
  shift: Float64Array;
  tail: Float64Array;
  passed: Float64Array;
}

export function drawsOf(
  seed: number,
  names: readonly string[],
  remaining: (person: number, stage: DrawnStage) => Remaining,
): Draws {
  const all = names.flatMap((_, person) => drawnStages.map((stage) => remaining(person, stage)));
  return {
    seed: [seed >>> 0, Math.floor(seed / 4_294_967_296) >>> 0],
    keys: Uint32Array.from(names.flatMap(wordsOf)),
    scale: Float64Array.from(all, (one) => one.scale),
    sigma: Float64Array.from(all, (one) => one.sigma),
    shift: Float64Array.from(all, (one) => one.shift),
    tail: Float64Array.from(all, (one) => one.tail),
    passed: Float64Array.from(all, (one) => one.passed),
  };
}

const words = new Uint32Array(4);

/**
 * Common random numbers: the time of (seed, run, entry, stage) is the same whoever else is there and in whatever order things
 * happen. A larger draw is always a longer time.
 */
export function drawRun(draws: Draws, play: Play, run: number): void {
  const { seed, keys } = draws;
  for (let person = 0; person < play.floor.people; person += 1) {
    philox(words, run, keys[2 * person]!, keys[2 * person + 1]!, 0, seed[0], seed[1]);
    play.donning[person] = drawOne(draws, 4 * person, 0);
    play.inside[person] = drawOne(draws, 4 * person + 1, 1);
    play.leaving[person] = drawOne(draws, 4 * person + 2, 2);
    play.doffing[person] = drawOne(draws, 4 * person + 3, 3);
  }
}

function drawOne(draws: Draws, at: number, word: number): number {
  const scale = draws.scale[at]!;
  const sigma = draws.sigma[at]!;
  if (sigma === 0) return scale;
  const z = -normalQuantile(draws.tail[at]! * (1 - fractionOf(words[word]!)));
  return Math.max(0, scale * Math.exp(sigma * (z - draws.shift[at]!)) - draws.passed[at]!);
}
