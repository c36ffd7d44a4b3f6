import type { ScarcityCause, ShortageReason } from '../../../machines/unit/shortage.ts';
import type { RotationInstance } from '../instance.ts';
import type { Resource } from './model-goal.ts';
import type { FoundShortage } from './shortage.ts';
import { reliefSlot, type Slotted } from './slotted.ts';

/**
 * What can be told by counting, in about a millisecond: exits that cannot all be in time, and lanes, observers or people who are
 * fewer than covering everything takes. Only for instances in which `windowShortage` finds nothing: until the first relief every
 * position is then held by somebody inside.
 */
export function countedShortage(instance: RotationInstance, slotted: Slotted): FoundShortage | undefined {
  const [exits, steady] = [exitShortage(instance, slotted), steadyShortage(instance, slotted)];
  if (!exits || !steady) return exits ?? steady;
  const [more, fewer] = exits.shortage.atLeast! >= steady.shortage.atLeast! ? [exits, steady] : [steady, exits];
  const reasons = [...more.shortage.reasons, ...fewer.shortage.reasons];
  // Two resources are short: no number of one alone is enough.
  const isOne = more.shortage.resource === fewer.shortage.resource;
  return { shortage: { ...more.shortage, reasons }, more: isOne ? more.more : { kind: 'nothing' } };
}

// ---- those inside ------------------------------------------------------------------------------------------------------

/**
 * Whether everybody inside can be out in time. All exits are equal and may begin in the same slot, so leaving earliest due first, each
 * as soon as a lane and an observer are free, is best: when that is too late for somebody, every order is.
 */
function exitShortage(instance: RotationInstance, slotted: Slotted): FoundShortage | undefined {
  // Where everybody inside is needed, nobody can go before the first relief covers.
  const first = slotted.ongoing.length === slotted.positions ? Math.max(1, reliefSlot(slotted)) : 1;
  return hopelessExits(instance, slotted) ?? lateExits(instance, slotted, first, 'exitDue');
}

/** Not even with all the overrun that is allowed can everybody inside be out in time. */
export function hopelessExits(instance: RotationInstance, slotted: Slotted): FoundShortage | undefined {
  return lateExits(instance, slotted, 1, 'exitMax');
}

function lateExits(
  instance: RotationInstance,
  slotted: Slotted,
  first: number,
  limit: 'exitMax' | 'exitDue',
): FoundShortage | undefined {
  const dues = slotted.ongoing.map((one) => one[limit]).sort((a, b) => a - b);
  const isInTime = (lanes: number, observers: number) => tooLate(slotted, dues, first, lanes, observers) < 0;
  const { lanes, observers } = slotted;
  const late = tooLate(slotted, dues, first, lanes, observers);
  if (late < 0) return undefined;
  const enough = (by: (more: number) => boolean) => {
    for (let more = 1; more <= dues.length + 1; more += 1) if (by(more)) return more;
    return undefined;
  };
  const moreLanes = enough((more) => isInTime(lanes + more, observers));
  const moreObservers = moreLanes ? undefined : enough((more) => isInTime(lanes, observers + more));
  const resource = moreLanes ? 'lanes' : 'observers';
  const atLeast = moreLanes ?? moreObservers;
  // Late for want of relief, and not of lanes or observers: not for this count to say.
  if (atLeast === undefined) return undefined;
  const reasons = [exitReason(instance, slotted, { dues, first, late, limit, resource })];
  return { shortage: { resource, atLeast, reasons }, more: { kind: resource } };
}

/** The first in the order of dues who would be late, or -1. */
function tooLate(slotted: Slotted, dues: readonly number[], first: number, lanes: number, observers: number): number {
  if (dues.length > 0 && (lanes === 0 || observers === 0)) return 0;
  const hold = slotted.doffing + slotted.turnover;
  const times: number[] = [];
  return dues.findIndex((due, index) => {
    const lane = index >= lanes ? times[index - lanes]! + hold : 0;
    const observer = index >= observers ? times[index - observers]! + slotted.doffing : 0;
    times.push(Math.max(first, lane, observer));
    return times.at(-1)! > due;
  });
}

interface LateExits {
  dues: readonly number[];
  first: number;
  late: number;
  limit: 'exitMax' | 'exitDue';
  resource: 'lanes' | 'observers';
}

