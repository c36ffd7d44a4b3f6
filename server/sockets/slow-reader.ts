import type { Socket } from 'socket.io';

/** What waits for a device that does not read. Past this it is cut, and catches up with its number when it is back. */
export const unreadBytesMost = 1024 * 1024;

/** The parts of the transport this leans on; all are there in engine.io 6 over websocket. */
interface Connection {
  writeBuffer: { data?: unknown }[];
  transport: { socket?: { bufferedAmount?: number; terminate?: () => void } };
  close: (discard: boolean) => void;
}

export function unreadBytes(socket: Socket): number {
  const { writeBuffer, transport } = connectionOf(socket);
  const queued = writeBuffer.reduce((sum, { data }) => sum + (typeof data === 'string' ? data.length : 0), 0);
  return queued + (transport.socket?.bufferedAmount ?? 0);
}

/** Cuts without waiting for what is unread: a device that does not read would keep it for ever. */
export function cut(socket: Socket): void {
  const connection = connectionOf(socket);
  const { terminate } = connection.transport.socket ?? {};
  const wire = connection.transport.socket;
  connection.close(true);
  if (wire) terminate?.call(wire);
}

const connectionOf = (socket: Socket): Connection => socket.conn as unknown as Connection;
