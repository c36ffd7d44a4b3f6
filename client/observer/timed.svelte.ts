import { contactTime } from './contact-time.ts';
import type { TabletState } from './tablet-state.svelte.ts';

/** The contact time of one thing that is read out, started by a press and kept for this tab. Undefined where it needs none. */
export class Timed {
  private readonly tablet: TabletState;
  private readonly key: () => string;
  private readonly seconds: () => number | undefined;

  constructor(tablet: TabletState, key: () => string, seconds: () => number | undefined) {
    this.tablet = tablet;
    this.key = key;
    this.seconds = seconds;
  }

  readonly contact = $derived.by(() => {
    const seconds = this.seconds();
    const { wetAt } = this.tablet.drafts.read<{ wetAt?: number }>(this.key(), {});
    return seconds === undefined ? undefined : contactTime(seconds, wetAt, this.tablet.reckoned);
  });

  get tookSeconds(): number | undefined {
    return this.contact?.is === 'served' ? this.contact.tookSeconds : undefined;
  }

  readonly start = (): void => this.tablet.drafts.write(this.key(), { wetAt: this.tablet.live.exactNow() });
}
