import type { Logger } from 'pino';
import type { Advice } from '../../machines/unit/advise.ts';
import type { Fact, FactKind } from '../../machines/wire/fact.ts';
import type { EntryId, PersonId } from '../../machines/wire/ids.ts';
import type { Clock } from '../clock.ts';
import { adviceFor } from '../heat/live/advice.ts';
import { LiveStrain } from '../heat/live/live-strain.ts';
import { movedWaits, waitToLeave, type WaitForecast } from '../rotation/live/call-out-waits.ts';
import type { Authority } from '../unit/authority.ts';

const lookEveryMs = 60_000;
/** Facts that come together are looked at together. */
const gatherMs = 1_000;

/** What changes somebody's exposure, or the limit that was in force. */
const looksAfter: ReadonlySet<FactKind> = new Set<FactKind>([
  'unit-changed',
  'inspection-passed',
  'limit-set',
  'climate-recorded',
  'work-set',
  'room-entered',
  'room-left',
  'emergency-declared',
]);

/**
 * The one place from which calculations advise. Has the heat calculation look at everybody in equipment once a minute, and a second
 * after a fact that changes what they are exposed to; tells the authority when that says something else than before. After a fact
 * that comes a minute or more after the last look it looks at once: on the clock of a drill, where no timer rings while it jumps,
 * that is one look a minute at most.
 *
 * Several servers may do this for one unit. They compute the same from the same log, and what the second one says is no news. Even
 * if they did not (two versions of the program), each speaks once per change, so they can't drive each other on.
 */
export class LimitWatch {
  private readonly authority: Authority;
  private readonly clock: Clock;
  private readonly logger: Logger;
  private readonly strain = new LiveStrain();
  private readonly forecasts: ForecastWaits | undefined;
  private readonly stopListening: () => void;
  private readonly stopForecasts: () => void;
  /** What the authority was told last, by entry. */
  private told = new Map<EntryId, string>();
  private lookedAt = -Infinity;
  private wakesAt = Infinity;
  private stopTimer: () => void = () => undefined;
  private stopped = false;

  constructor(authority: Authority, clock: Clock, logger: Logger, forecasts?: ForecastWaits) {
    this.authority = authority;
    this.clock = clock;
    this.logger = logger;
    this.forecasts = forecasts;
    this.stopListening = authority.onFacts((facts) => this.hear(facts));
    this.stopForecasts = forecasts?.onForecast(() => this.hearForecast()) ?? (() => undefined);
    this.look();
  }

  stop(): void {
    this.stopped = true;
    this.stopListening();
    this.stopForecasts();
    this.stopTimer();
  }

  private hearForecast(): void {
    if (movedWaits(this.authority.state, this.forecastWaitOf).length > 0) this.wakeIn(gatherMs);
  }

  private readonly forecastWaitOf = (worker: PersonId): WaitForecast | undefined => this.forecasts?.waitOf(worker);

  private hear(facts: readonly Fact[]): void {
    const news = facts.filter((fact) => looksAfter.has(fact.kind) && !isOwn(fact));
    if (news.length === 0) return;
    for (const fact of news) this.forgetWhatItUndoes(fact);
    if (this.clock.now() - this.lookedAt >= lookEveryMs) this.look();
    else this.wakeIn(gatherMs);
  }

  /** A limit that somebody else has set, or other rules, may need the same advice again. */
  private forgetWhatItUndoes(fact: Fact): void {
    if (fact.kind === 'limit-set') this.told.delete(fact.data.entry);
    if (fact.kind === 'unit-changed') this.told.clear();
  }

  private look(): void {
    if (this.stopped) return;
    this.lookedAt = this.clock.now();
    this.wakesAt = Infinity;
    this.wakeIn(lookEveryMs);
    try {
      const news = this.newsIn(this.adviceNow());
      if (news.length > 0) void this.tell(news);
    } catch (error) {
      // The limits in force stay; the shift goes on without new advice.
      this.logger.error({ err: error, unit: this.authority.unit }, 'a bug: the heat limits could not be computed');
    }
  }

  /** What heat says of those it knows enough about, each with their wait; of everybody else the wait alone, when it moves. */
  private adviceNow(): Advice[] {
    const { state } = this.authority;
    const waitOf = (worker: PersonId) => waitToLeave(state, worker, this.forecastWaitOf(worker));
    const heat = adviceFor(state, this.lookedAt, this.strain, waitOf);
    const said = new Set(heat.map(({ entry }) => entry));
    const moved = movedWaits(state, this.forecastWaitOf).filter(({ entry }) => !said.has(entry));
    return [...heat, ...moved.map((one) => ({ ...one, candidates: [] }))];
  }

  /** What was not said before; entries that are over are forgotten. */
  private newsIn(advice: readonly Advice[]): Advice[] {
    const before = this.told;
    this.told = new Map(advice.map((one) => [one.entry, JSON.stringify(one)]));
    return advice.filter((one) => before.get(one.entry) !== this.told.get(one.entry));
  }

  private async tell(news: readonly Advice[]): Promise<void> {
    const answer = await this.authority.advise(news);
    if (answer.accepted) return;
    // The log is out of reach: it is said again at the next look.
    for (const { entry } of news) this.told.delete(entry);
  }

  private wakeIn(delayMs: number): void {
    const at = this.clock.now() + delayMs;
    if (at >= this.wakesAt) return;
    this.stopTimer();
    this.wakesAt = at;
    this.stopTimer = this.clock.setTimer(delayMs, () => this.look());
  }
}

/** What the forecast says about waits, as far as this watch asks. */
export interface ForecastWaits {
  /** Undefined when there is no forecast of now. */
  waitOf(worker: PersonId): WaitForecast | undefined;
  onForecast(listener: () => void): () => void;
}

/** What this watch has brought about itself, here or on another server, is no news to it. */
const isOwn = (fact: Fact): boolean => fact.kind === 'limit-set' && 'watch' in fact.by;
