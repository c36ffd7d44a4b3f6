import type { Logger } from 'pino';
import type { ForecastSettings } from '../../machines/unit/forecast-settings.ts';
import { placeOf } from '../../machines/unit/questions.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { Fact, FactKind } from '../../machines/wire/fact.ts';
import type { EntryId, PersonId } from '../../machines/wire/ids.ts';
import type { Clock } from '../clock.ts';
import { scenarioOf } from '../rotation/forecast/scenario-of.ts';
import type { Scenario } from '../rotation/forecast/scenario.ts';
import { withoutWaits } from '../rotation/live/call-out-waits.ts';
import type { WaitForecast } from '../rotation/live/call-out-waits.ts';
import type { ForecastSource } from '../rotation/live/forecast-view.ts';
import type { ForecastPlayer } from '../rotation/live/forecast-thread.ts';
import { liveOptions } from '../rotation/live/live-options.ts';
import type { Authority } from '../unit/authority.ts';

/** The forecast of a unit as it was at one number of its log. */
export interface LiveForecast extends ForecastSource {
  /** By entry: minutes to leave room for before the call-out. */
  waits: Readonly<Record<string, number>>;
}

export type ForecastNow =
  | { is: 'known'; known: LiveForecast }
  /** Nobody is in an entry, so nothing is computed. */
  | { is: 'nobody' }
  /** None yet, or none any more: the last attempt failed. */
  | { is: 'none' };

/** Facts that come together are looked at together, and while they keep coming it waits no longer than the second. */
const gatherMs = 300;
const gatherMsMost = 2_000;
const lookEveryMs = 30_000;
/** A forecast older than this says nothing about waits: the unit has moved on, or the thread is in trouble. */
const staleMs = 150_000;

/** What changes neither who will want a lane or an observer, nor when. */
const beside: ReadonlySet<FactKind> = new Set<FactKind>([
  'alert-raised',
  'alert-told',
  'alert-acknowledged',
  'alert-escalated',
  'alert-cleared',
  'device-joined',
  'device-silent',
  'device-back',
  'device-left',
  'report-kept',
  'review-closed',
  'climate-recorded',
  'work-set',
  'check-set',
  'check-recorded',
  'breach-cleared',
  'stood-down',
  'stand-down-lifted',
  'again-allowed',
]);

/**
 * Has the forecast of one unit played whenever something changes that matters to it, and every half minute while anybody is in an
 * entry. One at a time; what happens meanwhile is looked at when that one is done, on the newest state. With the same seed each time:
 * what differs from one forecast to the next is the unit and not the luck. It writes nothing; the watch over the limits asks it
 * for waits.
 */
export class ForecastWatch {
  private readonly authority: Authority;
  private readonly clock: Clock;
  private readonly logger: Logger;
  private readonly player: ForecastPlayer;
  private readonly settings: ForecastSettings | undefined;
  private readonly stopListening: () => void;
  private readonly listeners = new Set<() => void>();
  private latest: LiveForecast | undefined;
  /** Oldest first; the first of them is what was known when the minute began. */
  private lastMinute: readonly Pick<LiveForecast, 'at' | 'waits'>[] = [];
  private isPlaying = false;
  private isAskedAgain = false;
  private wakesAt = Infinity;
  /** Since when facts have been gathered that no forecast knows of. */
  private newsSince: number | undefined;
  private stopTimer: () => void = () => undefined;
  private stopped = false;

  constructor(authority: Authority, clock: Clock, logger: Logger, player: ForecastPlayer, settings?: ForecastSettings) {
    this.authority = authority;
    this.clock = clock;
    this.logger = logger;
    this.player = player;
    this.settings = settings;
    this.stopListening = authority.onFacts((facts) => this.hear(facts));
    if (isAnybodyInEntry(authority.state)) this.wakeIn(0);
  }

  stop(): void {
    this.stopped = true;
    this.stopListening();
    this.stopTimer();
    this.listeners.clear();
  }

