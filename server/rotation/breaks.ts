import type { BreakPeriod, Problem } from './slots.ts';

/** The first slot from this one on at which a break may start. */
export function onSlot({ slotSteps }: Problem, slot: number): number {
  return Math.ceil(slot / slotSteps) * slotSteps;
}

/**
 * As many breaks as one period holds beside the given use of observers, each as early as it can be; their starts, ascending.
 *
 * Breaks are not part of the search's state: they are equally long and nobody's in particular, so taking the earliest place again
 * and again fits in the most of them, and the search only has to ask whether all are in.
 */
export function packBreaks(problem: Problem, observersTaken: Int16Array, period: BreakPeriod): number[] {
  const { breakSlots, observers, slotSteps } = problem;
  const starts: number[] = [];
  // How many of the breaks started so far are still running at a slot: they end in the order of their start.
  let firstRunning = 0;
  for (
    let start = onSlot(problem, period.fromSlot);
    start + breakSlots <= period.toSlot && starts.length < period.wanted;
    start += slotSteps
  ) {
    while (firstRunning < starts.length && starts[firstRunning]! + breakSlots <= start) firstRunning++;
    const running = starts.length - firstRunning;
    let room = observers;
    for (let slot = start; slot < start + breakSlots && room > 0; slot++) {
      let still = 0;
      for (let i = firstRunning; i < firstRunning + running; i++) if (starts[i]! + breakSlots > slot) still++;
      room = Math.min(room, observers - observersTaken[slot]! - still);
    }
    for (let i = 0; i < room && starts.length < period.wanted; i++) starts.push(start);
  }
  return starts;
}
