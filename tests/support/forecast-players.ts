import { playWork, type ForecastWork, type WorkOf } from '../../server/rotation/live/forecast-work.ts';
import type { ForecastPlayer, Played } from '../../server/rotation/live/forecast-thread.ts';

/** Plays in this thread, at once, and counts what it is asked. */
export class CountingPlayer implements ForecastPlayer {
  readonly asked: ForecastWork[] = [];
  play<Kind extends ForecastWork['kind']>(work: WorkOf<Kind>): Promise<Played<Kind>> {
    this.asked.push(work);
    return Promise.resolve({ ok: true, worked: playWork(work) } as Played<Kind>);
  }
}

/** Answers when the test says so, and with what it says. */
export class SlowPlayer implements ForecastPlayer {
  readonly asked: ForecastWork[] = [];
  private readonly open: ((played?: Played<'look'>) => void)[] = [];

  play<Kind extends ForecastWork['kind']>(work: WorkOf<Kind>): Promise<Played<Kind>> {
    this.asked.push(work);
    return new Promise((resolve) => {
      this.open.push((played) => resolve((played ?? { ok: true, worked: playWork(work) }) as Played<Kind>));
    });
  }

  /** The oldest that waits is answered: by playing it, or with this. */
  answer(played?: Played<'look'>): void {
    this.open.shift()?.(played);
  }
}
