import type { Assumptions } from './assumptions.ts';
import { phases, type Phase, type Procedure, type Step } from './procedure.ts';
import type { AgentUse, ComingOff, Layer } from './proof-fields.ts';
import { bodySurfaces, helperSurfaces, mustStayClean, mustStayCleanAfterRoom, placeSurfaces } from './surfaces.ts';

/**
 * A procedure made ready for the search: every surface and every mark has a number, and a state of the world is one row of
 * bytes. 1 is what to worry about: possibly contaminated, not looked at, worn. The first bytes say which steps of the phase are
 * done, so that a row says all that the future depends on, and two orders that lead to the same row are one from there on.
 */
export type World = Uint8Array;

export interface ModelItem {
  id: string;
  /** Marks: it is worn; its outside faces outward (0 once it is rolled inside out); it has not been looked at. */
  worn: number;
  outward: number;
  unseen: number;
  /** Marks: it is on and not sealed, closed or tied yet; it is closed and has to be opened first. */
  loose: number;
  shut: number;
  /** Mark: it was contaminated since it was new, disinfected or not. Only gloves have it. */
  used: number | undefined;
  outside: number;
  inside: number;
  /** Every surface of it that hands can reach, and the assumption under which one counts as clean after the stay. */
  parts: { name: string; surface: number; startsClean: boolean }[];
  covers: number[];
  coveredItems: ModelItem[];
  /** Pieces below it: they go on before it and come off after it. */
  below: ModelItem[];
  isGlove: boolean;
  isOnBody: boolean;
  keepClean: boolean;
  lookFirst: boolean;
  isSecured: boolean;
  isOpened: boolean;
  offBefore: ModelItem[];
  /** It goes into the room: it is put on in donning. */
  isForRoom: boolean;
}

/** What a step names: a piece, or a surface that is not part of one. */
export type Named = { item: ModelItem; parts: number[] | undefined } | { surface: number };

export interface ModelStep {
  step: Step;
  /** Its byte among the first ones of a world. */
  done: number;
  after: number[];
  putsOn: ModelItem[];
  takesOff: ModelItem[];
  touches: Named[];
  near: number[];
  meets: [Named, Named][];
  sitsOn: number | undefined;
  comesOff: ComingOff;
  turns: ModelItem[];
  secures: ModelItem[];
  opens: ModelItem[];
  cleans: Named[];
  /** What its hygiene is good for; none when it has none, or when it is too short. */
  agentUses: ReadonlySet<AgentUse>;
  looksAt: ModelItem[];
  looksAtEverything: boolean;
  looksAtBody: boolean;
  /** Where it puts what it takes off may hold contaminated things. */
  placeTakesContaminated: boolean;
  /** The hands of whoever does it come into play. */
  isHandling: boolean;
  /** Only words are said in it. */
  isIdle: boolean;
}

export interface Model {
  procedure: Procedure;
  assumptions: Assumptions;
  size: number;
  /** The first so many bytes of a world say which steps are done. */
  doneBytes: number;
  /** Name of a surface by its number; marks have none that is ever shown. */
  names: readonly string[];
  items: readonly ModelItem[];
  /** Innermost first. */
  gloves: readonly ModelItem[];
  steps: Readonly<Record<Phase, readonly ModelStep[]>>;
  /** Numbers of the surfaces and marks that every procedure has. */
  at: Readonly<Record<FixedName, number>>;
  usedMarkOf: ReadonlyMap<number, number>;
  /** Whether contamination that reaches it in this phase ends the proof. */
  isProtected: (surface: number, phase: Phase) => boolean;
  /** Helpers whose hands come into play after the stay: what their gloves carry away matters. */
  helpers: readonly number[];
}

/** Numbers names in the order they are asked for. */
class Numbering {
  readonly names: string[];
  private readonly numbers = new Map<string, number>();

  constructor(reserved: number) {
    this.names = Array.from({ length: reserved }, () => '');
  }

  of(name: string): number {
    const known = this.numbers.get(name);
    if (known !== undefined) return known;
    this.names.push(name);
    this.numbers.set(name, this.names.length - 1);
    return this.names.length - 1;
  }
}

const markNames = [
  'hands-unrubbed',
  'hands-unwashed',
  'look-due',
  'in-lane',
  'observer-engaged',
  'assistant-engaged',
] as const;
const fixedNames = [...bodySurfaces, ...placeSurfaces, ...helperSurfaces, ...markNames, 'kit'] as const;
export type FixedName = (typeof fixedNames)[number];

