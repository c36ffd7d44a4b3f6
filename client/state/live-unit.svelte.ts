import { SvelteMap } from 'svelte/reactivity';
import { acceptReport } from '../../machines/unit/accept.ts';
import { fold } from '../../machines/unit/fold.ts';
import { at, type UnitState } from '../../machines/unit/state.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import type { PersonId, ReportId } from '../../machines/wire/ids.ts';
import { notLiveAfterMs, type Missing, type ReportAnswer } from '../../machines/wire/messages.ts';
import { wireVersion, type Report, type ReportData, type ReportKind } from '../../machines/wire/report.ts';
import { Outbox } from '../link/outbox.ts';
import { ServerClock } from '../link/server-clock.ts';
import { UnitLink, type Identity } from '../link/unit-link.ts';
import { nothingRemembered, onlyOpen, remember, type Remembered } from './remembered.ts';

/** What a screen says to the person at it: a refusal, or an acceptance with a remark. Newest first. */
export interface Notice {
  id: string;
  tone: 'refused' | 'remark';
  code: string;
  sentence: string;
}

const noticesKept = 4;
const retryAfterMs = 1_000;

/**
 * One unit, live on one screen: the fold of the log as far as it is known, the screen's own reports that are not confirmed
 * yet, the server's clock, and whether the server is there at all. Every screen draws from this and nothing else.
 */
export class LiveUnit {
  readonly identity: Identity;
  private readonly clock = new ServerClock(() => Date.now());
  private readonly outbox: Outbox;
  private readonly link: UnitLink;
  #confirmed = $state.raw<UnitState | undefined>(undefined);
  #waiting = $state.raw<readonly Report[]>([]);
  #now = $state(Date.now());
  #heardAt = $state(-Infinity);
  #localNow = $state(performance.now());
  #notices = $state.raw<readonly Notice[]>([]);
  #turnedAway = $state.raw<{ code: string; sentence: string } | undefined>(undefined);
  #drill = $state(false);
  #everLive = $state(false);
  #remembered = $state.raw<Remembered>(nothingRemembered);
  private readonly answers = new SvelteMap<string, (answer: ReportAnswer) => void>();
  private sending = false;
  /** Answered, but their facts have not come yet: they stay on top of the state until then, so that nothing flickers. */
  private confirming: { report: Report; until: number }[] = [];
  private timer: ReturnType<typeof setInterval> | undefined;

