import type { AlertState } from '../../machines/alert/alert-machine.ts';
import type { Review, UnitState } from '../../machines/unit/state.ts';
import type { AlertId, PersonId } from '../../machines/wire/ids.ts';
import type { ReportData, ReportKind } from '../../machines/wire/report.ts';
import { isAnswerUnderWay } from '../board/alert-view.ts';
import type { Sender } from '../board/dry-run.ts';
import { floorNames, type FloorNames } from '../board/floor-names.ts';
import type { LiveUnit } from '../state/live-unit.svelte.ts';
import type { Screen } from '../state/screen.svelte.ts';
import { deedsFor, isSameDeed, reportOf, type Deed, type Deeds, type Filled } from './deeds.ts';
import { alsoWaiting, inboxOf, shownOf, type Choice } from './inbox.ts';

/** What is laid over the page: a deed that waits for its reason, somebody, or a review. */
export type Open =
  { what: 'deed'; deed: Deed } | { what: 'person'; person: PersonId } | { what: 'review'; review: Review };

/**
 * The officer's page: which message is up, and what is laid over it. Alerts are taken from what the server has confirmed;
 * people from that with this page's own unsent reports on top. It is made only once the unit's state is there.
 */
export class SafetyPage {
  readonly live: LiveUnit;
  readonly screen: Screen;
  #choice = $state.raw<Choice | undefined>(undefined);
  #open = $state.raw<Open | undefined>(undefined);

  constructor(screen: Screen, live: LiveUnit) {
    this.screen = screen;
    this.live = live;
  }

  get confirmed(): UnitState {
    const state = this.live.confirmed;
    if (!state) throw new Error('the safety page is shown before the unit is known');
    return state;
  }

  get seen(): UnitState {
    return this.live.seen ?? this.confirmed;
  }

  get me(): PersonId | undefined {
    return this.screen.person;
  }

  readonly names: FloorNames = $derived.by(() => floorNames(this.confirmed.rules, (id) => this.screen.nameOf(id)));
  readonly inbox = $derived.by(() => inboxOf(this.confirmed, this.me));
  readonly shown = $derived.by(() => shownOf(this.confirmed, this.me, this.#choice));
  /** The worst unanswered alert that is not on the page, and how many there are. */
  readonly also = $derived.by(() => {
    const { shown } = this;
    const worst = shown && alsoWaiting(this.confirmed, this.me, shown);
    const count = this.inbox.unanswered.filter((alert) => alert.context.id !== shown?.context.id).length;
    return worst && { worst, count };
  });

  get open(): Open | undefined {
    return this.#open;
  }

  /** The officer's own name is "you": on this page it is said to them. */
  nameForMe(id: PersonId, you: string): string {
    return id === this.me ? you : this.screen.nameOf(id);
  }

  breachName(kind: string): string {
    return this.confirmed.rules.breaches.find((rule) => rule.kind === kind)?.name ?? kind;
  }

  deedsFor(worker: PersonId): Deeds {
    return deedsFor(this.seen, this.sender, worker, this.live.now);
  }

  /** The same deed as it stands now; undefined when somebody was faster or it is over. */
  still(deed: Deed): Deed | undefined {
    return this.deedsFor(deed.worker).open.find((one) => isSameDeed(one, deed));
  }

  private get sender(): Sender {
    const { device, role, person } = this.live.identity;
    return { device, role, ...(person && { person }) };
  }

  isChosen(alert: AlertId): boolean {
    return this.#choice?.alert === alert;
  }

  show(alert: AlertId): void {
    this.#choice = { alert, at: this.live.exactNow() };
  }

  /** The answer keeps its message up: whoever says "I act" goes on acting on it. */
  acknowledge(alert: AlertId): void {
    this.show(alert);
    void this.live.report('acknowledge-alert', { alert });
  }

  isBeingAnswered(alert: AlertState): boolean {
    return isAnswerUnderWay(this.seen, alert);
  }

  lay(open: Open): void {
    this.#open = open;
  }

  close(): void {
    this.#open = undefined;
  }

  /** Sends a deed and takes its sheet away. */
  do(deed: Deed, filled: Filled): void {
    const { kind, data } = reportOf(deed, filled);
    void this.live.report(kind as ReportKind, data as ReportData<ReportKind>);
    this.close();
  }

  closeReview(review: Review, reason: string): void {
    void this.live.report('close-review', { review: review.number, reason });
    this.close();
  }
}
