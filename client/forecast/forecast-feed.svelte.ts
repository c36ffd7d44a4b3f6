import type { Asked } from '../heat/ask.ts';
import type { Forecast } from './forecast.ts';

/** What a screen knows of the forecast. */
export type Ahead =
  /** None has arrived yet, and the server, which plays it first, has not had its time. */
  | { is: 'asking' }
  | { is: 'known'; forecast: Forecast }
  /** The server has none, or is not reached, and what was known last is too old to go by. */
  | { is: 'none' };

/** A fact is a moment older than the forecast that knows of it: the server gathers facts, then plays. */
const afterFactMs = 1_500;
const againMs = 30_000;
const afterFailureMs = 10_000;
/** A server that has just been started plays its first forecast for a moment: so often it is asked again before that means there is none. */
const firstTries = 8;
const firstAgainMs = 2_000;
/** Three looks missed: what was likely then says little about now. */
export const goneAfterMs = 120_000;

type SetTimer = (ms: number, ring: () => void) => () => void;
const browserTimer: SetTimer = (ms, ring) => {
  const timer = setTimeout(ring, ms);
  return () => clearTimeout(timer);
};

/**
 * Asks for the forecast when the state has moved on and every half minute, one question at a time. A question that fails keeps
 * what is known, with its age, until that is too old.
 */
export class ForecastFeed {
  private readonly ask: () => Promise<Asked<Forecast>>;
  private readonly setTimer: SetTimer;
  #known = $state.raw<Forecast | undefined>(undefined);
  /** Questions without an answer since the last one that had one. */
  #failures = $state(0);
  private number = -1;
  private asking = false;
  private askAgain = false;
  private stopTimer: () => void = () => undefined;
  private dueInMs = Infinity;
  private open = false;

  constructor(ask: () => Promise<Asked<Forecast>>, setTimer: SetTimer = browserTimer) {
    this.ask = ask;
    this.setTimer = setTimer;
  }

  /** Returns what stops it. */
  start(): () => void {
    this.open = true;
    void this.look();
    return () => {
      this.open = false;
      this.stopTimer();
    };
  }

  /** The number of the state that the screen shows. */
  noteNumber(number: number): void {
    if (number === this.number) return;
    this.number = number;
    if (this.open) this.lookIn(afterFactMs);
  }

  /** @param now server time: what is known is dropped when it is too old */
  ahead(now: number): Ahead {
    const known = this.#known;
    if (known && now - known.at < goneAfterMs) return { is: 'known', forecast: known };
    // With nobody in an entry there is nothing that could grow old.
    if (known && known.runs === 0 && this.#failures === 0) return { is: 'known', forecast: known };
    return known || !this.isFirst ? { is: 'none' } : { is: 'asking' };
  }

  private get isFirst(): boolean {
    return this.#known === undefined && this.#failures < firstTries;
  }

  private get pauseMs(): number {
    if (this.#failures === 0) return againMs;
    return this.isFirst ? firstAgainMs : afterFailureMs;
  }

  private lookIn(ms: number): void {
    if (this.asking) {
      this.askAgain = true;
      return;
    }
    if (ms >= this.dueInMs) return;
    this.stopTimer();
    this.dueInMs = ms;
    this.stopTimer = this.setTimer(ms, () => void this.look());
  }

  private async look(): Promise<void> {
    this.stopTimer();
    this.dueInMs = Infinity;
    this.asking = true;
    const asked = await this.ask();
    this.asking = false;
    if (!this.open) return;
    this.#failures = asked.is === 'answered' ? 0 : this.#failures + 1;
    if (asked.is === 'answered') this.#known = asked.answer;
    this.lookIn(this.askAgain ? afterFactMs : this.pauseMs);
    this.askAgain = false;
  }
}
