import { Contact, disinfect, handOf, leaveBody, meet, putOn, takeOff, touch, type Note } from './contamination.ts';
import { bodySurfaces } from './surfaces.ts';
import type { Model, ModelItem, ModelStep, World } from './proof-model.ts';
import {
  brokenBefore,
  brokenByContact,
  innerLayer,
  isUncovered,
  uncovered,
  wrongPlace,
  type Violation,
} from './rules.ts';

/**
 * One step of a procedure in the model. Changes the world it is given, also when a rule breaks, so that the trace shows how.
 * @param note is told of every surface that becomes contaminated, and from which
 */
export function takeStep(model: Model, world: World, step: ModelStep, note?: Note): Violation | undefined {
  const { phase, by } = step.step;
  if (step.isIdle && phase !== 'exit') return speak(model, world, step);
  const hand = handOf(model, world, by);
  const handWasSoiled = world[hand] === 1;
  const violation = brokenBefore(model, world, step, hand);
  if (violation) return violation;

  const contact = new Contact(model, world, phase, note);
  if (hand === model.at.hands && step.isHandling) world[model.at['hands-unrubbed']] = 1;
  comeNear(world, step, hand, contact);
  const covering = soiledLayerCovered(world, step);
  touch(model, world, step, hand, contact);
  if (!model.assumptions['steps-done-as-read']) comeNear(world, step, hand, contact);
  for (const item of step.putsOn) putOn(world, item, contact);
  meet(model, world, step, contact);
  const placed = wrongPlace(world, step);
  const peeled = comeOff(model, world, step, contact);
  meet(model, world, step, contact);
  disinfect(model, world, step, hand, handWasSoiled);
  attend(model, world, step);
  world[step.done] = 1;
  return peeled ?? brokenByContact(model, contact.reached) ?? covering ?? placed;
}

/** Nothing but words: all they can do is to come after the last look. */
function speak(model: Model, world: World, step: ModelStep): undefined {
  if (step.step.phase === 'donning') world[model.at['look-due']] = 1;
  world[step.done] = 1;
}

function comeNear(world: World, step: ModelStep, hand: number, contact: Contact): void {
  if (world[hand]) for (const surface of step.near) contact.soil(surface, hand);
}

/** Covering an inner layer that is contaminated already would keep the contamination for later. */
function soiledLayerCovered(world: World, { putsOn }: ModelStep): Violation | undefined {
  const layer = putsOn.flatMap((item) => item.coveredItems).find((item) => item.keepClean && world[item.outside]);
  return layer && innerLayer(layer, 'it is contaminated when the next layer goes over it');
}

function comeOff(model: Model, world: World, step: ModelStep, contact: Contact): Violation | undefined {
  let peeled: Violation | undefined;
  for (const item of step.turns) if (world[item.worn]) leaveBody(model, world, item, step, contact);
  for (const item of step.takesOff) {
    const cleanBefore = item.coveredItems.filter(
      (below) => below.keepClean && world[below.worn] && !world[below.outside],
    );
    leaveBody(model, world, item, step, contact);
    const soiled = cleanBefore.find((below) => world[below.outside]);
    if (soiled) peeled ??= innerLayer(soiled, `"${item.id.replaceAll('-', ' ')}" may touch it when it comes off`);
    takeOff(model, world, item);
  }
  return peeled;
}

/** Looking, engaging people, stepping into the lane; and whether the last look still holds. */
function attend(model: Model, world: World, step: ModelStep): void {
  const { engages = [], entersLane, by, verifiedBy, phase } = step.step;
  for (const who of engages) world[model.at[`${who}-engaged`]] = 1;
  if (entersLane) world[model.at['in-lane']] = 1;
  for (const item of step.secures) world[item.loose] = 0;
  for (const item of step.opens) world[item.shut] = 0;
  const isWatched =
    [by, verifiedBy].includes('observer') && (phase === 'exit' || world[model.at['observer-engaged']] === 1);
  for (const item of isWatched ? step.looksAt : [])
    if (phase === 'donning' || isUncovered(model, world, item)) world[item.unseen] = 0;
  if (isLastLook(model, step)) world[model.at['look-due']] = 0;
  else if (asksForAnotherLook(step)) world[model.at['look-due']] = 1;
}

