import { at, type UnitState } from '../../machines/unit/state.ts';
import type { LaneId, PersonId } from '../../machines/wire/ids.ts';
import { minuteMs } from '../board/clock.ts';
import { laneViews, type DoffingSpan, type LaneLine, type LanePlan } from '../board/lane-view.ts';
import { waitingLeast } from './clash-words.ts';
import type { Forecast, ForecastPerson } from './forecast.ts';

/**
 * The forecast as lines of the hour: each exit on the lane it most likely gets, from the mean of its beginning to the mean of its
 * end, hatched where it is likely to wait. The hour draws it like the plan it makes of the live state alone.
 */
export function forecastPlan(forecast: Forecast, state: UnitState, now: number): LanePlan {
  const chosen = forecast.people.map((person) => ({ person, lane: likeliestLane(forecast, person) }));
  const lines = laneViews(state).map((view): LaneLine => {
    const mine = chosen.filter(({ lane }) => lane === view.id).map(({ person }) => person);
    const spans = mine.flatMap((person) => spanOf(person, state, view, now) ?? []).sort((a, b) => a.from - b.from);
    const minutes = state.rules.lanes.find(({ id }) => id === view.id)?.turnoverMinutes ?? 0;
    const cleaning = spans.map(({ to }) => ({ from: to, to: to + minutes * minuteMs }));
    const turnovers =
      view.is === 'turnover' ? [{ from: view.since, to: Math.max(now, view.until) }, ...cleaning] : cleaning;
    return { lane: view.id, name: view.name, closed: view.is === 'closed', spans, turnovers };
  });
  return { lines, without: [] };
}

function likeliestLane({ lanes }: Forecast, { worker }: ForecastPerson): LaneId | undefined {
  const uses = lanes.flatMap(({ id, uses: all }) =>
    all.filter((use) => use.worker === worker).map((use) => ({ id, ...use })),
  );
  return uses.sort((one, other) => other.chance - one.chance)[0]?.id;
}

function spanOf(
  person: ForecastPerson,
  state: UnitState,
  lane: { since: number },
  now: number,
): DoffingSpan | undefined {
  const { worker, stage, comesAt, laneAt, outAt, chanceOfWaiting } = person;
  if (comesAt === undefined || laneAt === undefined || outAt === undefined) return undefined;
  const going = stage === 'doffing';
  const limit = at(state.workers, worker)?.machine.context.entry?.limit;
  const isAhead = stage === 'inside';
  return {
    ...{ worker, going },
    wanted: going ? lane.since : chanceOfWaiting.either >= waitingLeast ? comesAt : laneAt,
    from: going ? lane.since : laneAt,
    to: Math.max(going ? now : laneAt, outAt.mean),
    callOutAt: isAhead ? limit?.callOutAt : undefined,
    limitAt: limit?.limitAt,
  };
}

/** Who will be with whom: one line for each observer who is likely to guide somebody. */
export interface ObserverLine {
  observer: PersonId;
  spans: DoffingSpan[];
}

/** Less likely than this, a line would only say that anybody may come. */
const likely = 0.35;

export function observerLines({ observers, people }: Forecast, until: number, most: number): ObserverLine[] {
  const limitless = { callOutAt: undefined, limitAt: undefined };
  return observers
    .map(({ id, uses }) => ({
      observer: id,
      spans: uses
        .filter(({ chance, from }) => chance >= likely && from < until)
        .map(({ worker, from, to, guiding }) => ({
          ...{ worker, from, to, wanted: from, ...limitless },
          going: guiding === 'doffing' && people.some((one) => one.worker === worker && one.stage === 'doffing'),
        })),
    }))
    .filter(({ spans }) => spans.length > 0)
    .slice(0, most);
}
