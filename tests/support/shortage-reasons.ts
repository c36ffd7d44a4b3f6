import type { ScarcityCause, ShortageReason } from '../../machines/unit/shortage.ts';

/** One or more reasons of every kind; a kind without any does not compile. Every moment is a number that no count or length has. */
type OfEvery<Union extends { kind: string }> = {
  [Kind in Union['kind']]: [Extract<Union, { kind: Kind }>, ...Extract<Union, { kind: Kind }>[]];
};

export const causesOfEveryKind: OfEvery<ScarcityCause> = {
  exits: [
    { kind: 'exits', withinMinutes: 40, people: 2, heldMinutes: 35 },
    { kind: 'exits', withinMinutes: 40, people: 1, heldMinutes: 35 },
  ],
  watching: [
    { kind: 'watching', withinMinutes: 505, watchingMinutes: 1080, breakMinutes: 30, everyMinutes: 240 },
    { kind: 'watching', withinMinutes: 505, watchingMinutes: 1080, breakMinutes: 0, everyMinutes: 240 },
  ],
  entries: [{ kind: 'entries', needed: 37, allowed: 24 }],
  'time-in-equipment': [{ kind: 'time-in-equipment' }],
  time: [{ kind: 'time' }],
};

const causes = Object.values(causesOfEveryKind).flat();
const lateExits = { kind: 'late-exits', resource: 'lanes', has: 3, heldMinutes: 35, people: 4 } as const;

export const reasonsOfEveryKind: OfEvery<ShortageReason> = {
  'too-few': [
    { kind: 'too-few', resource: 'lanes', has: 1, atLeast: 1 },
    { kind: 'too-few', resource: 'workers', has: 8, atLeast: 5 },
    ...causes.map((cause) => ({ kind: 'too-few' as const, resource: 'observers' as const, has: 2, atLeast: 1, cause })),
  ],
  'too-few-as-well': [
    { kind: 'too-few-as-well', resource: 'observers', cause: causes[0]! },
    ...causes.map((cause) => ({ kind: 'too-few-as-well' as const, resource: 'workers' as const, cause })),
  ],
  tightest: [
    { kind: 'tightest', resource: 'lanes', fromMinute: 317, toMinute: 352, dueOut: 3 },
    { kind: 'tightest', resource: 'workers', fromMinute: 317, toMinute: 352, dueOut: 0 },
  ],
  'tight-mostly': [{ kind: 'tight-mostly', resource: 'observers', ofMinutes: 720 }],
  instead: [{ kind: 'instead', resource: 'observers', atLeast: 2 }],
  'no-help': [
    { kind: 'no-help', resources: ['observers'] },
    { kind: 'no-help', resources: ['observers', 'workers'] },
  ],
  together: [{ kind: 'together', resources: ['lanes', 'observers', 'workers'], atLeast: 4, most: 'lanes', has: 1 }],
  'nothing-helps': [{ kind: 'nothing-helps', leastToSpare: 'workers' }],
  'not-found-out': [{ kind: 'not-found-out', leastToSpare: 'lanes' }],
  'no-way-out': [
    { kind: 'no-way-out', resource: 'lanes' },
    { kind: 'no-way-out', resource: 'observers' },
  ],
  'late-exits': [
    { ...lateExits, fromMinute: 317, byMinute: 352, reliefMinute: 317, overrunIncluded: false },
    { ...lateExits, byMinute: 352, overrunIncluded: false },
    { ...lateExits, resource: 'observers', has: 1, byMinute: 352, overrunIncluded: true },
    { ...lateExits, fromMinute: 317, byMinute: 352, overrunIncluded: true },
  ],
  'room-empty': [
    { kind: 'room-empty', room: 'r1', staffInside: 1, there: 0, atMinute: 317, newcomersMinute: 352 },
    { kind: 'room-empty', room: 'r1', staffInside: 2, there: 1, atMinute: 317, newcomersMinute: 352 },
  ],
  'duties-apart': [60, -30].map((overlapMinutes) => ({
    ...{ kind: 'duties-apart' as const, endMinute: 731, startMinute: 671, overlapMinutes, neededMinutes: 65 },
    ...{ fromMinute: 686, toMinute: 691, able: overlapMinutes > 0 ? 1 : 0 },
  })) as OfEvery<ShortageReason>['duties-apart'],
  'too-few-on-duty': [{ kind: 'too-few-on-duty', atMinute: 317, wanted: 4, able: 3 }],
  'left-out': [
    { kind: 'left-out', workers: ['w1'] },
    { kind: 'left-out', workers: ['w1', 'w2', 'w3'] },
  ],
};

export const everyReason: readonly ShortageReason[] = Object.values(reasonsOfEveryKind).flat();