/** @param procedure one without proof problems: everything it names is there */
export function buildModel(procedure: Procedure, assumptions: Assumptions): Model {
  const stepsMost = Math.max(...phases.map((phase) => procedure.steps.filter((step) => step.phase === phase).length));
  const numbers = new Numbering(stepsMost);
  const at = Object.fromEntries(fixedNames.map((name) => [name, numbers.of(name)])) as Record<FixedName, number>;
  const items = buildItems(procedure, assumptions, numbers);
  const steps = Object.fromEntries(phases.map((phase) => [phase, buildSteps(procedure, phase, items, numbers)]));
  const always = new Set(mustStayClean.map((name) => numbers.of(name)));
  const afterRoom = new Set(mustStayCleanAfterRoom.map((name) => numbers.of(name)));
  return {
    procedure,
    assumptions,
    size: numbers.names.length,
    doneBytes: stepsMost,
    names: numbers.names,
    items,
    gloves: glovesInsideFirst(items),
    steps: steps as Record<Phase, ModelStep[]>,
    at,
    usedMarkOf: new Map(items.flatMap((item) => (item.used === undefined ? [] : [[item.outside, item.used]]))),
    isProtected: (surface, phase) => always.has(surface) || (phase !== 'donning' && afterRoom.has(surface)),
    helpers: helperSurfaces.filter((_, index) => helps(procedure, index)).map((name) => numbers.of(name)),
  };
}

const helps = (procedure: Procedure, helper: number): boolean =>
  procedure.steps.some(
    (step) => step.phase !== 'donning' && `${step.by}-gloves` === helperSurfaces[helper] && isHandling(procedure, step),
  );

/** Rubbing one's own hands or gloves is no handling: nobody has to wait for it, and it can only help. */
function isHandling({ ensemble }: Procedure, { by, touches, putsOn, takesOff, turns = [] }: Step): boolean {
  const isOwnHand = (name: string): boolean =>
    by === 'worker'
      ? name === 'hands' || (ensemble.layers ?? []).some((layer) => layer.item === name && layer.wornOn === 'hands')
      : name === `${by}-gloves`;
  return putsOn.length + takesOff.length + turns.length > 0 || touches.some((name) => !isOwnHand(name));
}

function isIdle({ touches, putsOn, takesOff, hygiene, engages, entersLane, leaves, ...step }: Step): boolean {
  const { near = [], meets = [], turns = [], secures = [], opens = [], looksAt = [], sitsOn } = step;
  const acts = [touches, putsOn, takesOff, near, meets, turns, secures, opens, looksAt].some((list) => list.length > 0);
  return !acts && !hygiene && !engages && !entersLane && !leaves && sitsOn === undefined;
}

function buildItems(procedure: Procedure, assumptions: Assumptions, numbers: Numbering): ModelItem[] {
  const forRoom = new Set(procedure.steps.flatMap((step) => (step.phase === 'donning' ? step.putsOn : [])));
  const { layers = [] } = procedure.ensemble;
  const items = layers.map((layer) => buildItem(layer, forRoom.has(layer.item), assumptions, numbers));
  const byId = new Map(items.map((item) => [item.id, item]));
  const named = (ids: readonly string[] = []): ModelItem[] => ids.flatMap((id) => byId.get(id) ?? []);
  for (const [index, item] of items.entries()) {
    const { covers = [], over = [], offBefore } = layers[index] as Layer;
    item.covers = covers.map((name) => byId.get(name)?.outside ?? numbers.of(name));
    item.coveredItems = named(covers);
    item.below = named([...covers, ...over]);
    item.offBefore = named(offBefore);
  }
  return items;
}

