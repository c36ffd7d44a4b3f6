import { chainsOf } from './chains.ts';
import { LinearModel } from './linear-model.ts';
import type { Goal, Resource, RotationModel } from './model-goal.ts';
import { kindsOf, mostCarried, timesMax, total, wearsOf } from './people-kinds.ts';
import { onDutyCount, type Duty, type Ongoing, type Slotted } from './slotted.ts';

/**
 * The rotation as a linear problem without names: how many of each duty start in which slot for how long, when each person inside
 * leaves, how many observers start a break when. Every plan that keeps the rules is a solution of at most the same cost, so the
 * least cost is a lower bound. It stays one without names because nothing is lost or only more is allowed:
 * rooms of equal rules merge into positions; workers of a duty, lanes and observers merge into capacities (intervals of which at
 * most n overlap can be given to n of them); daily limits and the largest person are kept as sums and counts.
 */
export function rotationModel(slotted: Slotted, goal: Goal): RotationModel {
  return new Builder(slotted, goal).build();
}

class Builder {
  private readonly linear = new LinearModel();
  private readonly laneRows = new Map<number, number>();
  private readonly observerRows = new Map<number, number>();
  private readonly workerRows: Map<number, number>[];
  private readonly coverRows: number[] = [];
  /** Columns of how many are missing in each slot. */
  private readonly missing: number[] = [];
  private readonly extra: Partial<Record<Resource, number[]>> = {};
  /** New entries and their slots in equipment, one column per duty. */
  private readonly entryCounts: number[];
  private readonly equipmentSlots: number[];
  private readonly entryCountRows: number[];
  private readonly equipmentRows: number[];
  /** Columns of each ongoing entry's exit, with the slots in equipment that it means. */
  private readonly exits: { column: number; exit: number; slots: number }[][] = [];
  private largest: number | undefined;

  private readonly slotted: Slotted;
  private readonly goal: Goal;

  constructor(slotted: Slotted, goal: Goal) {
    this.slotted = slotted;
    this.goal = goal;
    const { duties } = slotted;
    for (const resource of goal.kind === 'extra' ? goal.of : []) {
      const columns = resource === 'workers' ? duties.length : 1;
      this.extra[resource] = Array.from({ length: columns }, () => this.linear.column(1, 0, Infinity, 'count'));
    }
    this.workerRows = duties.map(() => new Map<number, number>());
    this.entryCounts = duties.map(() => this.linear.column(0, 0, Infinity, 'count'));
    this.equipmentSlots = duties.map(() => this.linear.column(0, 0, Infinity, 'real'));
    this.entryCountRows = this.entryCounts.map((column) => this.sumRow(column));
    this.equipmentRows = this.equipmentSlots.map((column) => this.sumRow(column));
  }

  build(): RotationModel {
    this.addCover();
    for (const [index, ongoing] of this.slotted.ongoing.entries()) this.addOngoing(ongoing, index);
    for (const [index, duty] of this.slotted.duties.entries()) this.addEntries(duty, index);
    this.addChains();
    this.addBreaks();
    for (const index of this.slotted.duties.keys()) this.addDailyLimits(index);
    this.addTotal();
    this.addLargest();
    const { linear, laneRows, observerRows, workerRows, extra, largest } = this;
    return { linear, laneRows, observerRows, workerRows, extra, largest };
  }

  private get isCost(): boolean {
    return this.goal.kind === 'cost';
  }

  /** A row saying that what is put into it later adds up to the column. */
  private sumRow(column: number): number {
    const row = this.linear.row(0, 0);
    this.linear.put(row, column, -1);
    return row;
  }

  private addCover(): void {
    const { horizon, positions, weights } = this.slotted;
    const cost = this.isCost ? weights.uncoveredSlot : 0;
    const most = this.goal.kind === 'extra' ? 0 : positions;
    for (let slot = 0; slot < horizon; slot += 1) {
      const row = this.linear.row(positions, Infinity);
      const missing = this.linear.column(cost, 0, most, 'real');
      this.linear.put(row, missing, 1);
      this.coverRows.push(row);
      this.missing.push(missing);
    }
  }

  /** What all chains need after their heads; a missing slot may spare a chain up to `step` of them. */
  private addChains(): void {
    const { doffing, handover } = this.slotted;
    const { step, need, headed } = chainsOf(this.slotted);
    // The cover of each slot says the same where there is nothing to round up.
    if (step === 1) return;
    const row = this.linear.row(need, Infinity);
    for (const [index, equipment] of this.equipmentSlots.entries()) {
      this.linear.put(row, equipment, 1);
      this.linear.put(row, this.entryCounts[index]!, -(doffing + handover));
    }
    for (const column of this.missing) this.linear.put(row, column, step);
    for (const [index, { since }] of this.slotted.ongoing.entries())
      for (const { column, exit } of this.exits[index]!) this.linear.put(row, column, headed(since, exit));
  }

