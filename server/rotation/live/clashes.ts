import type { Forecast, PersonForecast } from '../forecast/forecast.ts';
import type { Tally } from '../forecast/tally.ts';

/** Exits that meet, long before they do: when, for want of what, and how likely it is that one of them waits. Minutes from now. */
export interface ForecastClash {
  fromMinute: number;
  toMinute: number;
  what: 'lane' | 'observer';
  /** Entries that meet; those who are likely to wait first, most likely on top. */
  people: string[];
  /** That somebody of them waits. Of two who come at once each waits in half of the runs, and one of them in nearly all. */
  chance: number;
  /** The longest wait among them, at the forecast's quantile. */
  waitMinutesAtQuantile: number;
}

/** Rarer than this is not worth a word: there is always somebody who might wait. */
const waitingLeast = 0.2;
/** A time that is a mean of many runs is not told more narrowly than this. */
const spanLeastMinutes = 5;
/** Who waits less is not kept waiting in anybody's eyes. Minutes. */
const waitLeast = 0.5;

interface Coming {
  one: PersonForecast;
  index: number;
  comes: number;
  lane: number;
  out: number;
}

/** When somebody comes to the threshold and steps into a lane, on the mean of the runs in which they do. */
export function meanTimes({ id, waitMinutes }: PersonForecast, { lanes }: Forecast) {
  const uses = lanes.flatMap((lane) => lane.uses.filter(({ person }) => person === id));
  const chance = uses.reduce((sum, use) => sum + use.chance, 0);
  if (chance === 0) return undefined;
  const lane = uses.reduce((sum, use) => sum + use.chance * use.startMinute, 0) / chance;
  return { comes: Math.max(0, lane - waitMinutes.mean), lane };
}

/** @param tally of the runs that this forecast was made from */
export function clashesIn(forecast: Forecast, tally: Tally): ForecastClash[] {
  const coming = forecast.people.flatMap((one, index): Coming[] => {
    const times = meanTimes(one, forecast);
    return times ? [{ one, index, ...times, out: one.outInMinutes?.mean ?? times.lane }] : [];
  });
  return coming
    .filter(({ one }) => one.chanceOfWaiting.either >= waitingLeast)
    .sort((a, b) => a.comes - b.comes)
    .reduce<Coming[][]>(intoGroups, [])
    .map((group) => clashOf(group, coming, forecast, tally));
}

/** Those whose times of waiting touch wait in one and the same clash. */
function intoGroups(groups: Coming[][], one: Coming): Coming[][] {
  const last = groups.at(-1);
  const isSame = last?.some((other) => one.comes <= endOf(other));
  return last && isSame ? [...groups.slice(0, -1), [...last, one]] : [...groups, [one]];
}

const endOf = ({ comes, lane }: Coming): number => Math.max(lane, comes + spanLeastMinutes);

function clashOf(group: Coming[], coming: readonly Coming[], { waitQuantile }: Forecast, tally: Tally): ForecastClash {
  const fromMinute = Math.min(...group.map(({ comes }) => comes));
  const toMinute = Math.max(...group.map(endOf));
  const sum = (of: 'lane' | 'observer') => group.reduce((all, { one }) => all + one.chanceOfWaiting[of], 0);
  const waiting = [...group].sort((a, b) => b.one.chanceOfWaiting.either - a.one.chanceOfWaiting.either);
  const met = coming.filter((one) => !group.includes(one) && one.comes <= toMinute && one.out >= fromMinute);
  const longest = longestWaits(group, tally);
  return {
    ...{ fromMinute, toMinute },
    what: sum('lane') >= sum('observer') ? 'lane' : 'observer',
    people: [...waiting, ...met].map(({ one }) => one.id),
    chance: longest.filter((wait) => wait > waitLeast).length / tally.runs,
    waitMinutesAtQuantile: longest[Math.max(0, Math.ceil(waitQuantile * tally.runs - 1e-9) - 1)]!,
  };
}

/** The longest wait among these in each run, shortest first. */
function longestWaits(group: readonly Coming[], { waits, runs }: Tally): Float32Array {
  return Float32Array.from({ length: runs }, (_, run) =>
    Math.max(...group.map(({ index }) => waits[index * runs + run]!)),
  ).sort();
}