function buildItem(layer: Layer, isForRoom: boolean, assumptions: Assumptions, numbers: Numbering): ModelItem {
  const { item: id, wornOn, keepClean = false, lookFirst = false } = layer;
  const [outside, inside] = [numbers.of(id), numbers.of(`${id} inside`)];
  const parts = (layer.parts ?? []).map((part) => ({
    name: part.id,
    surface: numbers.of(`${id} ${part.id}`),
    startsClean: assumptions[part.cleanIf],
  }));
  return {
    id,
    worn: numbers.of(`${id} worn`),
    outward: numbers.of(`${id} outward`),
    unseen: numbers.of(`${id} unseen`),
    loose: numbers.of(`${id} loose`),
    shut: numbers.of(`${id} shut`),
    used: wornOn === 'hands' ? numbers.of(`${id} used`) : undefined,
    outside,
    inside,
    parts: [
      { name: 'outside', surface: outside, startsClean: false },
      { name: 'inside', surface: inside, startsClean: true },
      ...parts,
    ],
    covers: [],
    coveredItems: [],
    below: [],
    isGlove: wornOn === 'hands',
    isOnBody: wornOn === 'body',
    keepClean,
    lookFirst,
    isSecured: layer.secured ?? false,
    isOpened: layer.opened ?? false,
    offBefore: [],
    isForRoom,
  };
}

/** A glove that covers another lies outside of it. */
function glovesInsideFirst(items: readonly ModelItem[]): ModelItem[] {
  const depth = (item: ModelItem): number => 1 + Math.max(0, ...item.coveredItems.map(depth));
  return items.filter((item) => item.isGlove).sort((one, other) => depth(one) - depth(other));
}

function buildSteps(procedure: Procedure, phase: Phase, items: ModelItem[], numbers: Numbering): ModelStep[] {
  const steps = procedure.steps.filter((step) => step.phase === phase);
  const slots = new Map(steps.map((step, slot) => [step.id, slot]));
  const builder = new StepBuilder(procedure, items, numbers);
  return steps.map((step, done) => ({
    ...builder.build(step),
    done,
    after: step.after.flatMap((before) => slots.get(before) ?? []),
  }));
}

class StepBuilder {
  private readonly procedure: Procedure;
  private readonly items: ReadonlyMap<string, ModelItem>;
  private readonly numbers: Numbering;

  constructor(procedure: Procedure, items: readonly ModelItem[], numbers: Numbering) {
    this.procedure = procedure;
    this.items = new Map(items.map((item) => [item.id, item]));
    this.numbers = numbers;
  }

  build(step: Step): Omit<ModelStep, 'done' | 'after'> {
    const looks = step.looksAt ?? [];
    const looksAtEverything = looks.includes('everything');
    return {
      step,
      putsOn: this.pieces(step.putsOn),
      takesOff: this.pieces(step.takesOff),
      touches: this.touched(step).map((name) => this.named(name, step.touchesAt?.[name])),
      near: (step.near ?? []).map((name) => this.items.get(name)?.outside ?? this.numbers.of(name)),
      meets: (step.meets ?? []).map(([one, other]) => [this.named(one), this.named(other)]),
      sitsOn: step.sitsOn === undefined ? undefined : this.numbers.of(step.sitsOn),
      comesOff: step.comesOff ?? 'pulled',
      turns: this.pieces(step.turns ?? []),
      secures: this.pieces(step.secures ?? []),
      opens: this.pieces(step.opens ?? []),
      cleans: (step.hygiene?.covers ?? []).map((name) => this.named(name)),
      agentUses: this.agentUses(step),
      looksAt: looksAtEverything ? [...this.items.values()] : this.pieces(looks),
      looksAtEverything,
      looksAtBody: looks.includes('body'),
      placeTakesContaminated: (this.procedure.places ?? []).some(
        (place) => place.name === step.goesTo && place.takesContaminated,
      ),
      isHandling: isHandling(this.procedure, step),
      isIdle: isIdle(step),
    };
  }

  /** Hands touch what they take off and what they roll, whether the step says so or not. */
  private touched({ touches, takesOff, turns = [] }: Step): string[] {
    return [...new Set([...touches, ...takesOff, ...turns])];
  }

  private pieces(ids: readonly string[]): ModelItem[] {
    return ids.flatMap((id) => this.items.get(id) ?? []);
  }

  private named(name: string, at?: readonly string[]): Named {
    const item = this.items.get(name);
    if (!item) return { surface: this.numbers.of(name) };
    return { item, parts: at && item.parts.filter((part) => at.includes(part.name)).map((part) => part.surface) };
  }

  /** An agent that is not given its full time clears nothing. */
  private agentUses({ hygiene }: Step): ReadonlySet<AgentUse> {
    const agent = this.procedure.agents?.find((one) => one.name === hygiene?.agent);
    const isLongEnough = agent && hygiene && hygiene.contactSeconds >= agent.contactSeconds;
    return new Set(isLongEnough ? agent.suits : []);
  }
}
