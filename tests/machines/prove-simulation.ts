import type { Procedure, Step } from '../../machines/procedure/procedure.ts';
import type { StepId } from '../../machines/wire/ids.ts';

/**
 * One order of a procedure, played through with sets of names: written from docs/procedures.md and not from the prover, so that the
 * two can be held against each other. It knows contact, covering, taking off and hygiene; not the rules about people and looks.
 * Gives "step: surface" for everything that should have stayed clean.
 */
export function simulated(procedure: Procedure, order: readonly StepId[], isEmergency: boolean): string[] {
  const play = new Play(procedure);
  for (const id of order) {
    const step = procedure.steps.find((one) => one.id === id);
    if (!step) throw new Error(`no step ${id}`);
    if (step.phase !== 'donning' && !play.wasInRoom) play.beInRoom();
    if (step.phase === 'exit' && isEmergency) continue;
    play.take(step);
  }
  return play.found;
}

class Play {
  readonly found: string[] = [];
  wasInRoom = false;
  private readonly procedure: Procedure;
  private dirty = new Set(['floor', 'shoes']);
  private readonly worn = new Set<string>();
  private readonly turned = new Set<string>();

  constructor(procedure: Procedure) {
    this.procedure = procedure;
  }

  beInRoom(): void {
    this.wasInRoom = true;
    this.dirty = new Set(['floor', 'pad', 'assistant-gloves', 'observer-gloves']);
    for (const item of this.worn) {
      const isKept = this.layer(item)?.keepClean && this.isCovered(item);
      if (!isKept) this.dirty.add(item);
      for (const part of this.layer(item)?.parts ?? [])
        if (!this.procedure.assumptions?.[part.cleanIf]) this.dirty.add(`${item} ${part.id}`);
    }
  }

  take(step: Step): void {
    const hand = this.hand(step);
    const wasDirty = this.dirty.has(hand);
    const before = new Set(this.dirty);
    if (wasDirty) for (const near of step.near ?? []) this.dirty.add(near);
    this.together([hand, ...this.touched(step), ...step.putsOn, ...step.putsOn.map((item) => `${item} inside`)]);
    for (const item of step.putsOn) this.worn.add(item);
    if (step.sitsOn) this.together([step.sitsOn, ...this.seat()]);
    for (const [one, other] of step.meets ?? [])
      if (this.isThere(one) && this.isThere(other)) this.together([this.face(one), this.face(other)]);
    for (const item of step.turns ?? []) this.turned.add(item);
    for (const item of step.takesOff) this.off(item, step);
    this.seepThrough();
    if (step.hygiene) this.clean(step.hygiene.covers, hand, wasDirty);
    for (const name of this.mustBeClean(step))
      if (this.dirty.has(name) && !before.has(name)) this.found.push(`${step.id}: ${name}`);
  }

  private layer(item: string) {
    return this.procedure.ensemble.layers?.find((layer) => layer.item === item);
  }

  private isCovered(item: string): boolean {
    return [...this.worn].some((other) => this.layer(other)?.covers?.includes(item));
  }

  private hand({ by }: Step): string {
    if (by !== 'worker') return `${by}-gloves`;
    const gloves = [...this.worn].filter((item) => this.layer(item)?.wornOn === 'hands');
    return gloves.find((glove) => !this.isCovered(glove)) ?? 'hands';
  }

  private face(name: string): string {
    return this.turned.has(name) ? `${name} inside` : name;
  }

  private isThere(name: string): boolean {
    return !this.layer(name) || this.worn.has(name);
  }

  private touched(step: Step): string[] {
    const isUnderGlove = (name: string) =>
      name === 'hands' || (this.layer(name)?.wornOn === 'hands' && this.isCovered(name));
    return [...new Set([...step.touches, ...step.takesOff])]
      .filter((name) => (this.wasInRoom ? this.isThere(name) : true) && !isUnderGlove(name))
      .flatMap(
        (name) =>
          step.touchesAt?.[name]?.map((part) => (part === 'outside' ? name : `${name} ${part}`)) ?? [this.face(name)],
      );
  }

  private together(names: readonly string[]): void {
    if (names.some((name) => this.dirty.has(name))) for (const name of names) this.dirty.add(name);
  }

  private seat(): string[] {
    const garments = [...this.worn].filter((item) => this.layer(item)?.wornOn === 'body' && !this.turned.has(item));
    return garments.length > 0 ? garments : ['scrubs'];
  }

  private off(item: string, step: Step): void {
    const { covers = [], over = [], wornOn } = this.layer(item) ?? {};
    const isBrushing = (step.comesOff ?? 'pulled') === 'pulled' && !this.turned.has(item);
    const isPeeling = wornOn === 'hands';
    if (this.dirty.has(item))
      for (const name of isBrushing ? [...covers, ...over] : isPeeling ? covers : [])
        if (this.isThere(name)) this.dirty.add(name);
    this.worn.delete(item);
    for (const name of [...this.dirty]) if (name === item || name.startsWith(`${item} `)) this.dirty.delete(name);
  }

  private seepThrough(): void {
    for (const item of this.worn)
      if (this.dirty.has(`${item} inside`) && !this.turned.has(item))
        for (const name of this.layer(item)?.covers ?? []) this.dirty.add(name);
  }

  private clean(covers: readonly string[], hand: string, wasDirty: boolean): void {
    for (const name of covers)
      if (name === hand || (!wasDirty && !this.isCovered(name) && name !== 'hands')) this.dirty.delete(name);
  }

  /** Inner gloves only while a layer comes off them: afterwards they are there to be dirtied. */
  private mustBeClean(step: Step): string[] {
    const peeled = step.takesOff
      .flatMap((item) => this.layer(item)?.covers ?? [])
      .filter((name) => this.layer(name)?.keepClean);
    const body = ['eyes', 'mouth', 'head', 'scrubs', 'chair', 'clean-floor'];
    const last = this.procedure.steps.at(-1)?.id === step.id ? ['shoes'] : [];
    return this.wasInRoom ? [...body, 'hands', 'legs', ...peeled, ...last] : body;
  }
}
