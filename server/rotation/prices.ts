import type { Roster } from './roster.ts';
import type { Problem } from './slots.ts';

/** More than any plan costs, and still far from where adding a few of them loses digits. */
export const impossible = 1e12;

/**
 * What one more entry would cost, beside everything that is in the roster now: per start, per exit, and for the best worker per stay
 * and start. With these a chain is rebuilt at the price of a table look-up per candidate.
 */
export interface Prices {
  start: Float64Array;
  exit: Float64Array;
  /** Whether two more exits at once would find lanes at a slot: counted up to the slot, so a span is a difference. */
  tightLanes: Int32Array;
  /** Per stay × length + start. */
  work: Float64Array;
  who: Int16Array;
}

export function emptyPrices(problem: Problem): Prices {
  const { length } = problem;
  return {
    start: new Float64Array(length + 1),
    exit: new Float64Array(length + 1),
    tightLanes: new Int32Array(length + 1),
    work: new Float64Array(problem.stays.length * length),
    who: new Int16Array(problem.stays.length * length),
  };
}

export interface PriceSpan {
  position: number;
  /** Starts and exits in [from, to) are priced. */
  from: number;
  to: number;
  /** Breaks lie where they would be packed now, instead of being left to find another place. */
  breaksTaken: Int16Array | null;
}

export function priceAll(roster: Roster, prices: Prices, span: PriceSpan): void {
  priceSlots(roster, prices, span);
  priceWorkers(roster, prices, span);
  priceHopes(roster, prices, span);
}

/**
 * How many of the two ends of a lane's use touch no other use: each may leave a piece of lane time that is too short for anybody.
 * Where lanes are nearly all used, exits side by side are what leaves room for the rest.
 */
function crumbs(lanesTaken: Int16Array, exit: number, laneHold: number): number {
  const before = exit > 0 && lanesTaken[exit - 1]! <= lanesTaken[exit]! ? 1 : 0;
  const after = lanesTaken[exit + laneHold]! <= lanesTaken[exit + laneHold - 1]! ? 1 : 0;
  return before + after;
}

/** Sliding counts: at `slot` the span [slot, slot + hold) ahead has been counted. */
function priceSlots(roster: Roster, prices: Prices, { from, to, breaksTaken }: PriceSpan): void {
  const { problem, lanesTaken, observersTaken } = roster;
  const { laneHold, doffing, donning, lanes, observers, length } = problem;
  const fullPrice = problem.instance.weights.allLanesBusySlot * problem.slotShare;
  const noObserver = (slot: number) => (observersTaken[slot]! + (breaksTaken?.[slot] ?? 0) >= observers ? 1 : 0);
  const noLane = (slot: number) => (lanesTaken[slot]! >= lanes ? 1 : 0);
  const lastLane = (slot: number) => (lanesTaken[slot]! === lanes - 1 ? 1 : 0);
  const [blocked, filled, undoffed, undonned] = [
    window(noLane),
    window(lastLane),
    window(noObserver),
    window(noObserver),
  ];
  // An exit that takes no time of a lane still needs one to be there.
  const nobody = lanes === 0 || observers === 0 ? 1 : 0;
  const crumbWeight = roster.steering.crumbs;
  const crumbPrice = (slot: number) => (crumbWeight > 0 ? crumbWeight * crumbs(lanesTaken, slot, laneHold) : 0);
  for (let slot = from; slot < to; slot++) {
    const exitBlocked = blocked(slot, laneHold) + undoffed(slot, doffing) + nobody;
    prices.exit[slot] = exitBlocked > 0 ? impossible : fullPrice * filled(slot, laneHold) + crumbPrice(slot);
    const offSlot = slot % problem.slotSteps !== 0;
    prices.start[slot] = undonned(slot, donning) > 0 || offSlot ? impossible : 0;
  }
  for (let slot = from; slot < Math.min(to + laneHold, length); slot++) {
    prices.tightLanes[slot + 1] =
      (slot === from ? 0 : prices.tightLanes[slot]!) + (lanesTaken[slot]! + 2 > lanes ? 1 : 0);
  }
  prices.tightLanes[from] = 0;
}

/** The sum of `of` over [slot, slot + width), for slots asked one after the other. */
function window(of: (slot: number) => number): (slot: number, width: number) => number {
  let sum = 0;
  let next = -1;
  return (slot, width) => {
    if (slot !== next) {
      sum = 0;
      for (let i = 0; i < width; i++) sum += of(slot + i);
    }
    const now = sum;
    sum += of(slot + width) - of(slot);
    if (width === 0) sum = 0;
    next = slot + 1;
    return now;
  };
}

