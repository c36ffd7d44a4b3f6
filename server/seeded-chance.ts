/** A source of numbers in [0, 1) that depends on its seed alone, so that a drill or a search can be run again. */
export type Chance = () => number;

/** Mulberry32, by Tommy Ettinger: public domain, from memory. */
export function seededChance(seed: number): Chance {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** A whole number in [0, below). */
export const wholeBelow = (chance: Chance, below: number): number => Math.floor(chance() * below);
