/**
 * Philox4x32-10, a counter-based generator: four 32-bit words that depend on nothing but a counter of four words and a key of
 * two. No state, so a draw belongs to what it is for (run, entry, stage) and not to the order in which draws happen: that is
 * what makes common random numbers hold when one person is changed.
 *
 * Source: J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw, "Parallel random numbers: as easy as 1, 2, 3", SC11 (2011),
 * doi:10.1145/2063384.2063405. tests/server/forecast-chance.test.ts has the authors' known answers.
 */
const multiplier0 = 0xd2511f53 | 0;
const multiplier1 = 0xcd9e8d57 | 0;
const weyl0 = 0x9e3779b9 | 0;
const weyl1 = 0xbb67ae85 | 0;

/** The upper half of the 64-bit product of two unsigned words; JavaScript numbers hold only 53 bits of it. */
function upperHalf(a: number, b: number): number {
  const [aHigh, aLow, bHigh, bLow] = [a >>> 16, a & 0xffff, b >>> 16, b & 0xffff];
  const lowHigh = Math.imul(aLow, bHigh);
  const highLow = Math.imul(aHigh, bLow);
  const middle = (Math.imul(aLow, bLow) >>> 16) + (lowHigh & 0xffff) + (highLow & 0xffff);
  return (Math.imul(aHigh, bHigh) + (lowHigh >>> 16) + (highLow >>> 16) + (middle >>> 16)) | 0;
}

/** Writes the four words for this counter and key into `into`. */
export function philox(
  into: Uint32Array,
  counter0: number,
  counter1: number,
  counter2: number,
  counter3: number,
  key0: number,
  key1: number,
): void {
  let [word0, word1, word2, word3] = [counter0 | 0, counter1 | 0, counter2 | 0, counter3 | 0];
  let [round0, round1] = [key0 | 0, key1 | 0];
  for (let round = 0; round < 10; round += 1) {
    const high0 = upperHalf(multiplier0, word0);
    const high1 = upperHalf(multiplier1, word2);
    const low0 = Math.imul(multiplier0, word0);
    word0 = high1 ^ word1 ^ round0;
    word1 = Math.imul(multiplier1, word2);
    word2 = high0 ^ word3 ^ round1;
    word3 = low0;
    round0 = (round0 + weyl0) | 0;
    round1 = (round1 + weyl1) | 0;
  }
  into[0] = word0;
  into[1] = word1;
  into[2] = word2;
  into[3] = word3;
}

/** A word as a number strictly between 0 and 1. */
export const fractionOf = (word: number): number => (word + 0.5) / 4_294_967_296;

/**
 * Two 32-bit words that stand for a name: FNV-1a (Fowler, Noll, Vo; RFC 9923), the second word over the name from behind. Names
 * that differ get other draws; two names out of a thousand share all 64 bits with a chance below 1e-13.
 */
export function wordsOf(name: string): [number, number] {
  return [fnv1a([...name]), fnv1a([...name].reverse())];
}

function fnv1a(characters: readonly string[]): number {
  return characters.reduce((hash, one) => Math.imul(hash ^ one.codePointAt(0)!, 0x01000193), 0x811c9dc5 | 0) >>> 0;
}
