import { outermostGlove } from './contamination.ts';
import type { Phase } from './procedure.ts';
import type { Model, ModelItem, ModelStep, World } from './proof-model.ts';
import { surfaceWords, type bodySurfaces } from './surfaces.ts';

/**
 * What must hold at every moment of every order. Each rule has a stable name; docs/procedures.md lists them in the same words.
 */
export const ruleNames = [
  'stays-clean',
  'inner-layer',
  'all-covered',
  'layers-on',
  'layers-off',
  'off-before',
  'hands-before-gloves',
  'hands-at-end',
  'nothing-carried-out',
  'face-with-fresh-gloves',
  'fastening',
  'looked-at-first',
  'last-look',
  'watched',
  'lane-entry',
  'right-place',
] as const;
export type RuleName = (typeof ruleNames)[number];

export interface Violation {
  rule: RuleName;
  sentence: string;
  /** The surface whose contamination breaks the rule, by its number. */
  surface?: number;
}

const broken = (rule: RuleName, sentence: string, surface?: number): Violation => ({ rule, sentence, surface });

const pieces = (items: readonly ModelItem[]): string =>
  items.map((item) => `"${item.id.replaceAll('-', ' ')}"`).join(' and ');
const worn = (world: World, item: ModelItem): boolean => world[item.worn] === 1;

/** What may not even be begun. */
export function brokenBefore(model: Model, world: World, step: ModelStep, hand: number): Violation | undefined {
  return (
    unwatched(model, world, step) ??
    wrongLayerOn(model, world, step) ??
    glovesOnUncleanHands(model, world, step, hand) ??
    wrongLayerOff(model, world, step) ??
    wrongFastening(model, world, step) ??
    notLookedAt(model, world, step) ??
    enteringLane(model, world, step, hand) ??
    leavingUnseen(model, world, step) ??
    nearFace(model, world, step, hand)
  );
}

function unwatched(model: Model, world: World, { step, isHandling }: ModelStep): Violation | undefined {
  if (!isHandling || step.phase === 'exit') return undefined;
  const engaged = (who: 'observer' | 'assistant') =>
    world[model.at[`${who}-engaged`]] === 1 || step.engages?.includes(who);
  if (!engaged('observer')) return broken('watched', 'The observer is not engaged yet, so nobody watches this step.');
  if (step.phase === 'doffing' && step.by === 'assistant' && !engaged('assistant'))
    return broken('watched', 'The assistant helps before they are in place.');
  return undefined;
}

function wrongLayerOn(model: Model, world: World, { putsOn }: ModelStep): Violation | undefined {
  for (const item of putsOn) {
    const missing = item.below.filter((below) => !worn(world, below) && !putsOn.includes(below));
    if (missing.length > 0)
      return broken('layers-on', `${pieces([item])} goes over ${pieces(missing)}, which is not on.`);
    const beneath = item.isGlove && item.covers.includes(model.at.hands) ? outermostGlove(model, world) : undefined;
    if (beneath)
      return broken('layers-on', `${pieces([item])} goes on bare hands, and ${pieces([beneath])} is still on.`);
  }
  return undefined;
}

function glovesOnUncleanHands(model: Model, world: World, { putsOn }: ModelStep, hand: number): Violation | undefined {
  const bare = model.at.hands;
  if (hand !== bare || !putsOn.some((item) => item.isGlove)) return undefined;
  if (world[bare]) return broken('hands-before-gloves', 'Gloves go on over hands that may be contaminated.', bare);
  if (world[model.at['hands-unrubbed']])
    return broken(
      'hands-before-gloves',
      'Gloves go on over bare hands that were not rubbed just before with an agent that suits.',
    );
  return undefined;
}

function wrongLayerOff(model: Model, world: World, { takesOff }: ModelStep): Violation | undefined {
  for (const item of takesOff) {
    if (!worn(world, item)) return broken('layers-off', `${pieces([item])} is to come off and is not on.`);
    const still = model.items.filter((other) => worn(world, other) && !takesOff.includes(other));
    const above = still.filter((other) => other.below.includes(item));
    if (above.length > 0)
      return broken('layers-off', `${pieces([item])} comes off while ${pieces(above)} still lies over it.`);
    const earlier = still.filter((other) => other.offBefore.includes(item));
    if (earlier.length > 0) return broken('off-before', `${pieces([item])} comes off before ${pieces(earlier)}.`);
  }
  return undefined;
}

/** Sealing, closing and opening reach a piece only while it is on and nothing lies over it. */
function wrongFastening(
  model: Model,
  world: World,
  { secures, opens, takesOff, turns }: ModelStep,
): Violation | undefined {
  for (const item of [...secures, ...opens]) {
    if (!worn(world, item)) return broken('fastening', `${pieces([item])} is to be fastened or opened and is not on.`);
    const above = model.items.filter((other) => worn(world, other) && other.below.includes(item));
    if (above.length > 0)
      return broken('fastening', `${pieces([item])} is to be fastened or opened while ${pieces(above)} lies over it.`);
  }
  const shut = [...turns, ...takesOff].find((item) => world[item.shut] && !opens.includes(item));
  return shut && broken('fastening', `${pieces([shut])} is to come off and was not opened.`);
}

