import type { Socket } from 'socket.io';
import { at } from '../../machines/unit/state.ts';
import type { DeviceId, PersonId } from '../../machines/wire/ids.ts';
import {
  reportsPerSecondMax,
  type Hello,
  type HelloAnswer,
  type ReportAnswer,
  type ToDevice,
  type ToServer,
} from '../../machines/wire/messages.ts';
import type { Refusal, RefusalCode } from '../../machines/wire/refusal.ts';
import type { Report } from '../../machines/wire/report.ts';
import type { Role } from '../../machines/wire/rights.ts';
import type { ServedUnit } from '../served-unit.ts';
import { serverMistake } from '../unit/turned-away.ts';
import { missingFor } from './confidential.ts';
import { RateLimit } from './rate-limit.ts';
import { readBeat, readCatchUp, readHello, readReport } from './read-message.ts';
import type { SocketParts } from './sockets.ts';

export type DeviceSocket = Socket<ToServer, ToDevice>;

/** Who is at the other end of a socket, by its own word. */
export interface Session {
  unit: ServedUnit;
  device: DeviceId;
  role: Role;
  person?: PersonId;
}

type Reply = (answer: unknown) => void;
type Handled = void | Promise<void>;

/** Where the conversation tells who has come and gone, so that facts reach the right sockets. */
export interface Sessions {
  welcome(socket: DeviceSocket, session: Session): void;
  dismiss(socket: DeviceSocket, session: Session): void;
}

const otherMessagesPerSecond = 20;

/**
 * One device's side of the wire. Whatever comes in is answered: with what was asked for, or with a code and a sentence. No
 * message, however malformed, closes the connection; a flood of them does.
 */
export class Conversation {
  private readonly socket: DeviceSocket;
  private readonly parts: SocketParts;
  private readonly sessions: Sessions;
  private readonly reportLimit: RateLimit;
  private readonly otherLimit: RateLimit;
  private session: Session | undefined;

  constructor(socket: DeviceSocket, parts: SocketParts, sessions: Sessions) {
    this.socket = socket;
    this.parts = parts;
    this.sessions = sessions;
    const now = parts.clock.now();
    this.reportLimit = new RateLimit(reportsPerSecondMax, reportsPerSecondMax * 2, now);
    this.otherLimit = new RateLimit(otherMessagesPerSecond, otherMessagesPerSecond * 2, now);
  }

  /** A packet as it came: the event, one message, and the callback for an answer when the device wants one. */
  take([event, ...args]: readonly unknown[]): void {
    // What was on its way when a flood was cut is not looked at any more.
    if (this.socket.disconnected) return;
    const last = args.at(-1);
    const answer = typeof last === 'function' ? (last as Reply) : () => undefined;
    const messages = typeof last === 'function' ? args.slice(0, -1) : args;
    const message = messages.length === 1 ? messages[0] : undefined;
    void this.shielded(answer, () => this.handle(event, message, answer));
  }

  private handle(event: unknown, message: unknown, answer: Reply): Handled {
    switch (event) {
      case 'report':
        return this.report(message, answer);
      case 'hello':
        return this.limited(answer, () => this.hello(message, answer), { welcome: false });
      case 'beat':
        return this.limited(answer, () => this.beat(message, answer));
      case 'catch-up':
        return this.limited(answer, () => this.catchUp(message, answer));
      case 'leave':
        return this.limited(answer, () => this.leave(answer));
      default:
        return this.limited(answer, () => this.refuse(answer, unknownEvent));
    }
  }

  /** The connection is gone. That is no fact yet: whether it is silence, time will tell. */
  end(): void {
    if (this.session) this.sessions.dismiss(this.socket, this.session);
    this.session = undefined;
  }

  /** A message that trips over a bug of ours is answered like any other, and takes nobody else with it. */
  private async shielded(answer: Reply, handle: () => Handled): Promise<void> {
    try {
      await handle();
    } catch (error) {
      this.parts.logger.error({ err: error, device: this.session?.device }, 'a bug: message not handled');
      this.refuse(answer, serverMistake, { accepted: false });
    }
  }

  private limited(answer: Reply, then: () => Handled, shape: object = {}): Handled {
    switch (this.otherLimit.take(this.parts.clock.now())) {
      case 'taken':
        return then();
      case 'too-many':
        return this.refuse(answer, tooMany, shape);
      case 'flood':
        return this.cutFlood();
    }
  }

  private report(raw: unknown, answer: Reply): void {
    const allowed = this.reportLimit.take(this.parts.clock.now());
    if (allowed === 'flood') return this.cutFlood();
    const session = this.session;
    // Not the report's fault: it is kept, and taken once the device has said who it is.
    if (!session) return this.answerReport(answer, { accepted: false, ...noHello, retry: true });
    const read = readReport(raw);
    if ('refusal' in read) return this.refuseReport(answer, read.refusal);
    const report = read.message;
    const wrong = notOfThisSession(session, report);
    if (wrong) return this.refuseReport(answer, wrong);
    if (allowed === 'too-many') {
      session.unit.authority.noteTurnedAway(report);
      return this.answerReport(answer, { accepted: false, ...tooMany, retry: true });
    }
    this.noteHeard(session);
    session.unit.authority.report(report, session.role, (decided) => this.answerReport(answer, decided));
  }

