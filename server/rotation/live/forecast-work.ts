import { clashMoves, type ClashMove } from '../forecast/clash-moves.ts';
import { forecast, forecastFrom, tallyOf, waitForExit, type Forecast } from '../forecast/forecast.ts';
import { readScenario, type Scenario } from '../forecast/scenario.ts';
import { clashesIn, type ForecastClash } from './clashes.ts';

/** What the thread is asked to play, and what it answers. Plain data: it goes from one thread to another. */
export type ForecastWork =
  /** `unmoved` is the same unit with no call-out moved for waiting: see call-out-waits.ts. */
  { kind: 'look'; scenario: Scenario; unmoved: Scenario } | { kind: 'compare'; before: Scenario; after: Scenario };

export type ForecastWorked =
  | {
      kind: 'look';
      forecast: Forecast;
      clashes: ForecastClash[];
      moves: ClashMove[];
      waits: Readonly<Record<string, number>>;
    }
  | { kind: 'compare'; before: Forecast; after: Forecast };

export type WorkOf<Kind extends ForecastWork['kind']> = Extract<ForecastWork, { kind: Kind }>;
export type WorkedOf<Kind extends ForecastWork['kind']> = Extract<ForecastWorked, { kind: Kind }>;

/** More than are shown: what nobody can do in this unit is left out afterwards. */
const movesMost = 12;

/** Throws when a scenario does not fit together: that is a mistake of whoever made it, and named. */
export function playWork(work: ForecastWork): ForecastWorked {
  switch (work.kind) {
    case 'look': {
      const scenario = checked(work.scenario);
      const unmoved = forecast(checked(work.unmoved));
      const tally = tallyOf(scenario);
      const now = forecastFrom(scenario, tally);
      return {
        kind: 'look',
        forecast: now,
        clashes: clashesIn(now, tally),
        moves: clashMoves(scenario, { movesMost }),
        waits: Object.fromEntries(unmoved.people.map(({ id }) => [id, waitForExit(unmoved, id) ?? 0])),
      };
    }
    case 'compare':
      return { kind: 'compare', before: forecast(checked(work.before)), after: forecast(checked(work.after)) };
    default:
      return work satisfies never;
  }
}

function checked(scenario: Scenario): Scenario {
  const read = readScenario(scenario);
  if (read.ok) return read.value;
  throw new Error(`${read.refusal.code}: ${read.refusal.message}`);
}
