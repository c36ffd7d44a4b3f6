import type { ScarceResource, ScarcityCause, ShortageReason } from '../../machines/unit/shortage.ts';

/**
 * What is short as a text for whoever wrote the instance: moments are its minutes, rooms and people go by its ids. Screens make
 * their own sentences of the same reasons, with clock times and names (client/rotation/short-said.ts).
 */
export const shortageText = (reasons: readonly ShortageReason[]): string => reasons.map(sentenceOf).join(' ');

function sentenceOf(reason: ShortageReason): string {
  switch (reason.kind) {
    case 'too-few':
      return tooFew(reason);
    case 'too-few-as-well':
      return `The ${many(reason.resource)} are too few as well: ${causeText(reason.cause)}`;
    case 'tightest':
      return tightest(reason);
    case 'tight-mostly':
      return `The ${many(reason.resource)} are short over most of the ${reason.ofMinutes} minutes.`;
    case 'instead':
      return `With more ${many(reason.resource)} instead, at least ${reason.atLeast} would be needed.`;
    case 'no-help':
      return `More ${listed(reason.resources)} alone would not help.`;
    case 'together':
      return together(reason);
    case 'nothing-helps':
      return `${nothingHelps} The ${many(reason.leastToSpare)} have the least to spare, which is not proven to matter.`;
    case 'not-found-out':
      return (
        `No plan covers everything with everybody out in time. What is short is not proven; by a rough count the ` +
        `${many(reason.leastToSpare)} have the least to spare. Allow more seconds to find out.`
      );
    case 'no-way-out':
      return `Those inside now cannot leave: there is no ${names[reason.resource][0]}.`;
    case 'late-exits':
      return lateExits(reason);
    case 'room-empty':
      return roomEmpty(reason);
    case 'duties-apart':
      return dutiesApart(reason);
    case 'too-few-on-duty':
      return (
        `At minute ${reason.atMinute} the rooms need ${people(reason.wanted)} inside and only ${reason.able} can be covering ` +
        `then: at least ${reason.wanted - reason.able} more must be on duty around that minute.`
      );
    case 'left-out':
      return `Not planned, because it would be too late: the exit of ${reason.workers.join(', ')}.`;
    default:
      return reason satisfies never;
  }
}

type Reason<Kind extends ShortageReason['kind']> = Extract<ShortageReason, { kind: Kind }>;

const names: Readonly<Record<ScarceResource, readonly [string, string]>> = {
  lanes: ['doffing lane', 'doffing lanes'],
  observers: ['observer', 'observers'],
  workers: ['worker', 'workers'],
};
const many = (resource: ScarceResource): string => names[resource][1];
const listed = (resources: readonly ScarceResource[]): string => resources.map(many).join(' and ');
const people = (count: number): string => `${count} ${count === 1 ? 'person' : 'people'}`;

const nothingHelps =
  'No number of doffing lanes, observers or workers would be enough. Look at the times people may stay inside, the handover and the ' +
  'duties: some minute cannot be covered with these, whoever is there.';

function tooFew({ resource, has, atLeast, cause }: Reason<'too-few'>): string {
  const needs =
    `${has} ${names[resource][has === 1 ? 0 : 1]} ${has === 1 ? 'is' : 'are'} not enough to keep every room staffed: ` +
    `at least ${atLeast} more ${atLeast === 1 ? 'is' : 'are'} needed.`;
  return cause ? `${needs} ${causeText(cause)}` : needs;
}

function causeText(cause: ScarcityCause): string {
  switch (cause.kind) {
    case 'exits':
      return (
        `Within any ${cause.withinMinutes} minutes at least ${cause.people} people leave, and each takes a doffing lane for ` +
        `${cause.heldMinutes} minutes.`
      );
    case 'watching':
      return (
        `Within ${cause.withinMinutes} minutes donnings and doffings take at least ${cause.watchingMinutes} minutes of watching, ` +
        `and every observer has ${cause.breakMinutes === 0 ? 'no break' : `a break of ${cause.breakMinutes} minutes in every ${cause.everyMinutes}`}.`
      );
    case 'entries':
      return `It takes at least ${cause.needed} entries, and all together may make ${cause.allowed}.`;
    case 'time-in-equipment':
      return 'The hours in equipment that it takes are more than all together may have.';
    case 'time':
      return 'Changing, rooms, doffing and rest take more hours than all together are there.';
    default:
      return cause satisfies never;
  }
}

function tightest({ resource, fromMinute, toMinute, dueOut }: Reason<'tightest'>): string {
  const due = dueOut > 0 ? `, when ${dueOut} of those inside now are due out` : '';
  return `The ${many(resource)} are tightest between minutes ${fromMinute} and ${toMinute}${due}.`;
}

const together = ({ resources, atLeast, most, has }: Reason<'together'>): string =>
  `No single resource is enough: ${listed(resources)} have to grow together, by at least ${atLeast} in all. ` +
  `Most are missing among the ${many(most)}, ${has} now.`;

function lateExits(reason: Reason<'late-exits'>): string {
  const { resource, has, heldMinutes, fromMinute, byMinute, reliefMinute } = reason;
  const due = reason.overrunIncluded ? 'must be out, overrun included,' : 'are due out';
  const until = fromMinute === undefined ? `by minute ${byMinute}` : `between minutes ${fromMinute} and ${byMinute}`;
  const before = reliefMinute === undefined ? '' : `, and nobody can relieve them before minute ${reliefMinute}`;
  const held = has === 1 ? `the only ${names[resource][0]}` : `one of the ${has} ${many(resource)}`;
  return (
    `${reason.people} of those inside now ${due} ${until}${before}. Each takes ${held} for ${heldMinutes} minutes, ` +
    `so that the last of them would be late. More ${many(resource)} or somebody leaving earlier would help.`
  );
}

const roomEmpty = ({ room, staffInside, there, atMinute, newcomersMinute }: Reason<'room-empty'>): string =>
  `${room} needs ${people(staffInside)} at minute ${atMinute} and ${there === 0 ? 'nobody' : `only ${there}`} of those inside ` +
  `can be covering it then. Whoever starts donning now covers from minute ${newcomersMinute} at the earliest: no plan fills this ` +
  `gap, only people who are already inside could.`;

function dutiesApart(reason: Reason<'duties-apart'>): string {
  const { endMinute, startMinute, overlapMinutes, neededMinutes, fromMinute, toMinute, able } = reason;
  return (
    `The duty that ends at minute ${endMinute} and the one that starts at minute ${startMinute} overlap ` +
    `${overlapMinutes >= 0 ? `${overlapMinutes} minutes` : `not at all (${-overlapMinutes} minutes between them)`}; a hand-over ` +
    `needs ${neededMinutes} (donning, handover, doffing and post-check). From minute ${fromMinute} to ${toMinute} ` +
    `${able === 0 ? 'nobody' : `only ${able}`} can be covering, whatever the number of people: let the next duty start at least ` +
    `${neededMinutes - overlapMinutes} minutes earlier, or the one before end later.`
  );
}
