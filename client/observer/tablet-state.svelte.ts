import type { PersonId, StepId } from '../../machines/wire/ids.ts';
import type { Report, ReportData, ReportKind } from '../../machines/wire/report.ts';
import type { LiveUnit } from '../state/live-unit.svelte.ts';
import type { Screen } from '../state/screen.svelte.ts';
import { alertLines } from './alert-lines.ts';
import { DraftShelf } from './draft-shelf.svelte.ts';
import { emergencyLine } from './emergency-line.ts';
import { Stretch } from './interruption.ts';
import { guidedEntry, helpedFrom, unsentOf, watchedBy, type Me } from './guided.ts';
import { ReadAloud } from './read-aloud.svelte.ts';
import { isGuided, tabletView, type TabletView } from './tablet-view.ts';

/** What lies on top of the page that the state asks for. Opening one is this tablet's own; none of them holds an answer. */
export type Overlay =
  | { is: 'none' }
  | { is: 'steps' }
  | { is: 'deviation'; step: StepId }
  | { is: 'more' }
  | { is: 'stop' }
  | { is: 'turn-back' }
  | { is: 'emergency-doffing'; index: number }
  | { is: 'breach-who' }
  | { is: 'breach-kind'; worker: PersonId }
  | { is: 'breach-steps'; worker: PersonId }
  | { is: 'look-after'; worker: PersonId; stage: 'facts' | 'check' };

const none: Overlay = { is: 'none' };
const nothing: readonly Report[] = [];

/** Everything the components of one tablet share: the view, the moment, the drafts, and how reports are sent. */
export class TabletState {
  readonly screen: Screen;
  readonly live: LiveUnit;
  readonly voice = new ReadAloud();
  readonly drafts = new DraftShelf(sessionStorage);
  #overlay = $state.raw<{ overlay: Overlay; over: string }>({ overlay: none, over: '' });
  #chosen = $state.raw<StepId | undefined>(undefined);
  private readonly stretch = new Stretch();
  /** Steps asked about after an interruption; they belong to the stretch of guiding whose `before` this is. */
  #answered = $state.raw<{ before: readonly StepId[]; steps: readonly StepId[] }>({ before: [], steps: [] });
  #declared = $state.raw<{ worker: PersonId; at: number } | undefined>(undefined);
  /** The worker guided last, whose page is gone. */
  #lately = $state.raw<PersonId | undefined>(undefined);

  constructor(screen: Screen, live: LiveUnit) {
    this.screen = screen;
    this.live = live;
  }

  get me(): Me {
    const { person, device } = this.live.identity;
    if (!person) throw new Error('an observer tablet without an observer');
    return { person, device };
  }

  readonly openedAt = $derived.by(() => (this.live.everLive ? this.live.exactNow() : 0));

  /**
   * Server time in whole seconds, as this device reckons it, going on while the server is not heard: hands must be wet for as
   * long as they must, network or not. Times that are shown as the unit's own come from `live.now`, which then stands still.
   */
  readonly reckoned = $derived.by(() =>
    this.live.notLive ? Math.floor(this.live.exactNow() / 1000) * 1000 : this.live.now,
  );

  /** Changes only when the server is lost or heard again, not with every beat of the page's clock. */
  private readonly heard = $derived.by(() => !this.live.notLive);

  readonly unsent = $derived.by(() =>
    this.live.waiting.length === 0 ? nothing : unsentOf(this.live.waiting, this.live.now, this.heard),
  );

  readonly view = $derived.by((): TabletView | undefined => {
    const state = this.live.seen;
    const { openedAt, unsent } = this;
    const chosen = this.#chosen;
    if (!state) return undefined;
    const before = this.stretch.before(guidedEntry(state, this.me.person));
    const answered = this.#answered.before === before ? this.#answered.steps : [];
    return tabletView(state, this.me, {
      now: this.live.now,
      openedAt,
      unsent,
      before,
      answered,
      ...(chosen && { chosen }),
    });
  });

  readonly guided = $derived.by(() => (this.view && isGuided(this.view) ? this.view.guided : undefined));

  readonly watched = $derived.by(() =>
    this.live.seen ? watchedBy(this.live.seen, this.me.person, this.live.now) : [],
  );

  readonly helped = $derived.by(() => (this.live.seen ? helpedFrom(this.live.seen, this.guided, this.watched) : []));

  readonly alerts = $derived.by(() =>
    this.live.confirmed ? alertLines(this.live.confirmed, this.me.person, this.live.waiting) : [],
  );

  readonly emergency = $derived.by(() =>
    this.live.seen ? emergencyLine(this.live.seen, this.#declared, this.live.waiting, this.reckoned) : undefined,
  );

  /** What an overlay was opened over. When that changes, the overlay is about something that is past. */
  private get underneath(): string {
    const { guided } = this;
    return guided ? `${guided.entry.id}/${guided.place}/${guided.entry.deviations.length}` : '';
  }

  get overlay(): Overlay {
    const { overlay, over } = this.#overlay;
    // What is about somebody by name, and not about the page below, stays when that page changes.
    const isNamed = overlay.is.startsWith('breach') || overlay.is === 'look-after';
    if (isNamed || over === this.underneath) return overlay;
    // Helpers who are at it go on, wherever the record says that the worker is.
    const isSameEntry = over.split('/')[0] === this.underneath.split('/')[0];
    return overlay.is === 'emergency-doffing' && isSameEntry ? overlay : none;
  }

  open(overlay: Overlay): void {
    this.#overlay = { overlay, over: this.underneath };
  }

  close(): void {
    this.open(none);
  }

  choose(step: StepId): void {
    this.#chosen = step;
    this.close();
  }

  nameOf(id: PersonId | undefined): string {
    return this.screen.nameOf(id);
  }

  send<K extends ReportKind>(kind: K, data: ReportData<K>): void {
    void this.live.report(kind, data);
  }

  verify(worker: PersonId, step: StepId, tookSeconds: number | undefined): void {
    this.send('verify-step', { worker, step, ...(tookSeconds !== undefined && { tookSeconds }) });
    this.#chosen = undefined;
    this.drafts.clear();
  }

  /** The answer to "was this done and seen?": yes, or no and a deviation was noted. Either way it is not asked again. */
  answer(step: StepId): void {
    const before = this.stretch.before(this.guided?.entry);
    const earlier = this.#answered.before === before ? this.#answered.steps : [];
    this.#answered = { before, steps: [...earlier, step] };
  }

  declareEmergency(worker: PersonId): void {
    this.send('declare-emergency', { worker });
    this.#declared = { worker, at: this.live.exactNow() };
    this.close();
  }

  /** The next "free" page says what became of this worker. */
  remember(worker: PersonId): void {
    this.#lately = worker;
  }

  get lately(): PersonId | undefined {
    return this.#lately;
  }
}