function priceWorkers(roster: Roster, prices: Prices, span: PriceSpan): void {
  const { problem } = roster;
  const { length } = problem;
  const { maxEntries, maxMinutesInEquipment } = problem.instance.perPerson;
  for (let stay = 0; stay < problem.stays.length; stay++) {
    prices.work.fill(impossible, stay * length + span.from, stay * length + span.to);
    prices.who.fill(-1, stay * length + span.from, stay * length + span.to);
  }
  const scale = wearScale(roster, span.from, span.to);
  for (let worker = 0; worker < problem.workers.length; worker++) {
    if (roster.entriesOf[worker]! >= maxEntries) continue;
    for (let stay = 0; stay < problem.stays.length; stay++) {
      if (roster.minutesOf(worker) + problem.wear[stay]! > maxMinutesInEquipment) continue;
      const price = wearPrice(roster, worker, problem.wear[stay]!, scale);
      offer(roster, prices, span, worker, stay, price);
    }
  }
}

/** Against what a worker's minutes are weighed: the most anybody has, and the least anybody has who might be taken instead. */
export interface WearScale {
  largest: number;
  least: number;
}

export function wearScale(roster: Roster, from: number, to: number): WearScale {
  const { workers, instance } = roster.problem;
  let least = Number.POSITIVE_INFINITY;
  for (let worker = 0; worker < workers.length; worker++) {
    const { readySlot, dutyEndSlot } = workers[worker]!;
    if (readySlot >= to || dutyEndSlot <= from || roster.entriesOf[worker]! >= instance.perPerson.maxEntries) continue;
    least = Math.min(least, roster.wear[worker]!);
  }
  return { largest: roster.wearMax, least: Number.isFinite(least) ? least : 0 };
}

/**
 * What more minutes for this worker do to the objective, and to the spread compared with the one who has least. Never below zero:
 * otherwise an entry nobody needs would pay, only because somebody has had little so far.
 */
export function wearPrice(roster: Roster, worker: number, minutes: number, { largest, least }: WearScale): number {
  const { weights, slotMinutes } = roster.problem.instance;
  const before = roster.wear[worker]!;
  const { ceiling } = roster.steering;
  const top = ceiling?.minutes ?? largest;
  const above = (Math.max(0, before + minutes - top) - (ceiling ? Math.max(0, before - top) : 0)) / slotMinutes;
  const apart = (2 * minutes * Math.max(0, before - least)) / (slotMinutes * slotMinutes);
  return (ceiling?.price ?? weights.largestPersonSlots) * above + roster.steering.spread * apart;
}

/** Offers the worker at this price for every start at which all of the entry, with its rest, lies in a gap of theirs. */
function offer(roster: Roster, prices: Prices, span: PriceSpan, worker: number, stay: number, price: number): void {
  const { problem } = roster;
  const { work, who } = prices;
  const base = stay * problem.length;
  const frame = problem.workers[worker]!;
  const dutyStart = frame.dutyEndSlot - problem.donning - problem.stays[stay]! - problem.aftercare;
  const entries = roster.byWorker[worker]!;
  let gapFrom = frame.readySlot;
  for (let i = 0; i <= entries.length; i++) {
    const gapTo = i < entries.length ? entries[i]!.start - problem.busy[stay]! : problem.length;
    const last = base + Math.min(gapTo, dutyStart, span.to - 1);
    for (let at = base + Math.max(gapFrom, span.from); at <= last; at++) {
      if (work[at]! <= price) continue;
      work[at] = price;
      who[at] = worker;
    }
    if (i < entries.length) gapFrom = Math.max(gapFrom, entries[i]!.busyEnd);
  }
}

/** Repeating an entry of the earlier plan saves what changing it costs, if its worker can. */
function priceHopes(roster: Roster, prices: Prices, span: PriceSpan): void {
  const { problem } = roster;
  if (roster.hopeWeight === 0) return;
  const room = problem.positions[span.position]!.room;
  const scale = wearScale(roster, span.from, span.to);
  for (const hope of roster.hopes) {
    if (hope.start < span.from || hope.start >= span.to || problem.positions[hope.position]!.room !== room) continue;
    const stay = problem.stays.indexOf(hope.exit - hope.start - problem.donning);
    if (stay < 0 || !isFreeFor(roster, hope.worker, hope.start, stay)) continue;
    const at = stay * problem.length + hope.start;
    const price = wearPrice(roster, hope.worker, problem.wear[stay]!, scale) - roster.hopeWeight;
    if (price >= prices.work[at]!) continue;
    prices.work[at] = price;
    prices.who[at] = hope.worker;
  }
}

function isFreeFor(roster: Roster, worker: number, start: number, stay: number): boolean {
  const { problem } = roster;
  const exit = start + problem.donning + problem.stays[stay]!;
  const span = { start, exit, busyEnd: exit + problem.recovery, wearMinutes: problem.wear[stay]! };
  return roster.canCarry(worker, span);
}
