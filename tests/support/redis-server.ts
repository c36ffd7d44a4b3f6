import { spawn, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/**
 * A real Redis of the test's own, on a free port, in a temporary directory, set up as the servers expect it (append-only
 * file, synced at every write). A machine without the binary fails the test: a suite that skips itself proves nothing.
 */
export class RedisServer {
  readonly port: number;
  readonly url: string;
  private readonly directory: string;
  private readonly settings: readonly string[];
  private process: ChildProcess | undefined;

  private constructor(port: number, settings: readonly string[]) {
    this.port = port;
    this.url = `redis://127.0.0.1:${port}`;
    this.directory = mkdtempSync(join(tmpdir(), 'anteroom-redis-'));
    this.settings = settings;
  }

  /** `settings` are further arguments of redis-server, and win over these. */
  static async start(settings: readonly string[] = []): Promise<RedisServer> {
    const server = new RedisServer(await freePort(), settings);
    try {
      await server.start();
      return server;
    } catch (error) {
      await server.stop();
      throw error;
    }
  }

  /** Starts it again where it was: same port, same files. */
  async start(): Promise<void> {
    const place = ['--port', String(this.port), '--bind', '127.0.0.1', '--dir', this.directory];
    const durable = ['--save', '', '--appendonly', 'yes', '--appendfsync', 'always'];
    const child = spawn('redis-server', [...place, ...durable, ...this.settings], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    this.process = child;
    // Should the test's own process end before it stops its server.
    const killToo = () => child.kill('SIGKILL');
    process.once('exit', killToo);
    child.once('exit', () => process.off('exit', killToo));
    await new Promise<void>((resolve, reject) => {
      child.once('error', (error) =>
        reject(new Error(`redis-server can't be started; these tests need it (${error.message})`)),
      );
      child.once('exit', (code) => reject(new Error(`redis-server ended with code ${code} before it was ready`)));
      child.stdout.on('data', (text: Buffer) => text.includes('Ready to accept connections') && resolve());
    });
  }

  /** As a power cut would: no farewell, nothing flushed. */
  async kill(): Promise<void> {
    const child = this.process;
    if (child?.pid === undefined || child.exitCode !== null || child.signalCode !== null) return;
    const ended = once(child, 'exit');
    child.kill('SIGKILL');
    await ended;
  }

  /** Alive but silent, as behind a cut cable. */
  freeze(): void {
    this.process?.kill('SIGSTOP');
  }

  thaw(): void {
    this.process?.kill('SIGCONT');
  }

  async stop(): Promise<void> {
    await this.kill();
    rmSync(this.directory, { recursive: true, force: true });
  }
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as AddressInfo;
  server.close();
  await once(server, 'close');
  return port;
}
