/** The words of the forecast: what is likely, how likely, and what would help. */
export const forecastWords = {
  title: 'What is ahead',
  open: (moves: number) =>
    moves === 0 ? 'What is ahead' : moves === 1 ? '1 thing would help' : `${moves} things would help`,
  about: (points: number) => `about ${points} %`,
  under: (points: number) => `under ${points} %`,
  over: (points: number) => `over ${points} %`,
  error: (points: number) => `±${points} points`,
  errorLong: (runs: number, points: number) =>
    `Played ${runs} times with the unit's expected times. Chances are good to about ±${points} points, if those times are right.`,
  made: (time: string) => `forecast of ${time}`,
  old: (minutes: number) => `forecast ${minutes} min old`,
  none: 'Forecast not available. The lines show what is in equipment now.',
  noneShort: 'forecast not available',
  asking: 'forecast comes in a moment',
  calm: 'No exit is likely to wait.',
  nobody: 'Nobody is in an entry, so there is nothing to forecast.',
  clash: {
    lane: (exits: number, lanes: number) =>
      exits <= lanes
        ? 'no lane ready in time'
        : `${exits} exits, ${lanes === 0 ? 'no lane' : lanes === 1 ? 'one lane' : `${lanes} lanes`}`,
    observer: (exits: number, observers: number) =>
      exits <= observers
        ? 'no observer free in time'
        : `${exits} exits, ${observers === 0 ? 'no observer' : observers === 1 ? 'one observer' : `${observers} observers`}`,
    waits: (chance: string, minutes: number) => `${chance} that somebody waits, up to ${minutes} min`,
  },
  hours: (hours: number) => (hours === 1 ? 'Next hour' : `Next ${hours} hours`),
  showHours: (hours: number) => `${hours} h`,

  madeOf: {
    title: 'Made of',
    sum: (limit: string, doffing: number, wait: number, margin: number) =>
      `limit ${limit} − ${doffing} min doffing − ${wait} min waiting − ${margin} min margin`,
    planned: (reason: string) => `brought forward: ${reason}`,
  },
  broughtForward: (time: string, reason: string) =>
    `Comes out at ${time} (brought forward: ${reason.charAt(0).toLowerCase()}${reason.slice(1)})`,
  person: {
    title: 'Forecast',
    waiting: 'Waits for a lane or an observer',
    wait: (of: number) => `Wait that ${of} of 100 do not exceed`,
    limit: 'Passes the limit',
    out: 'Out of the lane',
    notOut: 'No lane or no observer is left for them',
    outBetween: (mean: string, late: string, of: number) => `about ${mean}, ${of} of 100 by ${late}`,
    minutes: (minutes: number) => (minutes === 0 ? 'none' : `${minutes} min`),
  },
  people: 'Everybody on the way',
  columns: {
    who: 'Who',
    out: 'Out',
    waits: 'Waits',
    wait: (of: number) => `Wait, ${of} of 100`,
    limit: 'Over the limit',
  },

  moves: 'What would help',
  noMoves: 'Nothing that one person could do now would shorten waiting clearly.',
  move: {
    reason: 'Two exits at once',
    callOut: (name: string, minutes: number, time: string) =>
      minutes < 0
        ? `Call ${name} out ${-minutes} min earlier, at ${time}.`
        : `Call ${name} out ${minutes} min later, at ${time}. The limit allows it.`,
    reopen: (lane: string) => `Reopen ${lane}. It is free after its turnover.`,
    assign: (worker: string, observer: string) => `Have ${observer} observe ${worker}.`,
    assignAny: (worker: string) => `Let whoever is free observe ${worker}.`,
    shiftBreak: (observer: string, minutes: number) =>
      `Ask ${observer} to take the next break ${Math.abs(minutes)} min ${minutes < 0 ? 'earlier' : 'later'}.`,
    swapBreaks: (one: string, other: string) => `Ask ${one} and ${other} to swap their next breaks.`,
    press: { 'plan-call-out': 'Set the call-out', 'reopen-lane': 'Reopen it', 'assign-observer': 'Assign' } as Readonly<
      Record<string, string>
    >,
    spoken: 'To be said: breaks and the choice at the door are made on the tablets.',
    together: (before: number, after: number) => `Waiting of all together: ${before} → ${after} min`,
    person: (name: string, [chance, then]: [string, string], [wait, less]: [number, number]) =>
      `${name}: waits ${chance} → ${then}, up to ${wait} → ${less} min`,
    limit: (name: string, before: string, after: string) => `${name}: over the limit ${before} → ${after}`,
  },
  whatIf: {
    open: 'What if…',
    title: 'What if, for the next hours',
    about: 'Played and shown, nothing else: nothing is recorded, adopted or told to anybody.',
    loses: 'An observer falls out',
    nobody: 'Nobody',
    addsLanes: 'More doffing lanes',
    more: 'One lane more',
    fewer: 'One lane less',
    doffing: 'Doffing takes longer',
    asItIs: 'As it is',
    play: 'Play it',
    playing: 'Being played…',
    chooseFirst: 'Choose first what would be otherwise.',
    failed: 'The server gave no answer. Try again in a moment.',
    would: (what: string) => `As it is → ${what}`,
    without: (name: string) => `without ${name}`,
    lanes: (count: number) => (count === 1 ? 'one lane more' : `${count} lanes more`),
    longer: (percent: number) => `doffing ${percent} % longer`,
    then: 'becomes',
    together: 'Waiting of all together, expected',
    overLimit: 'People who pass their limit, expected',
    laterEntry: (name: string) => `${name}, a later entry`,
    made: (time: string, hours: number) =>
      `Both as of ${time}, for the next ${hours % 1 === 0 ? hours : hours.toFixed(1)} h.`,
  },
  aid: 'Likely is not certain. The people at the door decide.',
} as const;