  get now(): ForecastNow {
    if (!isAnybodyInEntry(this.authority.state)) return { is: 'nobody' };
    return this.latest ? { is: 'known', known: this.latest } : { is: 'none' };
  }

  /** Calls back when there is a new forecast. */
  onForecast(listener: () => void): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  /** What the forecasts of the last minute say; undefined when there is none of now, or none that knows this entry. */
  waitOf(worker: PersonId): WaitForecast | undefined {
    const entry: EntryId | undefined = this.authority.state.workers[worker]?.machine.context.entry?.id;
    if (!this.latest || entry === undefined || this.clock.now() - this.latest.at > staleMs) return undefined;
    const waits = this.lastMinute.flatMap((one) => one.waits[entry] ?? []);
    return this.latest.waits[entry] === undefined ? undefined : { least: Math.min(...waits), most: Math.max(...waits) };
  }

  /** The unit as it is at this moment, as it would be played. */
  scenarioNow(): { scenario: Scenario; unmoved: Scenario; state: UnitState; at: number; number: number } {
    const { state, head } = this.authority;
    const at = this.clock.now();
    const options = liveOptions(state, this.settings);
    return {
      scenario: scenarioOf(state, at, options),
      unmoved: scenarioOf(withoutWaits(state), at, options),
      ...{ state, at, number: head.number },
    };
  }

  private hear(facts: readonly Fact[]): void {
    if (facts.every((fact) => beside.has(fact.kind))) return;
    const now = this.clock.now();
    this.newsSince ??= now;
    this.wakeAt(Math.min(now + gatherMs, this.newsSince + gatherMsMost));
  }

  private wakeIn(delayMs: number): void {
    this.wakeAt(this.clock.now() + delayMs);
  }

  private wakeAt(instant: number): void {
    if (this.stopped) return;
    this.stopTimer();
    this.wakesAt = instant;
    const delayMs = Math.max(0, this.wakesAt - this.clock.now());
    this.stopTimer = this.clock.setTimer(delayMs, () => this.look());
  }

  private look(): void {
    if (this.stopped) return;
    this.wakesAt = Infinity;
    this.newsSince = undefined;
    if (this.isPlaying) {
      this.isAskedAgain = true;
      return;
    }
    if (!isAnybodyInEntry(this.authority.state)) {
      this.latest = undefined;
      this.lastMinute = [];
      return;
    }
    this.wakeIn(lookEveryMs);
    this.isPlaying = true;
    void this.play().finally(() => {
      this.isPlaying = false;
      if (!this.isAskedAgain || this.stopped) return;
      this.isAskedAgain = false;
      this.look();
    });
  }

  private async play(): Promise<void> {
    try {
      const { scenario, unmoved, ...about } = this.scenarioNow();
      const played = await this.player.play<'look'>({ kind: 'look', scenario, unmoved });
      if (this.stopped) return;
      if (!played.ok) {
        if (played.why === 'failed') this.fail(new Error(played.message));
        return;
      }
      const { forecast, clashes, moves, waits } = played.worked;
      this.keep({ ...about, scenario, forecast, clashes, moves, waits });
    } catch (error) {
      this.fail(error);
    }
  }

  private keep(latest: LiveForecast): void {
    this.latest = latest;
    const { at, waits } = latest;
    const sofar = [...this.lastMinute, { at, waits }];
    const first = sofar.findLastIndex((one) => one.at <= at - 60_000);
    this.lastMinute = sofar.slice(Math.max(0, first));
    for (const listener of this.listeners) listener();
  }

  /** The limits in force stay; screens say that there is no forecast; the next look tries again. */
  private fail(error: unknown): void {
    this.latest = undefined;
    this.lastMinute = [];
    this.logger.error({ err: error, unit: this.authority.unit }, 'the forecast could not be made');
  }
}

const away: ReadonlySet<string> = new Set(['rest', 'post-check']);

/** Whoever is at the post-check has nothing left to wait for. */
const isAnybodyInEntry = (state: UnitState): boolean =>
  Object.values(state.workers).some(({ machine }) => machine.context.entry && !away.has(placeOf(machine)));
