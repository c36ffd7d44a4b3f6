import type { ScarceResource, ScarcityCause, ShortageReason } from '../../machines/unit/shortage.ts';
import type { PersonId, RoomId } from '../../machines/wire/ids.ts';
import { wallClock } from '../board/clock.ts';
import type { FloorNames } from '../board/floor-names.ts';
import { words } from '../words/words.ts';
import type { PlanAnswer } from './answers.ts';
import { minuteMs } from './times.ts';

/** What is short and why, as the page says it: moments as clock times, rooms and people by name. */
const { short } = words.rotation;
const { because: text } = short;

/** What is short, how much would do, and why; each sentence by itself and once. */
export function shortWords(
  { resource, atLeast, enough, startAt, reasons }: NonNullable<PlanAnswer['shortOf']>,
  names: FloorNames,
): string[] {
  const counted = short.resources[resource];
  const much = (count: number) => (counted ? (count === 1 ? counted[0] : counted[1](count)) : `${count}`);
  const clock = (minute: number) => wallClock(startAt + minute * minuteMs);
  const said = [
    short.shortOf(short.names[resource] ?? resource),
    ...(atLeast === undefined ? [] : [short.atLeast(much(atLeast))]),
    ...(enough === undefined ? [] : [short.enough(much(enough))]),
    ...reasons.flatMap((reason) => (reason ? reasonWords(reason, clock, names) : [])),
  ];
  return [...new Set(said)];
}

type Clock = (minute: number) => string;
type Reason<Kind extends ShortageReason['kind']> = Extract<ShortageReason, { kind: Kind }>;

export function reasonWords(reason: ShortageReason, clock: Clock, names: FloorNames): string[] {
  switch (reason.kind) {
    case 'too-few':
      return [
        text.tooFew(text.counted(reason.has, text.resources[reason.resource]), reason.has === 1),
        ...(reason.cause ? causeWords(reason.cause) : []),
      ];
    case 'too-few-as-well':
      return [text.asWell(many(reason.resource)), ...causeWords(reason.cause)];
    case 'tightest':
      return [
        text.tightest(many(reason.resource), clock(reason.fromMinute), clock(reason.toMinute)),
        ...(reason.dueOut > 0 ? [text.dueOut(reason.dueOut)] : []),
      ];
    case 'tight-mostly':
      return [text.tightMostly(many(reason.resource))];
    case 'instead':
      return [text.instead(many(reason.resource), reason.atLeast)];
    case 'no-help':
      return [text.noHelp(listed(reason.resources.map(many)))];
    case 'together':
      return [
        text.together(listed(reason.resources.map(many)), reason.atLeast),
        text.mostMissing(many(reason.most), reason.has),
      ];
    case 'nothing-helps':
      return [text.nothingHelps, text.leastToSpare(many(reason.leastToSpare))];
    case 'not-found-out':
      return [text.leastToSpare(many(reason.leastToSpare)), text.notFoundOut];
    case 'no-way-out':
      return [text.noWayOut(text.resources[reason.resource][0])];
    case 'late-exits':
      return lateExits(reason, clock);
    case 'room-empty':
      return [
        // What is asked of the live unit goes by the unit's own ids.
        text.roomEmpty(names.room(reason.room as RoomId), reason.staffInside, reason.there, clock(reason.atMinute)),
        text.newcomers(clock(reason.newcomersMinute)),
      ];
    case 'duties-apart':
      return dutiesApart(reason, clock);
    case 'too-few-on-duty':
      return [text.tooFewOnDuty(clock(reason.atMinute), reason.wanted, reason.able)];
    case 'left-out':
      return [text.leftOut(listed(reason.workers.map((id) => names.person(id as PersonId)))), text.leaveSoon];
    default:
      return reason satisfies never;
  }
}

const many = (resource: ScarceResource): string => text.resources[resource][1];

function listed(names: readonly string[]): string {
  const [last, ...before] = [...names].reverse();
  return before.length === 0 ? (last ?? '') : text.and(before.reverse().join(', '), last ?? '');
}

function causeWords(cause: ScarcityCause): string[] {
  const { causes } = text;
  switch (cause.kind) {
    case 'exits':
      return [causes.exits(cause.withinMinutes, cause.people, cause.heldMinutes)];
    case 'watching':
      return [
        causes.watching(cause.withinMinutes, cause.watchingMinutes),
        ...(cause.breakMinutes > 0 ? [causes.break(cause.breakMinutes, cause.everyMinutes)] : []),
      ];
    case 'entries':
      return [causes.entries(cause.needed, cause.allowed)];
    case 'time-in-equipment':
    case 'time':
      return [causes[cause.kind]];
    default:
      return cause satisfies never;
  }
}

function lateExits(reason: Reason<'late-exits'>, clock: Clock): string[] {
  const { lateExits: said } = text;
  const { people, fromMinute, byMinute, reliefMinute, overrunIncluded, has, resource, heldMinutes } = reason;
  const by = overrunIncluded ? said.mustBy : said.dueBy;
  const between = overrunIncluded ? said.mustBetween : said.dueBetween;
  return [
    fromMinute === undefined ? by(people, clock(byMinute)) : between(people, clock(fromMinute), clock(byMinute)),
    ...(reliefMinute === undefined ? [] : [said.relief(clock(reliefMinute))]),
    said.held(has, text.resources[resource], heldMinutes),
    said.help(many(resource)),
  ];
}

function dutiesApart(reason: Reason<'duties-apart'>, clock: Clock): string[] {
  const { dutiesApart: said } = text;
  const { endMinute, startMinute, overlapMinutes, neededMinutes, fromMinute, toMinute, able } = reason;
  const [end, start] = [clock(endMinute), clock(startMinute)];
  return [
    overlapMinutes >= 0 ? said.overlap(end, start, overlapMinutes) : said.apart(end, start, -overlapMinutes),
    said.needed(neededMinutes),
    said.able(able, clock(fromMinute), clock(toMinute)),
    said.earlier(neededMinutes - overlapMinutes),
  ];
}