  private addOngoing(ongoing: Ongoing, index: number): void {
    const { weights, longestStay, doffing, handover } = this.slotted;
    const choice = this.linear.row(1, 1);
    this.exits[index] = [];
    if (this.isCost) this.linear.offset += weights.entry;
    const last = this.goal.kind === 'extra' && this.goal.exits === 'in-time' ? ongoing.exitDue : ongoing.exitMax;
    for (let exit = ongoing.exitMin; exit <= last; exit += 1) {
      const overrun = Math.max(0, exit - ongoing.since - longestStay);
      const column = this.linear.column(this.isCost ? weights.overrunSlot * overrun : 0, 0, 1, 'choice');
      this.linear.put(choice, column, 1);
      this.exits[index].push({ column, exit, slots: exit - ongoing.since + doffing });
      this.putCover(column, ongoing.since + handover, exit);
      this.putExit(column, exit);
      this.putBusy(column, ongoing.duty, 0, exit);
    }
  }

  /** Entries that would cover nothing inside the horizon are left out: leaving one out never costs. */
  private addEntries(duty: Duty, index: number): void {
    const { donning, handover, horizon, stays, weights, doffing, postCheck } = this.slotted;
    const useful = stays.filter((stay) => stay > handover);
    for (let start = duty.from; start + donning + handover < horizon; start += 1) {
      for (const stay of useful) {
        const exit = start + donning + stay;
        if (exit + doffing + postCheck > duty.to) continue;
        const column = this.linear.column(this.isCost ? weights.entry : 0, 0, Infinity, 'choice');
        this.linear.put(this.entryCountRows[index]!, column, 1);
        this.linear.put(this.equipmentRows[index]!, column, stay + doffing);
        this.putCover(column, start + donning + handover, exit);
        for (let slot = start; slot < start + donning; slot += 1) this.linear.put(this.observerRow(slot), column, 1);
        this.putExit(column, exit);
        this.putBusy(column, index, start, exit);
      }
    }
  }

  private putCover(column: number, from: number, to: number): void {
    const end = Math.min(to, this.slotted.horizon);
    for (let slot = Math.max(0, from); slot < end; slot += 1) this.linear.put(this.coverRows[slot]!, column, 1);
  }

  private putExit(column: number, exit: number): void {
    const { doffing, turnover } = this.slotted;
    for (let slot = exit; slot < exit + doffing; slot += 1) this.linear.put(this.observerRow(slot), column, 1);
    for (let slot = exit; slot < exit + doffing + turnover; slot += 1) this.linear.put(this.laneRow(slot), column, 1);
  }

  private putBusy(column: number, duty: number, from: number, exit: number): void {
    const { doffing, postCheck, rest } = this.slotted;
    const end = exit + doffing + postCheck + rest;
    for (let slot = from; slot < end; slot += 1) this.linear.put(this.workerRow(duty, slot), column, 1);
  }

  /** Lanes in use, of which the last one costs when it is taken too. */
  private laneRow(slot: number): number {
    const { lanes, weights } = this.slotted;
    const known = this.laneRows.get(slot);
    if (known !== undefined) return known;
    const row = this.linear.row(-Infinity, lanes);
    this.laneRows.set(slot, row);
    this.putExtra(row, 'lanes', 0);
    if (this.isCost && lanes > 0 && weights.allLanesBusySlot > 0) {
      this.linear.rowUppers[row] = lanes - 1;
      this.linear.put(row, this.linear.column(weights.allLanesBusySlot, 0, 1, 'real'), -1);
    }
    return row;
  }

  private observerRow(slot: number): number {
    const known = this.observerRows.get(slot);
    if (known !== undefined) return known;
    const row = this.linear.row(-Infinity, this.slotted.observers);
    this.observerRows.set(slot, row);
    this.putExtra(row, 'observers', 0);
    return row;
  }

  private workerRow(duty: number, slot: number): number {
    const rows = this.workerRows[duty]!;
    const known = rows.get(slot);
    if (known !== undefined) return known;
    const row = this.linear.row(-Infinity, onDutyCount(this.slotted.duties[duty]!, slot, this.slotted.rest));
    rows.set(slot, row);
    this.putExtra(row, 'workers', duty);
    return row;
  }

  private putExtra(row: number, resource: Resource, index: number, value = -1): void {
    const column = this.extra[resource]?.[index];
    if (column !== undefined) this.linear.put(row, column, value);
  }

  /** Every observer, also every extra one, starts one break in each full period. */
  private addBreaks(): void {
    const { breakSlots, periodSlots, periods, observers } = this.slotted;
    if (breakSlots === 0) return;
    for (let period = 0; period < periods; period += 1) {
      const all = this.linear.row(observers, observers);
      this.putExtra(all, 'observers', 0);
      const last = (period + 1) * periodSlots - breakSlots;
      for (let start = period * periodSlots; start <= last; start += 1) {
        const column = this.linear.column(0, 0, Infinity, 'choice');
        this.linear.put(all, column, 1);
        for (let slot = start; slot < start + breakSlots; slot += 1) this.linear.put(this.observerRow(slot), column, 1);
      }
    }
  }

