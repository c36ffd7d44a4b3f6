import type { Phase } from './procedure.ts';
import type { Model, ModelItem, ModelStep, Named, World } from './proof-model.ts';

/**
 * How contamination gets from surface to surface, over-approximated: what may be contaminated counts as contaminated.
 *
 *   hands close to a surface     contaminated hands contaminate it
 *   hands on surfaces            one contaminated among them contaminates all, the hands too
 *   inside on what it covers     always, while it lies on the body
 *   coming off                   pulled: the outside brushes all that it lay over; inside out or lifted: it does not
 *   glove peeled off             its outside may touch the layer below even so (unless glove-peel-clean)
 *   hygiene                      right agent, full time: clears the own hands, and what clean hands wipe
 *
 * Every function changes the world it is given.
 */
export type Note = (from: number, to: number) => void;

export class Contact {
  /** The first surface that must stay clean and did not. */
  reached: number | undefined;
  private readonly model: Model;
  private readonly world: World;
  private readonly phase: Phase;
  private readonly note: Note | undefined;

  constructor(model: Model, world: World, phase: Phase, note?: Note) {
    this.model = model;
    this.world = world;
    this.phase = phase;
    this.note = note;
  }

  soil(to: number, from: number): void {
    if (this.world[to]) return;
    this.world[to] = 1;
    this.note?.(from, to);
    // Before the room there is only everyday dirt, which disinfected gloves carry to no face.
    const used = this.model.usedMarkOf.get(to);
    if (used !== undefined && this.phase !== 'donning') this.world[used] = 1;
    if (this.model.isProtected(to, this.phase)) this.reached ??= to;
  }

  /** Surfaces that touch each other in one go, in whatever order: one contaminated, all contaminated. */
  together(surfaces: readonly number[]): void {
    const source = surfaces.find((surface) => this.world[surface]);
    if (source === undefined) return;
    for (const surface of surfaces) this.soil(surface, source);
  }

  /** A contaminated inside contaminates what it lies on, for as long as it lies on it. */
  through(item: ModelItem): void {
    if (!this.world[item.worn] || !this.world[item.outward] || !this.world[item.inside]) return;
    for (const covered of item.covers) this.soil(covered, item.inside);
  }
}

/** The surface that touches things: the outermost glove of the worker, the bare hands, or a helper's gloves. */
export function handOf(model: Model, world: World, by: ModelStep['step']['by']): number {
  if (by !== 'worker') return model.at[`${by}-gloves`];
  return outermostGlove(model, world)?.outside ?? model.at.hands;
}

export const outermostGlove = (model: Model, world: World): ModelItem | undefined =>
  model.gloves.findLast((glove) => world[glove.worn]);

/** The surfaces that a name stands for now; none when it is not there, or lies under gloves. */
export function surfacesOf(model: Model, world: World, named: Named, phase: Phase): number[] {
  if (!('item' in named)) {
    const isGlovedSkin = named.surface === model.at.hands && outermostGlove(model, world) !== undefined;
    return isGlovedSkin ? [] : [named.surface];
  }
  const { item, parts } = named;
  // In donning a piece is handled before it is worn; later, what is not worn is not there any more.
  if (!world[item.worn]) return phase === 'donning' && item.isForRoom ? (parts ?? [item.outside]) : [];
  if (item.isGlove && outermostGlove(model, world) !== item) return [];
  return parts ?? [world[item.outward] ? item.outside : item.inside];
}

/** All that hands do in a step before anything has come off. */
export function touch(model: Model, world: World, step: ModelStep, hand: number, contact: Contact): void {
  const { phase } = step.step;
  const touched = step.touches.flatMap((named) => surfacesOf(model, world, named, phase));
  const fresh = step.putsOn.flatMap((item) => [item.outside, item.inside]);
  const kit = step.putsOn.length > 0 && !model.assumptions['kit-starts-clean'] ? [model.at.kit] : [];
  contact.together([hand, ...kit, ...touched, ...fresh]);
  if (hand === model.at.hands && phase !== 'donning') touchBare(world, step, contact, hand);
  for (const named of step.touches) if ('item' in named) contact.through(named.item);
}

