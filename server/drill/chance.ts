import { wholeBelow, type Chance } from '../seeded-chance.ts';

/** What the people of a drill leave to chance. */
export const between = (chance: Chance, low: number, high: number): number => low + chance() * (high - low);
export const pick = <One>(chance: Chance, from: readonly One[]): One | undefined =>
  from[wholeBelow(chance, from.length)];