  private addDailyLimits(index: number): void {
    const { entriesMax, minutesMax, ongoing, duties } = this.slotted;
    const { people } = duties[index]!;
    const inside = [...ongoing.keys()].filter((one) => ongoing[one]!.duty === index);
    const entriesLeft = total(people, ({ entriesBefore }) => Math.max(0, entriesMax - entriesBefore));
    const entries = this.linear.row(-Infinity, entriesLeft - inside.length);
    this.linear.put(entries, this.entryCounts[index]!, 1);
    this.putExtra(entries, 'workers', index, -entriesMax);
    const slotsLeft = total(people, ({ slotsBefore }) => Math.max(0, minutesMax - slotsBefore));
    const slots = this.linear.row(-Infinity, slotsLeft);
    this.putEquipment(slots, index, inside);
    this.putExtra(slots, 'workers', index, -minutesMax);
  }

  /** All new entries together: a whole number already says something where the duties' own numbers would take long. */
  private addTotal(): void {
    if (!this.isCost || this.entryCounts.length < 2) return;
    const row = this.sumRow(this.linear.column(0, 0, Infinity, 'total'));
    for (const column of this.entryCounts) this.linear.put(row, column, 1);
  }

  private putEquipment(row: number, duty: number, inside: readonly number[]): void {
    this.linear.put(row, this.equipmentSlots[duty]!, 1);
    for (const one of inside) this.putOngoingSlots(row, one);
  }

  private putOngoingSlots(row: number, ongoing: number): void {
    for (const { column, slots } of this.exits[ongoing]!) this.linear.put(row, column, slots);
  }

  private addLargest(): void {
    if (this.goal.kind !== 'cost' || this.goal.people.kind === 'left-out') return;
    const { people } = this.goal;
    if (people.kind === 'average') this.addAverage();
    else for (const index of this.slotted.duties.keys()) this.addCounts(index, people.slots);
  }

  /** The largest person has at least the average of each duty, and at least what anybody has already. */
  private addAverage(): void {
    const { people, duties, ongoing, weights } = this.slotted;
    const before = Math.max(...people.map(({ slotsBefore }) => slotsBefore));
    const largest = this.linear.column(weights.largestPersonSlots, before, Infinity, 'real');
    this.largest = largest;
    for (const [index, duty] of duties.entries()) {
      const row = this.linear.row(-Infinity, -total(duty.people, ({ slotsBefore }) => slotsBefore));
      const inside = [...ongoing.keys()].filter((one) => ongoing[one]!.duty === index);
      this.putEquipment(row, index, inside);
      this.linear.put(row, largest, -duty.people.length);
    }
    for (const [index, { slotsBefore }] of ongoing.entries()) {
      const row = this.linear.row(-Infinity, -slotsBefore);
      this.putOngoingSlots(row, index);
      this.linear.put(row, largest, -1);
    }
  }

  /**
   * With the largest person's slots given: how many people of each kind have m entries, who together can carry the duty's slots.
   * Somebody with m entries carries at most what m of the allowed stays add up to below the given number.
   */
  private addCounts(index: number, largest: number): void {
    const { duties, ongoing } = this.slotted;
    const most = Math.min(largest, this.slotted.minutesMax);
    const entries = this.linear.row(0, 0);
    this.linear.put(entries, this.entryCounts[index]!, -1);
    const carried = this.linear.row(-Infinity, 0);
    this.linear.put(carried, this.equipmentSlots[index]!, 1);
    for (const { count, slotsBefore, entriesBefore } of kindsOf(duties[index]!.people)) {
      const all = this.linear.row(count, count);
      for (let times = 0; times <= timesMax(this.slotted, most - slotsBefore, entriesBefore); times += 1) {
        const column = this.linear.column(0, 0, count, 'count');
        this.linear.put(all, column, 1);
        this.linear.put(entries, column, times);
        this.linear.put(carried, column, -mostCarried(wearsOf(this.slotted), times, most - slotsBefore));
      }
    }
    for (const [one, { duty, slotsBefore, entriesBefore }] of ongoing.entries()) {
      if (duty === index) this.addOngoingCounts(one, most - slotsBefore, entriesBefore, entries, carried);
    }
  }

  /**
   * The same for somebody who is inside now: what they can still carry depends on when they leave and on how often they go in again,
   * so there is a column for each pair of the two. Leaving so late that it is too much already has none.
   */
  private addOngoingCounts(one: number, left: number, entriesBefore: number, entries: number, carried: number): void {
    const exits = this.exits[one]!.map(({ column, slots }) => ({ left: left - slots, row: this.sumRow(column) }));
    const again = timesMax(this.slotted, left, entriesBefore + 1);
    for (let times = 0; times <= again; times += 1) {
      const chosen = this.linear.column(0, 0, 1, 'choice');
      this.linear.put(entries, chosen, times);
      const row = this.sumRow(chosen);
      for (const exit of exits) {
        if (exit.left < 0 || times > timesMax(this.slotted, exit.left, entriesBefore + 1)) continue;
        const column = this.linear.column(0, 0, 1, 'real');
        this.linear.put(exit.row, column, 1);
        this.linear.put(row, column, 1);
        this.linear.put(carried, column, -mostCarried(wearsOf(this.slotted), times, exit.left));
      }
    }
  }
}
