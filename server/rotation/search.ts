import { seededChance } from '../seeded-chance.ts';
import type { Chance } from '../seeded-chance.ts';
import { greatestCommonDivisor } from './common-divisor.ts';
import { buildForward, positionFor, putKept, putOngoing } from './construct.ts';
import { costOfRoster } from './cost.ts';
import type { PlanCost } from './cost.ts';
import type { Entry } from './entries.ts';
import type { Plan, PlannedEntry, RotationInstance } from './instance.ts';
import { tryMove } from './moves.ts';
import { nameByDropping, nameRoster } from './naming.ts';
import { Roster } from './roster.ts';
import { entryPerSlot, scoreOf, toldScoreOf } from './score.ts';
import type { Steering } from './score.ts';
import { problemOf } from './slots.ts';
import type { LaneAway, ObserverAway, Problem } from './slots.ts';
import { Workshop } from './workshop.ts';

export interface FoundPlan {
  plan: Plan;
  cost: PlanCost;
}

/** What the search plans around, beside the instance itself. */
export interface SearchSetting {
  /** Replays exactly: the same seed and the same number of moves give the same plan. */
  seed: number;
  /** Entries that stay exactly as they are, people and lanes and observers included. Whatever they break stays broken. */
  keep?: PlannedEntry[];
  /** The plan so far, shifted to now: changing what it does within the next two hours costs `changeWeight` an entry. */
  previous?: Plan;
  /** Default 5: five entries' worth. */
  changeWeight?: number;
  lanesAway?: LaneAway[];
  /** An absence at least as long as a break stands for the break of its period. */
  observersAway?: ObserverAway[];
  /** People inside who must be out by a minute (0: as soon as possible). It binds where a lane allows it. */
  mustLeave?: { worker: string; byMinute: number }[];
}

export interface SearchOptions extends SearchSetting {
  budgetMs: number;
  /** Milliseconds from any fixed moment: the search has no clock of its own. */
  now: () => number;
  onImproved?: (found: FoundPlan) => void;
  /** Asked every few moves: true ends the search before its budget. */
  shouldStop?: () => boolean;
}

/**
 * Searches until the budget is used up and returns the best plan by then. Never throws for want of staff, lanes or time: what can't
 * be covered stays uncovered. With no lane at all nobody can leave, and the plan has no entries.
 */
export function searchPlan(instance: RotationInstance, options: SearchOptions): FoundPlan {
  const end = options.now() + options.budgetMs;
  const search = new PlanSearch(instance, options);
  const isOver = () => options.now() >= end || options.shouldStop?.() === true;
  search.onImproved = options.onImproved ?? (() => {});
  search.build(isOver);
  while (!isOver()) search.move(movesPerLook);
  return search.best;
}

/** So many moves between two looks at the clock: about a millisecond. */
const movesPerLook = 8;
const coolingFirst = 1500;
const coolingRepair = 400;
const coolingLongest = 4000;
const heat = 1.2;
const cold = 0.03;
/** Shares of the weight of one uncovered slot. */
const heatOfTrouble = 0.4;
const changeHorizonMinutes = 120;

/**
 * The search as something to be driven: `build` makes a first plan, `move` improves it by so many moves, `best` is there after
 * every call. Simulated annealing over large neighbourhoods (`moves.ts`), heated up again from the best plan each time it is cold.
 */
export class PlanSearch {
  onImproved: (found: FoundPlan) => void = () => {};
  readonly problem: Problem;
  readonly roster: Roster;
  readonly workshop: Workshop;
  moves = 0;
  /** What the best plan is judged by: its cost, and what it changes of an earlier one. Infinity while there is none. */
  foundScore = Number.POSITIVE_INFINITY;
  private readonly chance: Chance;
  private found: FoundPlan | null = null;
  private bestEntries: Entry[] = [];
  private bestScore = Number.POSITIVE_INFINITY;
  private score = Number.POSITIVE_INFINITY;
  private cooling = coolingFirst;
  private sinceHeated = 0;
  private rounds = 0;
  private isBuilt = false;

  constructor(instance: RotationInstance, setting: SearchSetting) {
    this.problem = problemOf(instance, setting);
    this.roster = new Roster(this.problem);
    this.workshop = new Workshop(this.roster);
    this.chance = seededChance(setting.seed);
    this.roster.steering = steeringFor(this.problem, 0, false, 0);
    if (setting.previous) setHopes(this.roster, setting.previous, setting.changeWeight ?? 5);
    putKept(this.roster, setting.keep ?? []);
  }

  /** The best plan so far; before `build`, one with what is kept alone. */
  get best(): FoundPlan {
    if (!this.found) this.build(() => true);
    return (this.found ??= this.reduced());
  }

  build(isOver: () => boolean = () => false): void {
    if (this.isBuilt) return;
    this.isBuilt = true;
    putOngoing(this.roster);
    this.look();
    buildForward(this.workshop, isOver);
    this.look();
  }

  /** In the place of `build`: the roster has been filled from an earlier plan. */
  adopt(): void {
    this.isBuilt = true;
    // Little time, and most is well as it is: no heat to speak of.
    this.rounds = 1;
    this.cooling = coolingRepair;
    this.look();
  }

  /** Works for about as long as `now` stays below `untilMs`: for a thread that has to hear messages in between. */
  step(untilMs: number, now: () => number): void {
    this.build(() => now() >= untilMs);
    while (now() < untilMs) this.move(movesPerLook);
  }