function exitReason(
  instance: RotationInstance,
  { doffing, turnover, lanes }: Slotted,
  { dues, first, late, limit, resource }: LateExits,
): ShortageReason {
  const minute = (slots: number) => slots * instance.slotMinutes;
  const has = instance[resource];
  if (has === 0) return { kind: 'no-way-out', resource };
  return {
    ...{ kind: 'late-exits', resource, has, people: late + 1 },
    heldMinutes: resource === 'lanes' ? minute(doffing + turnover) : minute(doffing),
    ...(late > 0 && lanes > 0 && { fromMinute: minute(first) }),
    byMinute: minute(dues[late]!),
    ...(first > 1 && { reliefMinute: minute(first) }),
    overrunIncluded: limit === 'exitMax',
  };
}

// ---- all day -----------------------------------------------------------------------------------------------------------

/** How much of a resource covering everything takes at least, when only this resource is looked at. */
interface Need {
  resource: Resource;
  has: number;
  /** Not rounded. */
  needed: number;
  cause: ScarcityCause;
}

function steadyShortage(instance: RotationInstance, slotted: Slotted): FoundShortage | undefined {
  const short = needsOf(instance, slotted).filter(
    ({ has, needed }) => Number.isFinite(needed) && Math.ceil(needed - 1e-9) > has,
  );
  const [first, ...others] = short;
  if (!first) return undefined;
  const { resource, has } = first;
  const atLeast = Math.ceil(first.needed - 1e-9) - has;
  const isOne = others.length === 0;
  const reasons: ShortageReason[] = [
    { kind: 'too-few', resource, has, atLeast, cause: first.cause },
    ...others.map((other): ShortageReason => {
      return { kind: 'too-few-as-well', resource: other.resource, cause: other.cause };
    }),
  ];
  return { shortage: { resource, atLeast, reasons }, more: isOne ? moreOf(slotted, resource) : { kind: 'nothing' } };
}

/** Which resource is nearest to its limit, or furthest beyond it: a guess where nothing is proven. */
export function mostPressed(instance: RotationInstance, slotted: Slotted): Resource {
  return needsOf(instance, slotted)[0]?.resource ?? 'workers';
}

/** Those that are needed most, compared with what is there, come first. */
function needsOf(instance: RotationInstance, slotted: Slotted): Need[] {
  if (slotted.positions === 0 || coverOf(slotted) <= 0) return [];
  const needs = [lanesNeed(instance, slotted), observersNeed(instance, slotted), workersNeed(slotted)];
  return needs.sort((a, b) => pressure(b) - pressure(a));
}

const pressure = ({ needed, has }: Need): number => (has === 0 ? (needed > 0 ? Infinity : 0) : needed / has);
const coverOf = ({ longestStay, handover }: Slotted): number => longestStay - handover;

/**
 * Somebody covers for at most the longest stay less the handover, so each position sees an exit at least that often once those inside
 * now are out. So many slots from then on, counted in such turns, see one exit per turn and position.
 */
function turnsOf(slotted: Slotted): { from: number; turns: number } {
  const cover = coverOf(slotted);
  const from = Math.max(0, ...slotted.ongoing.map(({ exitDue }) => exitDue - cover));
  return { from, turns: Math.max(0, Math.ceil((slotted.horizon - from) / cover)) };
}

function lanesNeed(instance: RotationInstance, slotted: Slotted): Need {
  const { doffing, turnover, positions, lanes } = slotted;
  const [hold, cover] = [doffing + turnover, coverOf(slotted)];
  const { turns } = turnsOf(slotted);
  let [needed, most] = [0, 1];
  for (let turn = 1; turn <= turns; turn += 1) {
    const perLane = hold === 0 ? Infinity : Math.floor((turn * cover - 1) / hold) + 1;
    const here = perLane === Infinity ? (positions > 0 ? 1e-6 : 0) : (positions * turn) / perLane;
    if (here > needed) [needed, most] = [here, turn];
  }
  const cause: ScarcityCause = {
    ...{ kind: 'exits', withinMinutes: most * cover * instance.slotMinutes },
    ...{ people: positions * most, heldMinutes: hold * instance.slotMinutes },
  };
  return { resource: 'lanes', has: lanes, needed, cause };
}