  constructor(identity: Identity) {
    this.identity = identity;
    this.outbox = new Outbox(localStorage, `${identity.unit}.${identity.device}`);
    this.#waiting = this.outbox.reports;
    this.link = new UnitLink(
      identity,
      {
        number: () => this.number,
        welcomed: (answer) => {
          this.#drill = answer.drill;
          this.#everLive = true;
          this.clock.notePulse(answer.serverTime);
          this.heard();
          void this.flush();
        },
        turnedAway: (refusal) => (this.#turnedAway = refusal),
        missing: (missing) => this.takeMissing(missing),
        startOver: () => this.startOver(),
        facts: (facts) => this.take(facts),
        pulse: ({ serverTime }) => {
          this.clock.notePulse(serverTime);
          this.heard();
        },
        beat: ({ sentAt, serverTime }) => {
          this.clock.noteBeat(sentAt, serverTime);
          this.heard();
        },
        lost: () => undefined,
      },
      () => Date.now(),
    );
  }

  /** Opens the link and starts the one clock of the page. Returns what closes both. */
  start(): () => void {
    this.link.open();
    this.timer = setInterval(() => this.tick(), 250);
    return () => {
      clearInterval(this.timer);
      this.link.close();
    };
  }

  private tick(): void {
    this.#localNow = performance.now();
    const second = Math.floor(this.clock.now() / 1000) * 1000;
    // A screen that does not hear the server stops its timers where they are, rather than guess.
    if (!this.notLive && second !== this.#now) this.#now = second;
  }

  private heard(): void {
    this.#heardAt = performance.now();
    this.#localNow = this.#heardAt;
  }

  private takeMissing(missing: Missing): void {
    if ('facts' in missing) return this.take(missing.facts);
    this.#confirmed = missing.state as UnitState;
    this.#remembered = onlyOpen(this.#remembered, this.#confirmed);
  }

  private startOver(): void {
    this.#confirmed = undefined;
    this.confirming = [];
    this.refreshWaiting();
  }

  private take(facts: readonly Fact[]): void {
    try {
      this.foldIn(facts);
    } catch (error) {
      // Facts that do not fit what this screen has: what it has is wrong. The next pulse has it ask from the start.
      console.error(error);
      this.startOver();
    }
  }

  private foldIn(facts: readonly Fact[]): void {
    let state = this.#confirmed;
    for (const fact of facts) {
      if (fact.number !== (state?.number ?? 0) + 1) continue;
      state = fold(state, fact);
      if (this.identity.role === 'safety-officer') this.#remembered = remember(this.#remembered, fact, state);
    }
    this.#confirmed = state;
    this.confirming = this.confirming.filter((one) => one.until > this.number);
    this.refreshWaiting();
  }

  private get number(): number {
    return this.#confirmed?.number ?? 0;
  }

  private refreshWaiting(): void {
    const next = [...this.confirming.map((one) => one.report), ...this.outbox.reports];
    if (next.length > 0 || this.#waiting.length > 0) this.#waiting = next;
  }

  /** The unit as confirmed by the server. */
  get confirmed(): UnitState | undefined {
    return this.#confirmed;
  }

  /** The unit with this screen's own unsent reports on top: what its person has done counts for them at once. */
  readonly seen = $derived.by(() => this.#waiting.reduce(withReport(this.identity.role), this.#confirmed));

  /** Confidential values that came while this page was open; always empty on the screen of any other role. */
  get remembered(): Remembered {
    return this.#remembered;
  }

  /** Server time, in whole seconds. */
  get now(): number {
    return this.#now;
  }

  /** Server time to the millisecond, for stamping; not reactive. */
  exactNow(): number {
    return Math.round(this.clock.now());
  }

  get notLive(): boolean {
    return this.#localNow - this.#heardAt > notLiveAfterMs;
  }

  /** False until the first welcome: a page that is still opening is not an alarm. */
  get everLive(): boolean {
    return this.#everLive;
  }

  get waiting(): readonly Report[] {
    return this.#waiting;
  }

  get notices(): readonly Notice[] {
    return this.#notices;
  }

  get turnedAway(): { code: string; sentence: string } | undefined {
    return this.#turnedAway;
  }

  get drill(): boolean {
    return this.#drill;
  }

  dismiss(id: string): void {
    this.#notices = this.#notices.filter((one) => one.id !== id);
  }

  /**
   * Reports something. The report is in the outbox before this returns; the promise resolves with the server's answer,
   * however long that takes.
   */
  report<K extends ReportKind>(kind: K, data: ReportData<K>, observedAt = this.exactNow()): Promise<ReportAnswer> {
    const { unit, device, person } = this.identity;
    if (!person) throw new Error('a screen without a person reports nothing');
    const worker = 'worker' in data ? (data as { worker: PersonId }).worker : undefined;
    const basedOn = worker && this.#confirmed ? at(this.#confirmed.workers, worker)?.version : undefined;
    const sequence = this.outbox.nextSequence();
    const report = {
      v: wireVersion,
      id: `${device}.${sequence}` as ReportId,
      unit,
      device,
      sequence,
      person,
      observedAt: Math.round(observedAt),
      ...(Number.isFinite(this.clock.errorMs) && { clockErrorMs: Math.round(this.clock.errorMs) }),
      ...(basedOn !== undefined && { basedOn }),
      kind,
      data,
    } as unknown as Report;
    this.outbox.add(report);
    this.refreshWaiting();
    const answered = new Promise<ReportAnswer>((resolve) => this.answers.set(report.id, resolve));
    void this.flush();
    return answered;
  }

  /** Sends what is waiting, oldest first, one at a time, so that their order is the order they were made in. */
  private async flush(): Promise<void> {
    if (this.sending) return;
    this.sending = true;
    try {
      for (let next = this.outbox.reports[0]; next; next = this.outbox.reports[0]) {
        const answer = await this.link.send(next);
        if (!answer.accepted && answer.retry) {
          setTimeout(() => void this.flush(), retryAfterMs);
          break;
        }
        this.settle(next, answer);
      }
    } catch {
      // No connection or no answer: everything stays in the outbox; the next welcome flushes again.
      setTimeout(() => void this.flush(), retryAfterMs);
    } finally {
      this.sending = false;
    }
  }

  private settle(report: Report, answer: ReportAnswer): void {
    this.outbox.remove(report.id);
    const last = answer.accepted ? (answer.numbers.at(-1) ?? 0) : 0;
    if (last > this.number) this.confirming.push({ report, until: last });
    this.refreshWaiting();
    const remark = answer.accepted ? answer.notice : answer;
    if (remark && report.kind !== 'tell-alert')
      this.notice({
        id: report.id,
        tone: answer.accepted ? 'remark' : 'refused',
        code: remark.code,
        sentence: remark.sentence,
      });
    this.answers.get(report.id)?.(answer);
    this.answers.delete(report.id);
  }

  private notice(notice: Notice): void {
    this.#notices = [notice, ...this.#notices].slice(0, noticesKept);
  }
}

function withReport(role: Identity['role']) {
  return (state: UnitState | undefined, report: Report): UnitState | undefined => {
    if (!state) return state;
    const outcome = acceptReport(state, {
      report,
      role,
      receivedAt: Math.max(report.observedAt, state.at),
      salt: 'a-screen-shows-only',
    });
    return 'refusal' in outcome ? state : outcome.state;
  };
}
