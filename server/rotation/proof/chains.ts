import { greatestCommonDivisor } from '../common-divisor.ts';
import { reliefSlot, type Slotted } from './slotted.ts';

/**
 * Whatever covers every slot so many times over can be dealt to as many chains, each of which covers every slot once (sweep by the
 * start of cover, always to the chain that ends first). Each person inside heads a chain. Where every stay covers a multiple of
 * `step` slots, so does a chain after its head, and what is left of the horizon then is rounded up to it.
 */
export interface Chains {
  step: number;
  /** What all chains take, rounded up, if nobody were inside. */
  need: number;
  /** Slots that stay uncovered whatever is planned, because nobody can be there so early. */
  late: number;
  /** How much less is needed behind somebody inside since then who leaves in that slot. */
  headed: (since: number, exit: number) => number;
}

export function chainsOf(slotted: Slotted): Chains {
  const { horizon, positions, ongoing, handover, stays, donning } = slotted;
  const covers = stays.map((stay) => stay - handover).filter((cover) => cover > 0);
  const areHeads = ongoing.length <= positions && ongoing.every(({ since }) => since <= donning);
  if (!areHeads || covers.length === 0) {
    const headed = (since: number, exit: number) =>
      Math.max(0, Math.min(exit, horizon) - Math.max(0, since + handover));
    return { step: 1, need: positions * horizon, late: 0, headed };
  }
  const step = covers.reduce(greatestCommonDivisor, 0);
  const after = (slot: number): number => step * Math.ceil(Math.max(0, horizon - slot) / step);
  const relief = Math.min(horizon, reliefSlot(slotted));
  const headless = positions - ongoing.length;
  const gaps = ongoing.reduce((sum, { since }) => sum + Math.min(horizon, Math.max(0, since + handover)), 0);
  return {
    step,
    need: ongoing.length * after(0) + headless * after(relief),
    late: gaps + headless * relief,
    headed: (_since, exit) => after(0) - after(exit),
  };
}
