import { io, type Socket } from 'socket.io-client';
import type { Fact } from '../../machines/wire/fact.ts';
import type { DeviceId, PersonId, UnitId } from '../../machines/wire/ids.ts';
import {
  beatEveryMs,
  type BeatAnswer,
  type Hello,
  type HelloAnswer,
  type Missing,
  type Pulse,
  type ReportAnswer,
  type ToDevice,
  type ToServer,
} from '../../machines/wire/messages.ts';
import { wireVersion, type Report } from '../../machines/wire/report.ts';
import type { Role } from '../../machines/wire/rights.ts';

export interface Identity {
  unit: UnitId;
  device: DeviceId;
  role: Role;
  person?: PersonId;
}

/** What the link tells the screen. `number` is asked for, so that the link never has its own idea of what was folded. */
export interface LinkListener {
  number(): number;
  welcomed(answer: HelloAnswer & { welcome: true }): void;
  turnedAway(refusal: { code: string; sentence: string }): void;
  missing(missing: Missing): void;
  /** What was folded so far is of another log: forget it. */
  startOver(): void;
  facts(facts: Fact[]): void;
  pulse(pulse: Pulse): void;
  beat(answer: BeatAnswer): void;
  lost(): void;
}

const answerWithinMs = 6_000;
const comeBackAfterMs = 1_000;
/** Refusals of a hello that say nothing about this screen. */
const passing: ReadonlySet<string> = new Set(['unit/busy', 'unit/log-unavailable']);

/**
 * The socket of one screen. It says hello on every connection with the number of the last fact the screen has, and asks again
 * when it sees a gap. The transport's own recovery is not used: it works only when nothing went wrong.
 */
export class UnitLink {
  private readonly socket: Socket<ToDevice, ToServer>;
  private readonly listener: LinkListener;
  private readonly deviceNow: () => number;
  private readonly identity: Identity;
  private beatTimer: ReturnType<typeof setInterval> | undefined;
  private catchingUp = false;
  private server: string | undefined;
  private closed = true;

  constructor(identity: Identity, listener: LinkListener, deviceNow: () => number, url?: string) {
    this.identity = identity;
    this.listener = listener;
    this.deviceNow = deviceNow;
    const options = {
      transports: ['websocket'],
      timeout: 3_000,
      reconnectionDelay: 300,
      reconnectionDelayMax: 2_000,
      autoConnect: false,
    };
    this.socket = url ? io(url, options) : io(options);
    this.socket.on('connect', () => void this.sayHello());
    this.socket.on('disconnect', (reason) => this.noteGone(reason));
    this.socket.on('facts', ({ facts }) => this.takeFacts(facts));
    this.socket.on('pulse', (pulse) => this.takePulse(pulse));
    this.socket.on('farewell', (refusal) => this.turnAway(refusal));
  }

  open(): void {
    this.closed = false;
    this.socket.connect();
  }

  close(): void {
    this.closed = true;
    this.stopBeating();
    this.socket.disconnect();
  }

  /** Sends one report. Rejects when no answer came; the report is then still the outbox's. */
  async send(report: Report): Promise<ReportAnswer> {
    if (!this.socket.connected) throw new Error('not connected');
    return (await this.socket.timeout(answerWithinMs).emitWithAck('report', report)) as ReportAnswer;
  }

  private async sayHello(): Promise<void> {
    const message: Hello = { v: wireVersion, ...this.identity, after: this.listener.number() };
    try {
      const answer = (await this.socket.timeout(answerWithinMs).emitWithAck('hello', message)) as HelloAnswer;
      if (!answer.welcome) return passing.has(answer.code) ? this.comeBack() : this.turnAway(answer);
      this.listener.missing(await this.missingFrom(answer));
      this.listener.welcomed(answer);
      this.startBeating();
    } catch {
      // No answer: drop the connection and let it be made anew, rather than sit on a half-open one.
      this.socket.disconnect().connect();
    }
  }

  /**
   * A server that was started anew may serve another log, in which the same numbers are other facts: then nothing this screen
   * has folded may be built on, and it asks from the start.
   */
  private async missingFrom({ server, missing }: HelloAnswer & { welcome: true }): Promise<Missing> {
    const isAnother = this.server !== undefined && this.server !== server;
    this.server = server;
    if (!isAnother) return missing;
    this.listener.startOver();
    return (await this.socket.timeout(answerWithinMs).emitWithAck('catch-up', { after: 0 })) as Missing;
  }

  /** The transport reconnects by itself, except when the server ended the connection: a screen comes back from that too. */
  private noteGone(reason: string): void {
    this.stopBeating();
    if (reason === 'io server disconnect') this.comeBack();
  }

  private comeBack(): void {
    this.socket.disconnect();
    setTimeout(() => !this.closed && this.socket.connect(), comeBackAfterMs);
  }

  private turnAway(refusal: { code: string; sentence: string }): void {
    this.close();
    this.listener.turnedAway(refusal);
  }

  private takeFacts(facts: Fact[]): void {
    const number = this.listener.number();
    const fresh = facts.filter((fact) => fact.number > number);
    if (fresh[0] && fresh[0].number > number + 1) return void this.catchUp();
    if (fresh.length > 0) this.listener.facts(fresh);
  }

  private takePulse(pulse: Pulse): void {
    this.listener.pulse(pulse);
    if (pulse.head > this.listener.number()) void this.catchUp();
  }

  private async catchUp(): Promise<void> {
    if (this.catchingUp) return;
    this.catchingUp = true;
    try {
      const after = this.listener.number();
      this.listener.missing((await this.socket.timeout(answerWithinMs).emitWithAck('catch-up', { after })) as Missing);
    } catch {
      // The next pulse shows the gap again.
    } finally {
      this.catchingUp = false;
    }
  }

  private startBeating(): void {
    this.stopBeating();
    void this.beatOnce();
    this.beatTimer = setInterval(() => void this.beatOnce(), beatEveryMs);
  }

  private stopBeating(): void {
    clearInterval(this.beatTimer);
    this.beatTimer = undefined;
  }

  private async beatOnce(): Promise<void> {
    try {
      const sentAt = this.deviceNow();
      this.listener.beat((await this.socket.timeout(answerWithinMs).emitWithAck('beat', { sentAt })) as BeatAnswer);
    } catch {
      this.listener.lost();
    }
  }
}
