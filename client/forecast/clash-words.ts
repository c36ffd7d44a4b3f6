import { at, type UnitState } from '../../machines/unit/state.ts';
import { wallClock } from '../board/clock.ts';
import type { FloorNames } from '../board/floor-names.ts';
import { words } from '../words/words.ts';
import { aboutPercent, wholeMinutes } from './figures.ts';
import type { Forecast, ForecastClash } from './forecast.ts';

/** Rarer than this is not worth a hatching: there is always somebody who might wait. */
export const waitingLeast = 0.2;

export const clashesBefore = ({ clashes }: Forecast, until: number): ForecastClash[] =>
  clashes.filter((clash) => clash.from < until);

/** A clash in one sentence: when, what there is too little of, how likely somebody waits and how long. */
export function clashShort(clash: ForecastClash, forecast: Forecast, state: UnitState): string {
  const { clash: said } = words.forecast;
  const there = clash.what === 'lane' ? lanesOpen(state) : forecast.observers.length;
  const wait = said.waits(aboutPercent(clash.chance), wholeMinutes(clash.waitMinutesAtQuantile));
  return `${wallClock(clash.from)}–${wallClock(clash.to)}: ${said[clash.what](clash.workers.length, there)}: ${wait}`;
}

/** The same with those who meet. */
export const clashWords = (clash: ForecastClash, forecast: Forecast, state: UnitState, names: FloorNames): string =>
  `${clashShort(clash, forecast, state)} (${clash.workers.map(names.person).join(', ')})`;

const lanesOpen = ({ rules, lanes }: UnitState): number =>
  rules.lanes.filter(({ id }) => at(lanes, id)?.value !== 'closed').length;