/** After the last look in donning nothing may follow; in doffing nothing that anybody touches: the worker leaves. */
const asksForAnotherLook = ({ step, isHandling, near, meets, sitsOn }: ModelStep): boolean =>
  step.phase === 'donning' ||
  isHandling ||
  step.hygiene !== undefined ||
  near.length + meets.length > 0 ||
  sitsOn !== undefined;

function isLastLook({ procedure }: Model, { step, looksAtEverything, looksAtBody }: ModelStep): boolean {
  const watching = [step.by, step.verifiedBy];
  if (!watching.includes('observer')) return false;
  if (step.phase === 'donning') return looksAtEverything;
  return looksAtBody && (!procedure.doffingAssistant || watching.includes('assistant'));
}

/** Before donning: everyday dirt on floor and shoes, hands not rubbed yet, no piece looked at. */
export function worldAtStart(model: Model): World {
  const world = new Uint8Array(model.size);
  for (const name of ['kit', 'floor', 'shoes', 'hands-unrubbed', 'hands-unwashed'] as const) world[model.at[name]] = 1;
  for (const item of model.items) world[item.unseen] = item.isForRoom ? 1 : 0;
  return world;
}

/**
 * The stay in the room. Every outside counts as contaminated, and so does what nothing covers; what a piece covers stays clean
 * as long as barriers hold. The everyday dirt of before is forgotten: donning has been checked for it.
 */
export function stayInRoom(model: Model, before: World): { world: World; violation: Violation | undefined } {
  const world = new Uint8Array(model.size);
  const worn = model.items.filter((item) => before[item.worn]);
  for (const item of worn) expose(model, world, item, worn);
  for (const name of ['kit', 'floor', 'pad', 'dirty-chair', 'assistant-gloves', 'observer-gloves'] as const)
    world[model.at[name]] = 1;
  if (!model.assumptions['lane-starts-clean'])
    for (const name of ['chair', 'clean-floor'] as const) world[model.at[name]] = 1;
  return { world, violation: brokenInRoom(model, world, worn) };
}

function expose(model: Model, world: World, item: ModelItem, worn: readonly ModelItem[]): void {
  const isKept = item.keepClean && worn.some((other) => other.coveredItems.includes(item));
  const holds = model.assumptions['barriers-hold'];
  world[item.worn] = 1;
  world[item.outward] = 1;
  world[item.unseen] = item.lookFirst ? 1 : 0;
  world[item.shut] = item.isOpened ? 1 : 0;
  for (const part of item.parts) {
    const isClean = holds && (part.startsClean || (isKept && part.name === 'outside'));
    world[part.surface] = isClean ? 0 : 1;
  }
  if (item.used !== undefined) world[item.used] = world[item.outside] ?? 0;
}

function brokenInRoom(model: Model, world: World, worn: readonly ModelItem[]): Violation | undefined {
  const bare = bodySurfaces.filter((name) => !worn.some((item) => item.covers.includes(model.at[name])));
  const open = worn.find((item) => item.keepClean && world[item.outside]);
  const holds = model.assumptions['barriers-hold'];
  for (const name of holds ? bare : bodySurfaces) world[model.at[name]] = 1;
  if (bare.length > 0) return uncovered(model, bare);
  if (!holds) {
    const sentence = 'That barriers hold is not assumed, so everything under the equipment counts as contaminated.';
    return { rule: 'stays-clean', sentence, surface: model.at.hands };
  }
  return open && innerLayer(open, 'nothing covers it in the room');
}

/** A phase starts with none of its steps done. */
export function startOfPhase(model: Model, before: World): World {
  return before.slice().fill(0, 0, model.doneBytes);
}

/** Stepping into the lane, by the exit steps or past them in an emergency: what was looked at before is looked at again. */
export function startOfDoffing(model: Model, before: World): World {
  const world = startOfPhase(model, before);
  for (const item of model.items) world[item.unseen] = world[item.worn] && item.lookFirst ? 1 : 0;
  for (const mark of ['look-due', 'in-lane', 'observer-engaged', 'assistant-engaged'] as const)
    world[model.at[mark]] = 0;
  return world;
}
