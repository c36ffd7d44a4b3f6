const people = (count: number): string => (count === 1 ? '1 person' : `${count} people`);

/** Why a plan can’t cover everything. Times come in as the clock shows them, rooms and people by name. */
export const shortageWords = {
  resources: {
    lanes: ['doffing lane', 'doffing lanes'],
    observers: ['observer', 'observers'],
    workers: ['person who may go in', 'people who may go in'],
  },
  and: (some: string, last: string) => `${some} and ${last}`,
  counted: (count: number, [one, many]: readonly [string, string]) => `${count} ${count === 1 ? one : many}`,
  tooFew: (counted: string, isOne: boolean) =>
    `${counted} ${isOne ? 'is' : 'are'} not enough to keep every room staffed.`,
  asWell: (many: string) => `There are too few ${many} as well.`,
  causes: {
    exits: (within: number, leaving: number, held: number) =>
      `Within any ${within} min at least ${people(leaving)} come out, and each takes a doffing lane for ${held} min.`,
    watching: (within: number, watching: number) =>
      `Within ${within} min donnings and doffings take at least ${watching} min of watching.`,
    break: (minutes: number, every: number) => `Every observer has a break of ${minutes} min in every ${every} min.`,
    entries: (needed: number, allowed: number) =>
      `It takes at least ${needed} entries, and all together may make ${allowed}.`,
    'time-in-equipment': 'It takes more hours in equipment than all together may have.',
    time: 'Donning, rooms, doffing and rest take more hours than all together are there.',
  },
  tightest: (many: string, from: string, to: string) => `The ${many} are tightest between ${from} and ${to}.`,
  dueOut: (count: number) => `${count} of those inside now are due out by then.`,
  tightMostly: (many: string) => `The ${many} are short most of the time.`,
  instead: (many: string, atLeast: number) => `With more ${many} instead, at least ${atLeast} more would be needed.`,
  noHelp: (list: string) => `More ${list} alone would not help.`,
  together: (list: string, atLeast: number) =>
    `More of one kind is not enough: ${list} have to grow together, by at least ${atLeast} in all.`,
  mostMissing: (many: string, has: number) => `Most are missing among the ${many}, ${has} now.`,
  nothingHelps:
    'No number of doffing lanes, observers or people would be enough. Look at how long people may stay inside, the handover and the ' +
    'shifts: some time can’t be covered with these, whoever is there.',
  notFoundOut: 'What is short is not proven. Allow more seconds to find out.',
  leastToSpare: (many: string) =>
    `By a rough count the ${many} have the least to spare, which is not proven to matter.`,
  noWayOut: (one: string) => `Those inside now can’t leave: there is no ${one}.`,
  lateExits: {
    dueBy: (count: number, by: string) => `${count} of those inside now are due out by ${by}.`,
    dueBetween: (count: number, from: string, by: string) =>
      `${count} of those inside now are due out between ${from} and ${by}.`,
    mustBy: (count: number, by: string) => `${count} of those inside now must be out by ${by}, overrun included.`,
    mustBetween: (count: number, from: string, by: string) =>
      `${count} of those inside now must be out between ${from} and ${by}, overrun included.`,
    relief: (time: string) => `Nobody can relieve them before ${time}.`,
    held: (has: number, [one, many]: readonly [string, string], minutes: number) =>
      `Each takes ${has === 1 ? `the only ${one}` : `one of the ${has} ${many}`} for ${minutes} min, so the last would be late.`,
    help: (many: string) => `More ${many} would help, or somebody coming out earlier.`,
  },
  roomEmpty: (room: string, needed: number, there: number, time: string) =>
    `${room} needs ${people(needed)} at ${time}, and ${there === 0 ? 'nobody' : `only ${there}`} of those inside can cover it then.`,
  newcomers: (time: string) =>
    `Whoever starts donning now covers from ${time} at the earliest: only people who are inside already could fill this gap.`,
  dutiesApart: {
    overlap: (end: string, start: string, minutes: number) =>
      `The shift that ends at ${end} and the one that starts at ${start} overlap by ${minutes} min.`,
    apart: (end: string, start: string, minutes: number) =>
      `Between the shift that ends at ${end} and the one that starts at ${start} there are ${minutes} min.`,
    needed: (minutes: number) => `A hand-over takes ${minutes} min: donning, handover, doffing and check.`,
    able: (able: number, from: string, to: string) =>
      `From ${from} to ${to} ${able === 0 ? 'nobody' : `only ${able}`} can be covering, however many people there are.`,
    earlier: (minutes: number) =>
      `Let the next shift start at least ${minutes} min earlier, or the one before end later.`,
  },
  tooFewOnDuty: (time: string, wanted: number, able: number) =>
    `At ${time} the rooms need ${people(wanted)} inside, and ${able === 0 ? 'nobody' : `only ${able}`} can be covering then.`,
  leftOut: (names: string) => `Not planned, because it would be too late: the exit of ${names}.`,
  leaveSoon: 'They have to leave as soon as a lane is free.',
} as const;