function notLookedAt(model: Model, world: World, step: ModelStep): Violation | undefined {
  if (step.step.phase === 'donning') {
    const unseen = step.putsOn.filter((item) => world[item.unseen]);
    if (unseen.length === 0) return undefined;
    return broken('looked-at-first', `Nobody looked at ${pieces(unseen)} before it is put on.`);
  }
  const takesOffInDoffing = step.step.phase === 'doffing' && step.takesOff.length > 0;
  if (!takesOffInDoffing && !step.step.entersLane) return undefined;
  const unseen = model.items.filter((item) => item.lookFirst && world[item.unseen] && isUncovered(model, world, item));
  if (unseen.length === 0) return undefined;
  const what = step.step.entersLane ? 'the worker steps into the lane' : 'the next piece comes off';
  return broken('looked-at-first', `${pieces(unseen)} lies open and was not looked at before ${what}.`);
}

export const isUncovered = (model: Model, world: World, item: ModelItem): boolean =>
  worn(world, item) && !model.items.some((other) => worn(world, other) && other.coveredItems.includes(item));

function enteringLane(model: Model, world: World, { step }: ModelStep, hand: number): Violation | undefined {
  if (step.phase === 'exit' && world[model.at['in-lane']])
    return broken('lane-entry', 'This belongs before the worker steps into the lane.');
  if (step.entersLane && world[hand])
    return broken('lane-entry', 'The worker steps into the lane with contaminated hands.', hand);
  return undefined;
}

function leavingUnseen(model: Model, world: World, { step }: ModelStep): Violation | undefined {
  if (!step.leaves || !world[model.at['look-due']]) return undefined;
  return broken('last-look', lastLook(model, 'doffing'));
}

function nearFace(model: Model, world: World, { step, near }: ModelStep, hand: number): Violation | undefined {
  const isNearFace = near.includes(model.at.eyes) || near.includes(model.at.mouth);
  const used = model.usedMarkOf.get(hand);
  if (
    !isNearFace ||
    step.phase === 'donning' ||
    used === undefined ||
    model.assumptions['disinfected-gloves-near-face']
  )
    return undefined;
  if (!world[used] || world[hand]) return undefined;
  const sentence = `${capital(surfaceWords(model.names[hand] ?? ''))} come close to the face. They were contaminated before, and disinfecting them is not assumed to be enough there.`;
  return broken('face-with-fresh-gloves', sentence);
}

const capital = (words: string): string => words.charAt(0).toUpperCase() + words.slice(1);

/** What contact in a step has led to. */
export function brokenByContact(model: Model, surface: number | undefined): Violation | undefined {
  if (surface === undefined) return undefined;
  return broken('stays-clean', `${capital(surfaceWords(model.names[surface] ?? ''))} may be contaminated.`, surface);
}

export const innerLayer = (item: ModelItem, how: string): Violation =>
  broken('inner-layer', `${pieces([item])} is relied on as clean, and ${how}.`, item.outside);

export function wrongPlace(world: World, step: ModelStep): Violation | undefined {
  if (step.placeTakesContaminated) return undefined;
  for (const item of step.takesOff) {
    const soiled = item.parts.find((part) => world[part.surface]);
    if (soiled)
      return broken(
        'right-place',
        `${pieces([item])} may be contaminated and goes where only clean things may go.`,
        soiled.surface,
      );
  }
  return undefined;
}

/** What must be true when all steps of a phase are done. */
export function brokenAtEnd(model: Model, world: World, phase: Phase): Violation | undefined {
  if (phase === 'exit') return undefined;
  if (world[model.at['look-due']]) return broken('last-look', lastLook(model, phase));
  const loose = model.items.filter((item) => worn(world, item) && world[item.loose]);
  if (loose.length > 0)
    return broken('fastening', `${pieces(loose)} is on and was not sealed, closed, tied or tested.`);
  if (phase === 'donning') return undefined;
  if (world[model.at['hands-unwashed']])
    return broken('hands-at-end', 'The gloves are off and the bare hands were not cleaned after it.');
  const carrying = [model.at.shoes, ...model.helpers].find((surface) => world[surface]);
  if (carrying === undefined) return undefined;
  const sentence = `Everything is done, and ${surfaceWords(model.names[carrying] ?? '')} may still be contaminated.`;
  return broken('nothing-carried-out', sentence, carrying);
}

function lastLook({ procedure }: Model, phase: Phase): string {
  if (phase === 'donning') return 'Donning does not end with the observer looking at everything that is worn.';
  const who = procedure.doffingAssistant ? 'observer and assistant' : 'the observer';
  return `Doffing does not end with ${who} looking at the body.`;
}

/** The stay in the room: body surfaces that nothing covers. */
export function uncovered(model: Model, names: readonly (typeof bodySurfaces)[number][]): Violation {
  const sentence = `Nothing that is worn covers ${names.map(surfaceWords).join(', ')} in the room.`;
  return broken('all-covered', sentence, names[0] && model.at[names[0]]);
}
