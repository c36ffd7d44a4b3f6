/** Seeded chance (mulberry32), so that the same drill can be run again. */
export type Chance = () => number;

export function seededChance(seed: number): Chance {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
}

export const between = (chance: Chance, low: number, high: number): number => low + chance() * (high - low);
export const pick = <One>(chance: Chance, from: readonly One[]): One | undefined =>
  from[Math.floor(chance() * from.length)];