/** What was in the room is never touched with bare skin: no assumption about clean straps is good enough for that. */
function touchBare(world: World, step: ModelStep, contact: Contact, hand: number): void {
  for (const named of step.touches)
    if ('item' in named && named.item.isForRoom && world[named.item.worn]) contact.soil(hand, named.item.outside);
}

export function putOn(world: World, item: ModelItem, contact: Contact): void {
  world[item.worn] = 1;
  world[item.outward] = 1;
  world[item.loose] = item.isSecured ? 1 : 0;
  world[item.shut] = item.isOpened ? 1 : 0;
  contact.through(item);
}

/** What its outside and its inside do to what lay below, at the moment it leaves the body or is rolled away from it. */
export function leaveBody(model: Model, world: World, item: ModelItem, step: ModelStep, contact: Contact): void {
  contact.through(item);
  if (world[item.outward] && world[item.outside]) {
    const isPulled = step.comesOff === 'pulled' || !model.assumptions['steps-done-as-read'];
    const isPeeled = item.isGlove && !model.assumptions['glove-peel-clean'];
    const brushed = isPulled
      ? [...item.covers, ...item.below.map((below) => below.outside)]
      : isPeeled
        ? item.covers
        : [];
    for (const surface of brushed) if (isThere(model, world, surface)) contact.soil(surface, item.outside);
  }
  world[item.outward] = 0;
}

/** A piece that is not worn can't be brushed; everything else can. */
const isThere = (model: Model, world: World, surface: number): boolean =>
  model.items.every((item) => item.outside !== surface || world[item.worn] === 1);

/** Gone with all its marks, so that the worlds after it are the same whichever way it went. */
export function takeOff(model: Model, world: World, item: ModelItem): void {
  const { worn, outward, unseen, loose, shut, parts } = item;
  for (const mark of [worn, outward, unseen, loose, shut, ...parts.map((part) => part.surface)]) world[mark] = 0;
  if (item.used !== undefined) world[item.used] = 0;
  if (!item.isGlove || outermostGlove(model, world)) return;
  world[model.at['hands-unrubbed']] = 1;
  world[model.at['hands-unwashed']] = 1;
}

/** Sitting down, and whatever else the step says comes together. */
export function meet(model: Model, world: World, step: ModelStep, contact: Contact): void {
  if (step.sitsOn !== undefined) contact.together([step.sitsOn, ...seatOf(model, world)]);
  for (const [one, other] of step.meets) {
    const [first, second] = [one, other].map((named) => surfacesOf(model, world, named, step.step.phase));
    if (first?.length && second?.length) contact.together([...first, ...second]);
  }
}

function seatOf(model: Model, world: World): number[] {
  const outward = model.items.filter((item) => item.isOnBody && world[item.worn] && world[item.outward]);
  return outward.length > 0 ? outward.map((item) => item.outside) : [model.at.scrubs];
}

/** Clears the doer's own hands, and what hands that were clean before the step have wiped. */
export function disinfect(model: Model, world: World, step: ModelStep, hand: number, handWasSoiled: boolean): void {
  const { agentUses } = step;
  for (const named of step.cleans)
    for (const surface of surfacesOf(model, world, named, step.step.phase)) {
      if (surface === model.at.hands) rubSkin(model, world, step);
      else if (agentUses.has(isGloveSurface(model, surface) ? 'gloves' : 'surfaces'))
        if (surface === hand || !handWasSoiled) world[surface] = 0;
    }
}

function rubSkin(model: Model, world: World, { agentUses }: ModelStep): void {
  if (agentUses.has('skin')) {
    world[model.at.hands] = 0;
    world[model.at['hands-unwashed']] = 0;
  }
  if (agentUses.has('skin-before-gloves')) world[model.at['hands-unrubbed']] = 0;
}

const isGloveSurface = (model: Model, surface: number): boolean =>
  model.gloves.some((glove) => glove.outside === surface) ||
  surface === model.at['assistant-gloves'] ||
  surface === model.at['observer-gloves'];
