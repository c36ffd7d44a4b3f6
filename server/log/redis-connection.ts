import { createClient } from 'redis';
import type { UnitId } from '../../machines/wire/ids.ts';
import { closedError, LogError, messageOf } from './log-error.ts';

/**
 * One connection to Redis that never hangs and never brings the process down.
 *
 * - Without a connection a command fails at once. Queued for later it might be written long after its sender gave up.
 * - A command without an answer in time fails too ("outcome unknown"), and the connection is replaced: after a cut cable the
 *   old one can look alive for a quarter of an hour, until the kernel gives up on it.
 * - Trouble is told through `onTrouble`, once per outage, never by an unheard 'error' event, which would end the process.
 */
export interface RedisSettings {
  url: string;
  /** Before every key, so that several installations can share one Redis. */
  prefix?: string;
  onTrouble?: (sentence: string) => void;
  answerWithinMs?: number;
  /** How long opening waits for a Redis that is still starting. */
  connectWithinMs?: number;
}

const newClient = (url: string, strategy: (retries: number, cause: Error) => number | Error) =>
  createClient({ url, disableOfflineQueue: true, socket: { reconnectStrategy: strategy, connectTimeout: 2000 } });

export type RedisClient = ReturnType<typeof newClient>;

export class RedisConnection {
  private readonly settings: RedisSettings;
  private client: RedisClient;
  private closed = false;
  private readonly giveUpAt: number;
  private everReady = false;
  private inTrouble = false;

  private constructor(settings: RedisSettings) {
    this.settings = settings;
    this.giveUpAt = performance.now() + (settings.connectWithinMs ?? 5000);
    this.client = this.renewed();
  }

  static async open(settings: RedisSettings): Promise<RedisConnection> {
    const connection = new RedisConnection(settings);
    try {
      await connection.client.connect();
      return connection;
    } catch (error) {
      connection.cut();
      throw new LogError('cannot-open', `Redis at ${hostOf(settings.url)} can't be reached. ${reasonOf(error)}`);
    }
  }

  /** The key of something that belongs to a unit. In braces, the unit keeps its keys together on a sharded Redis. */
  key(unit: UnitId, what: string): string {
    return `${this.settings.prefix ?? 'anteroom:'}{${unit}}:${what}`;
  }

  /** A second connection with the same settings that connects by itself, for commands that block. */
  fork(): RedisConnection {
    const fork = new RedisConnection(this.settings);
    fork.everReady = true;
    fork.connectQuietly();
    return fork;
  }

  async ask<T>(command: (client: RedisClient) => Promise<T>, blockingMs = 0): Promise<T> {
    if (this.closed) throw closedError();
    const client = this.client;
    const deadline = new Deadline(this.answerWithinMs + blockingMs);
    try {
      return await Promise.race([command(client), deadline.passed]);
    } catch (error) {
      if (error === deadline.error) this.replace(client, deadline.error);
      throw this.closed ? closedError() : asLogError(error);
    } finally {
      deadline.cancel();
    }
  }

  /** Waits for the answers to what was asked before, but no longer than for any answer. */
  async close(): Promise<void> {
    if (this.closed) return;
    this.closed = true;
    const deadline = new Deadline(this.answerWithinMs);
    // With nothing left to say, a connection that can't be closed properly is simply cut.
    await Promise.race([this.client.close(), deadline.passed]).catch(() => undefined);
    deadline.cancel();
    this.client.destroy();
  }

  /** Ends it now; what was asked and not answered is rejected. */
  cut(): void {
    this.closed = true;
    this.client.destroy();
  }

  private get answerWithinMs(): number {
    return this.settings.answerWithinMs ?? 5000;
  }

  private replace(client: RedisClient, why: LogError): void {
    if (this.closed || this.client !== client) return;
    this.tellTrouble(why);
    client.destroy();
    this.client = this.renewed();
    this.connectQuietly();
  }

  private renewed(): RedisClient {
    const client = newClient(this.settings.url, (retries, cause) => this.nextTry(retries, cause));
    client.on('ready', () => {
      this.everReady = true;
      this.inTrouble = false;
    });
    client.on('error', (error) => this.tellTrouble(error));
    this.watchGreeting(client);
    return client;
  }

  /** node-redis waits for ever for the answer to its greeting, on a connection that went silent just then. */
  private watchGreeting(client: RedisClient): void {
    let waiting: Deadline | undefined;
    const stop = () => waiting?.cancel();
    client.on('connect', () => {
      const deadline = (waiting = new Deadline(this.answerWithinMs));
      deadline.passed.catch(() => this.replace(client, deadline.error));
    });
    client.on('ready', stop).on('error', stop).on('end', stop);
  }

  private tellTrouble(error: unknown): void {
    if (this.closed || this.inTrouble) return;
    this.inTrouble = true;
    this.settings.onTrouble?.(`Redis at ${hostOf(this.settings.url)}: ${reasonOf(error)}`);
  }

  /** Once it has worked, it is tried for ever: the tablets keep their reports meanwhile. */
  private nextTry(retries: number, cause: Error): number | Error {
    const waitMs = Math.min(50 * 2 ** retries, 1000);
    if (this.everReady || performance.now() + waitMs < this.giveUpAt) return waitMs;
    return cause;
  }

  private connectQuietly(): void {
    // What goes wrong comes as an 'error' event too; a connection closed while it was connecting rejects here.
    this.client.connect().catch(() => undefined);
  }
}

class Deadline {
  readonly error: LogError;
  readonly passed: Promise<never>;
  private timer: NodeJS.Timeout | undefined;

  constructor(milliseconds: number) {
    this.error = new LogError(
      'no-answer',
      `Redis did not answer within ${milliseconds / 1000} s; the outcome is unknown.`,
    );
    this.passed = new Promise((_resolve, reject) => {
      this.timer = setTimeout(() => reject(this.error), milliseconds);
    });
  }

  cancel(): void {
    clearTimeout(this.timer);
  }
}

function asLogError(error: unknown): LogError {
  return error instanceof LogError
    ? error
    : new LogError('store-failed', `Redis refused or was lost (${reasonOf(error)}).`);
}

/** Several addresses tried at once fail with an AggregateError, whose own message is empty. */
function reasonOf(error: unknown): string {
  const cause = (error as { cause?: unknown }).cause;
  const first = error instanceof AggregateError ? (error.errors[0] as unknown) : cause;
  return first ? reasonOf(first) : messageOf(error);
}

/** For messages: the address without the password in it. */
function hostOf(url: string): string {
  return URL.canParse(url) ? new URL(url).host : 'an address that is not a URL';
}
