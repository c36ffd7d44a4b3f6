import type { Server as HttpServer } from 'node:http';
import type { Logger } from 'pino';
import { Server } from 'socket.io';
import type { Fact } from '../../machines/wire/fact.ts';
import { pulseEveryMs, type ToDevice, type ToServer } from '../../machines/wire/messages.ts';
import type { UnitId } from '../../machines/wire/ids.ts';
import type { Clock } from '../clock.ts';
import type { Metrics } from '../http/metrics.ts';
import type { Presence } from '../presence/presence.ts';
import type { ServedUnit, ServedUnits } from '../served-unit.ts';
import { openPart, seesConfidential } from './confidential.ts';
import { Conversation, type DeviceSocket, type Session, type Sessions } from './conversation.ts';
import { isSameOrigin } from './same-origin.ts';
import { cut, unreadBytes, unreadBytesMost } from './slow-reader.ts';

export interface SocketParts {
  units: ServedUnits;
  presence: Presence;
  clock: Clock;
  logger: Logger;
  metrics: Metrics;
  /** Names this run of the server, so that a screen notices a restart. */
  server: string;
  drill: boolean;
}

/** A message of a megabyte is still answered with why it is not taken. What is larger ends its own connection only. */
export const socketBytesMax = 1_200_000;
const factsPerMessage = 200;

type DeviceServer = Server<ToServer, ToDevice>;

/**
 * The sockets of all devices: facts out to everybody, in order, as soon as the authority publishes them; a pulse every second.
 * Nothing is kept for a device that is away; it comes back with the number of the last fact it has.
 */
export function openSockets(http: HttpServer, parts: SocketParts): { close: () => Promise<void> } {
  const io: DeviceServer = new Server(http, {
    transports: ['websocket'],
    serveClient: false,
    pingInterval: 5_000,
    pingTimeout: 4_000,
    connectTimeout: 5_000,
    maxHttpBufferSize: socketBytesMax,
    allowRequest: (request, decide) => decide(null, isSameOrigin(request.headers)),
  });
  const sessions = new OpenSessions(parts.metrics);
  io.on('connection', (socket) => converse(socket, parts, sessions));
  const stopFacts = [...parts.units.values()].map((unit) =>
    unit.authority.onFacts((facts) => publish(io, unit.id, facts)),
  );
  const stopPulse = startPulse(io, parts, sessions);
  return {
    async close() {
      stopPulse();
      for (const stop of stopFacts) stop();
      // Also closes the HTTP server it sits on.
      await io.close();
    },
  };
}

function converse(socket: DeviceSocket, parts: SocketParts, sessions: OpenSessions): void {
  const conversation = new Conversation(socket, parts, sessions);
  parts.metrics.socketOpened();
  // Every packet of whatever name comes through here and ends here, so that none goes unanswered.
  socket.use((packet) => conversation.take(packet));
  socket.on('disconnect', (reason, details) => {
    conversation.end();
    parts.metrics.socketClosed();
    if (isTooLarge(details)) parts.metrics.messageRefused('message/too-large');
    parts.logger.debug({ reason }, 'socket closed');
  });
}

const isTooLarge = (details: unknown): boolean =>
  details instanceof Error && details.message.includes('Max payload size exceeded');

const roomOf = (unit: UnitId, sees: 'all' | 'open'): string => `${unit}/${sees}`;

function publish(io: DeviceServer, unit: UnitId, facts: readonly Fact[]): void {
  for (let start = 0; start < facts.length; start += factsPerMessage) {
    const some = facts.slice(start, start + factsPerMessage);
    io.to(roomOf(unit, 'all')).emit('facts', { facts: some });
    io.to(roomOf(unit, 'open')).emit('facts', { facts: openPart(some) });
  }
}

function startPulse(io: DeviceServer, parts: SocketParts, sessions: OpenSessions): () => void {
  let stop: () => void;
  const pulse = () => {
    sessions.cutSlowReaders(parts);
    for (const unit of parts.units.values()) sendPulse(io, unit, parts.clock.now());
    stop = parts.clock.setTimer(pulseEveryMs, pulse);
  };
  stop = parts.clock.setTimer(pulseEveryMs, pulse);
  return () => stop();
}

/** Volatile: a pulse that can't be sent now is worth nothing later. */
function sendPulse(io: DeviceServer, { id, authority }: ServedUnit, serverTime: number): void {
  const rooms = [roomOf(id, 'all'), roomOf(id, 'open')];
  io.to(rooms).volatile.emit('pulse', { serverTime, head: authority.head.number });
}

/** Which socket speaks for which device. A device has one: the newest. */
class OpenSessions implements Sessions {
  private readonly sockets = new Map<string, DeviceSocket>();
  private readonly metrics: Metrics;

  constructor(metrics: Metrics) {
    this.metrics = metrics;
  }

  welcome(socket: DeviceSocket, session: Session): void {
    const key = keyOf(session);
    const earlier = this.sockets.get(key);
    this.sockets.set(key, socket);
    if (earlier && earlier !== socket) this.replace(earlier);
    void socket.join(roomOf(session.unit.id, seesConfidential(session.role) ? 'all' : 'open'));
  }

  dismiss(socket: DeviceSocket, session: Session): void {
    if (this.sockets.get(keyOf(session)) === socket) this.sockets.delete(keyOf(session));
    for (const sees of ['all', 'open'] as const) void socket.leave(roomOf(session.unit.id, sees));
  }

  cutSlowReaders({ logger }: SocketParts): void {
    for (const [key, socket] of this.sockets) {
      const unread = unreadBytes(socket);
      if (unread <= unreadBytesMost) continue;
      this.metrics.socketCut('slow-reader');
      logger.warn({ session: key, unread }, 'cut: it does not read');
      cut(socket);
    }
  }

  private replace(earlier: DeviceSocket): void {
    this.metrics.socketCut('replaced');
    earlier.emit('farewell', {
      code: 'session/replaced',
      sentence:
        'This device was opened again somewhere else, and goes on there. Close this page, or open it again here.',
    });
    earlier.disconnect(true);
  }
}

const keyOf = ({ unit, device }: Session): string => `${unit.id}/${device}`;
