import { io, type Socket } from 'socket.io-client';
import { fold } from '../../machines/unit/fold.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { Fact } from '../../machines/wire/fact.ts';
import type { ReportId } from '../../machines/wire/ids.ts';
import {
  beatEveryMs,
  type HelloAnswer,
  type Missing,
  type ReportAnswer,
  type ToDevice,
  type ToServer,
} from '../../machines/wire/messages.ts';
import { wireVersion, type Report } from '../../machines/wire/report.ts';
import type { UnitId } from '../../machines/wire/ids.ts';
import type { Intent, Player } from './habits.ts';

const answerWithinMs = 10_000;

/** A simulated screen: the real socket, the real fold, and an invented person's habits at it. */
export class DrillDevice {
  readonly player: Player;
  private readonly unit: UnitId;
  private readonly socket: Socket<ToDevice, ToServer>;
  private readonly now: () => number;
  private sequence: number;
  private folded: UnitState | undefined;
  private readonly waiters = new Set<{ number: number; done: () => void }>();
  private beating: ReturnType<typeof setInterval> | undefined;
  onChange: () => void = () => undefined;

  /** @param firstSequence above every sequence this device has used before, so that a restarted drill uses none twice */
  constructor(url: string, unit: UnitId, player: Player, now: () => number, firstSequence: number) {
    this.player = player;
    this.unit = unit;
    this.now = now;
    this.sequence = firstSequence;
    this.socket = io(url, {
      transports: ['websocket'],
      autoConnect: false,
      reconnectionDelay: 200,
      reconnectionDelayMax: 2_000,
    });
    this.socket.on('facts', ({ facts }) => this.take(facts));
    this.socket.on('pulse', ({ head }) => {
      if (head > this.number) void this.catchUp();
    });
  }

  get state(): UnitState | undefined {
    return this.folded;
  }

  get number(): number {
    return this.folded?.number ?? 0;
  }

  async open(): Promise<void> {
    await new Promise<void>((resolve, reject) => {
      this.socket.on('connect', () => void this.hello().then(resolve, reject));
      this.socket.connect();
    });
    this.beating = setInterval(() => this.beat(), beatEveryMs);
  }

  close(): void {
    clearInterval(this.beating);
    this.socket.disconnect();
  }

  beat(): void {
    this.socket.emit('beat', { sentAt: Date.now() }, () => undefined);
  }

  private async hello(): Promise<void> {
    const { device, role, person } = this.player;
    const message = { v: wireVersion, unit: this.unit, device, role, person, after: this.number } as const;
    const answer = (await this.socket.timeout(answerWithinMs).emitWithAck('hello', message)) as HelloAnswer;
    if (!answer.welcome) throw new Error(`the server turned ${device} away: ${answer.sentence}`);
    this.takeMissing(answer.missing);
  }

  private async catchUp(): Promise<void> {
    this.takeMissing(
      (await this.socket.timeout(answerWithinMs).emitWithAck('catch-up', { after: this.number })) as Missing,
    );
  }

  private takeMissing(missing: Missing): void {
    if ('state' in missing) this.folded = missing.state as UnitState;
    else this.take(missing.facts);
  }

  private take(facts: readonly Fact[]): void {
    for (const fact of facts) if (fact.number === this.number + 1) this.folded = fold(this.folded, fact);
    for (const waiter of this.waiters)
      if (this.number >= waiter.number) {
        this.waiters.delete(waiter);
        waiter.done();
      }
    this.onChange();
  }

  /** Resolves when this screen has folded the fact of that number. */
  seen(number: number): Promise<void> {
    if (this.number >= number) return Promise.resolve();
    return new Promise((done) => this.waiters.add({ number, done }));
  }

  async send(intent: Intent): Promise<ReportAnswer> {
    const { device, person } = this.player;
    this.sequence += 1;
    const report = {
      v: wireVersion,
      id: `${device}.${this.sequence}` as ReportId,
      unit: this.unit,
      device,
      sequence: this.sequence,
      person,
      observedAt: this.now(),
      kind: intent.kind,
      data: intent.data,
    } as unknown as Report;
    return (await this.socket.timeout(answerWithinMs).emitWithAck('report', report)) as ReportAnswer;
  }
}