  private refuseReport(answer: Reply, refusal: Refusal): void {
    this.answerReport(answer, { accepted: false, ...refusal });
  }

  private answerReport(answer: Reply, decided: ReportAnswer): void {
    this.parts.metrics.reportAnswered(decided);
    answer(decided);
  }

  private async hello(raw: unknown, answer: Reply): Promise<void> {
    const read = readHello(raw);
    const refusal = 'refusal' in read ? read.refusal : this.notWelcome(read.message);
    const unit = 'message' in read ? this.parts.units.get(read.message.unit) : undefined;
    if (refusal || !unit || !('message' in read)) return this.refuse(answer, refusal ?? noHello, { welcome: false });
    const { device, role, person: named, after } = read.message;
    const person = role === 'wall' ? undefined : named;
    const session: Session = { unit, device, role, ...(person && { person }) };
    this.noteHeard(session);
    const joined = await unit.authority.join(device, role, person);
    if (!joined.accepted) return this.refuse(answer, joined, { welcome: false });
    if (!this.socket.connected) return;
    // From here on without a pause: what is missing is counted, and every fact after it is sent.
    this.end();
    this.session = session;
    this.sessions.welcome(this.socket, session);
    const welcome: HelloAnswer = {
      welcome: true,
      serverTime: this.parts.clock.now(),
      drill: this.parts.drill,
      server: this.parts.server,
      missing: missingFor(role, unit.authority.missingAfter(after)),
    };
    answer(welcome);
  }

  private notWelcome({ unit: id, role, person }: Hello): Refusal | undefined {
    const unit = this.parts.units.get(id);
    if (!unit) return { code: 'unit/unknown', sentence: `This server has no unit "${id}". Open its first page again.` };
    if (role === 'wall') return undefined;
    const entry = person && at(unit.authority.state.roster, person);
    if (!entry)
      return {
        code: 'session/unknown-person',
        sentence: person
          ? `Nobody called "${person}" is on the roster. Choose who you are again.`
          : 'Choose who you are first.',
      };
    if (!entry.roles.some((held) => held === role))
      return {
        code: 'session/role-not-held',
        sentence: `The roster does not list you as ${role}. Choose another screen, or ask the lead to change the roster.`,
      };
    return undefined;
  }

  private beat(raw: unknown, answer: Reply): void {
    const read = readBeat(raw);
    if ('refusal' in read) return this.refuse(answer, read.refusal);
    if (!this.session) return this.refuse(answer, noHello);
    this.noteHeard(this.session);
    const { number: head } = this.session.unit.authority.head;
    answer({ sentAt: read.message.sentAt, serverTime: this.parts.clock.now(), head });
  }

  private catchUp(raw: unknown, answer: Reply): void {
    const read = readCatchUp(raw);
    if ('refusal' in read) return this.refuse(answer, read.refusal);
    if (!this.session) return this.refuse(answer, noHello);
    const { unit, role } = this.session;
    answer(missingFor(role, unit.authority.missingAfter(read.message.after)));
  }

  private async leave(answer: Reply): Promise<void> {
    const session = this.session;
    if (!session) return this.refuse(answer, noHello);
    this.end();
    const left = await session.unit.authority.leave(session.device);
    if (!left.accepted) return this.refuse(answer, left);
    await this.askPresence(session, () => this.parts.presence.forget(session.unit.id, session.device));
    answer({ left: true });
  }

  /** Any message is a sign of life, and ends a silence that was already a fact. */
  private noteHeard(session: Session): void {
    const { unit, device } = session;
    void this.askPresence(session, () => this.parts.presence.heard(unit.id, device, this.parts.clock.now()));
    if (at(unit.authority.state.devices, device)?.value === 'silent') void unit.authority.heard(device);
  }

  private async askPresence({ unit, device }: Session, ask: () => Promise<void>): Promise<void> {
    try {
      await ask();
    } catch (error) {
      this.parts.logger.warn({ err: error, unit: unit.id, device }, 'presence out of reach');
    }
  }

  private refuse(answer: Reply, { code, sentence }: Refusal, shape: object = {}): void {
    this.parts.metrics.messageRefused(code);
    answer({ ...shape, code, sentence });
  }

  private cutFlood(): void {
    this.parts.metrics.socketCut('flood');
    this.parts.logger.warn({ device: this.session?.device, address: this.socket.handshake.address }, 'cut: a flood');
    this.socket.disconnect(true);
  }
}

function notOfThisSession(session: Session, report: Report): Refusal | undefined {
  if (report.unit !== session.unit.id)
    return refusal(
      'session/other-unit',
      `This screen is of unit ${session.unit.id}. Open the other unit's page for that.`,
    );
  if (report.device !== session.device)
    return refusal(
      'session/other-device',
      'This report is of another device. Each device sends its own. Reload the page.',
    );
  return undefined;
}

const refusal = (code: RefusalCode, sentence: string): Refusal => ({ code, sentence });

const noHello = refusal('session/no-hello', 'This connection has not said hello yet. Reload the page.');
const tooMany = refusal(
  'message/too-many',
  'Too many messages at once. Wait a second; what was not taken is sent again.',
);
const unknownEvent = refusal(
  'message/unknown-kind',
  'This server knows no such message. Reload the page, so that both are the same version.',
);