function observersNeed(instance: RotationInstance, slotted: Slotted): Need {
  const { donning, doffing, positions, observers, horizon } = slotted;
  const cover = coverOf(slotted);
  const { from, turns } = turnsOf(slotted);
  let needed = 0;
  let said: [minutes: number, work: number] = [0, 0];
  for (let turn = 1; turn <= turns; turn += 1) {
    const end = from + turn * cover + Math.max(donning, doffing);
    // The last turns of the horizon need no relief any more.
    const starts = Math.max(0, Math.min(turn, Math.ceil((horizon - from - reliefAfter(slotted)) / cover) - 1));
    const work = positions * (turn * doffing + starts * donning);
    const free = end - from - breakSlotsIn(slotted, from, end);
    const here = work === 0 ? 0 : free <= 0 ? Infinity : work / free;
    if (here > needed) [needed, said] = [here, [(end - from) * instance.slotMinutes, work * instance.slotMinutes]];
  }
  const { minutes: breakMinutes, everyMinutes } = instance.observerBreak;
  const cause: ScarcityCause = {
    ...{ kind: 'watching', withinMinutes: said[0], watchingMinutes: said[1] },
    ...{ breakMinutes, everyMinutes },
  };
  return { resource: 'observers', has: observers, needed, cause };
}

const reliefAfter = ({ donning, handover }: Slotted): number => donning + handover;

/** Slots of break that one observer has inside a span for sure. */
function breakSlotsIn({ breakSlots, periodSlots, periods }: Slotted, from: number, to: number): number {
  let whole = 0;
  for (let period = 0; period < periods; period += 1) {
    if (period * periodSlots >= from && (period + 1) * periodSlots <= to) whole += 1;
  }
  return whole * breakSlots;
}

function workersNeed(slotted: Slotted): Need {
  const { people, entriesMax, minutesMax } = slotted;
  const { entries, equipment, busy } = loadOf(slotted);
  const entriesLeft = people.reduce((sum, { entriesBefore }) => sum + Math.max(0, entriesMax - entriesBefore), 0);
  const slotsLeft = people.reduce((sum, { slotsBefore }) => sum + Math.max(0, minutesMax - slotsBefore), 0);
  const { rest, horizon, longestStay, doffing, postCheck, handover } = slotted;
  const last = horizon + longestStay - handover + doffing + postCheck + rest;
  const time = people.reduce((sum, { from, to }) => sum + Math.max(0, Math.min(to + rest, last) - from), 0);
  const ways: { more: number; cause: ScarcityCause }[] = [
    {
      more: perPerson(entries - entriesLeft, entriesMax),
      cause: { kind: 'entries', needed: entries, allowed: entriesLeft },
    },
    { more: perPerson(equipment - slotsLeft, minutesMax), cause: { kind: 'time-in-equipment' } },
    { more: perPerson(busy - time, last), cause: { kind: 'time' } },
  ];
  const [{ more, cause }] = ways.sort((a, b) => b.more - a.more) as [(typeof ways)[0]];
  return { resource: 'workers', has: people.length, needed: people.length + more, cause };
}

/** How many people more, or negative: how many fewer would do. */
const perPerson = (missing: number, each: number): number => (each > 0 ? missing / each : missing > 0 ? Infinity : 0);

/** What covering everything takes at least, in entries (with those of the people inside now) and in slots of all people. */
function loadOf(slotted: Slotted): { entries: number; equipment: number; busy: number } {
  const { positions, horizon, handover, donning, doffing, postCheck, rest, ongoing } = slotted;
  let cover = positions * horizon;
  for (const { since, exitDue } of ongoing) {
    cover -= Math.max(0, Math.min(exitDue, horizon) - Math.max(0, since + handover));
  }
  const left = Math.max(0, cover);
  const fresh = Math.ceil(left / coverOf(slotted) - 1e-9);
  const inside = ongoing.reduce((sum, { since, exitMin }) => sum + exitMin - since + doffing, 0);
  return {
    entries: fresh + ongoing.length,
    equipment: left + fresh * (handover + doffing) + inside,
    busy: left + fresh * (donning + handover + doffing + postCheck + rest),
  };
}

function moreOf(slotted: Slotted, resource: Resource): FoundShortage['more'] {
  if (resource !== 'workers') return { kind: resource };
  const byDuty = slotted.duties.map(({ from, to }) => Math.max(0, Math.min(to, slotted.horizon) - from));
  return { kind: 'workers', byDuty };
}