  move(count: number): void {
    for (let i = 0; i < count; i++) this.moveOnce();
  }

  /** Nothing has found its numbers so far: what can be told of the roster. It does not stand in the way of anything better. */
  private reduced(): FoundPlan {
    const { plan, without } = nameByDropping(this.roster, this.chance);
    for (const entry of without) this.roster.remove(entry);
    const cost = costOfRoster(this.roster);
    for (const entry of without) this.roster.add(entry);
    return { plan, cost };
  }

  private moveOnce(): void {
    this.moves++;
    if (this.sinceHeated++ >= this.cooling) this.heatUp();
    const undo = tryMove(this.workshop, this.chance);
    if (!undo) return;
    const score = scoreOf(this.roster);
    const temperature = this.heat * (cold / heat) ** (this.sinceHeated / this.cooling);
    if (score - this.score > -temperature * Math.log(1 - this.chance())) {
      undo();
      return;
    }
    this.score = score;
    this.consider();
  }

  /**
   * While something is uncovered or overruns, every second round takes steps of that size back and forth. The others are for what
   * can be had although it stays so; their heat is about one entry.
   */
  private get heat(): number {
    const { uncoveredSlot, overrunSlot } = this.problem.instance.weights;
    if (!this.isTroubled || this.rounds % 2 === 1) return heat;
    return Math.max(heat, heatOfTrouble * this.problem.slotShare * Math.max(uncoveredSlot, overrunSlot));
  }

  private get largestMinutes(): number {
    return (this.found?.cost.largestPersonSlots ?? 0) * this.problem.instance.slotMinutes;
  }

  private get isTroubled(): boolean {
    const { uncoveredSlots = 1, overrunSlots = 0 } = this.found?.cost ?? {};
    return uncoveredSlots > 0 || overrunSlots > 0;
  }

  private heatUp(): void {
    this.sinceHeated = 0;
    this.rounds++;
    this.roster.steering = steeringFor(this.problem, this.rounds, this.isTroubled, this.largestMinutes);
    this.cooling = Math.min(coolingLongest, Math.round(this.cooling * 1.4));
    for (const entry of this.roster.chains.flat()) if (entry.kind !== 'kept') this.roster.remove(entry);
    for (const entry of this.bestEntries) if (entry.kind !== 'kept') this.roster.add({ ...entry });
    this.score = scoreOf(this.roster);
  }

  /** Takes the roster as it is for the state to go on from. */
  look(): void {
    this.score = scoreOf(this.roster);
    this.consider();
  }

  /** A better state counts once lanes and observers have found their numbers: only then it is a plan. */
  private consider(): void {
    const score = toldScoreOf(this.roster);
    if (score < this.bestScore - 1e-9) {
      this.bestScore = score;
      this.bestEntries = this.roster.chains.flat().map((entry) => ({ ...entry }));
    }
    if (score >= this.foundScore - 1e-9) return;
    const plan = nameRoster(this.roster, this.chance);
    if (!plan) return;
    this.foundScore = score;
    this.found = { plan, cost: costOfRoster(this.roster) };
    this.onImproved(this.found);
  }
}

/**
 * Takes turns, as no one way of steering is best for all instances. Mostly everybody's minutes above a ceiling count, a little each:
 * a ceiling that lies just below the largest share of the best plan lets the largest fall person by person, while the first round
 * only looks at the largest. What stays add up to moves in steps of their common divisor, and the ceiling with it. Crumbs of lane
 * time matter while something is uncovered.
 */
function steeringFor(problem: Problem, round: number, isTroubled: boolean, largestMinutes: number): Steering {
  const { weights } = problem.instance;
  const spread = turn(round, [0.001, 0.001, 0, 0.0004, 0, 0.0002]) * weights.largestPersonSlots;
  const reach = turn(round, [1, 0.5, 0]) * entryPerSlot(problem);
  const stepMinutes = problem.stays.reduce(greatestCommonDivisor, 0) * problem.grid;
  const minutes = largestMinutes - turn(round, [1.5, 1, 0, 0.5]) * stepMinutes;
  const price = turn(round, [0.15, 0.1, 0.075]) * weights.largestPersonSlots;
  const crumbs = isTroubled && round % 2 === 1 ? 0.02 * weights.entry : 0;
  return { spread, reach, ceiling: round === 0 ? null : { minutes, price }, crumbs };
}

const turn = (round: number, values: readonly number[]): number => values[round % values.length]!;

/** Entries of the earlier plan that begin or end within two hours, told by position. */
function setHopes(roster: Roster, previous: Plan, weight: number): void {
  const { problem } = roster;
  const { donning } = problem.instance.durations;
  for (const planned of previous.entries) {
    const worker = problem.workers.findIndex(({ id }) => id === planned.worker);
    const inside = problem.ongoing.some((frame) => frame.worker === worker);
    const exitMinute = planned.donningStartMinute + donning + planned.insideMinutes;
    const near = planned.donningStartMinute < 0 ? inside && exitMinute <= changeHorizonMinutes : true;
    const position = positionFor(roster, planned.room, planned.worker);
    if (worker < 0 || position < 0 || !near || planned.donningStartMinute >= changeHorizonMinutes) continue;
    roster.hopes.push({
      number: roster.hopes.length,
      position,
      worker,
      start: planned.donningStartMinute < 0 ? -1 : planned.donningStartMinute / problem.grid,
      exit: exitMinute / problem.grid,
    });
  }
  roster.hopeWeight = weight;
}
