import { once } from 'node:events';
import { connect, createServer, type AddressInfo, type Server, type Socket } from 'node:net';

/**
 * A network cable to a server on this machine that can be cut: nothing gets through any more, and nobody is told. What was
 * connected while it was cut stays silent for good, as after a firewall forgot about it.
 */
export class Cable {
  readonly port: number;
  private readonly server: Server;
  private readonly sockets = new Set<Socket>();
  private cutNow = false;
  connections = 0;

  private constructor(server: Server, to: number) {
    this.server = server;
    this.port = (server.address() as AddressInfo).port;
    server.on('connection', (near: Socket) => this.join(near, connect(to, '127.0.0.1')));
  }

  static async to(port: number): Promise<Cable> {
    const server = createServer().listen(0, '127.0.0.1');
    await once(server, 'listening');
    return new Cable(server, port);
  }

  cut(): void {
    this.cutNow = true;
    for (const socket of this.sockets) socket.removeAllListeners('data');
    for (const socket of this.sockets) socket.on('data', () => undefined);
  }

  mend(): void {
    this.cutNow = false;
  }

  async remove(): Promise<void> {
    for (const socket of this.sockets) socket.destroy();
    this.server.close();
    await once(this.server, 'close');
  }

  private join(near: Socket, far: Socket): void {
    this.connections += 1;
    const silent = this.cutNow;
    for (const [from, to] of [
      [near, far],
      [far, near],
    ] as const) {
      this.sockets.add(from);
      from.on('data', (data) => (silent ? undefined : to.write(data)));
      from.on('error', () => undefined);
      from.on('close', () => {
        this.sockets.delete(from);
        to.destroy();
      });
    }
  }
}
