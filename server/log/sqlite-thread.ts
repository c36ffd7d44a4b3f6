import type { Worker } from 'node:worker_threads';
import { startThread } from '../typescript-thread.ts';
import { LogError, messageOf } from './log-error.ts';
import type { NumberedRequest, WorkerAnswer, WorkerRequest, WorkerSettings } from './sqlite-worker.ts';

/**
 * The server's end of the database thread: questions out, answers in. When the thread dies, every open question and every
 * later one is refused with the reason; nothing ever waits for an answer that can't come.
 */
export class SqliteThread {
  private readonly worker: Worker;
  private readonly open = new Map<number, Pending>();
  private lastId = 0;
  private dead: LogError | undefined;
  readonly exited: Promise<void>;

  private constructor(settings: WorkerSettings) {
    this.worker = startThread(new URL('./sqlite-worker.ts', import.meta.url), settings);
    this.worker.on('message', (answer: WorkerAnswer) => this.settle(answer));
    this.worker.on('messageerror', (error) => this.die(messageOf(error)));
    this.worker.on('error', (error) => this.die(messageOf(error)));
    this.exited = new Promise((resolve) => {
      this.worker.on('exit', (code) => {
        this.die(`it ended with code ${code}`);
        resolve();
      });
    });
  }

  static async start(settings: WorkerSettings): Promise<SqliteThread> {
    const thread = new SqliteThread(settings);
    try {
      await thread.pending(0);
      return thread;
    } catch (error) {
      await thread.exited;
      throw asOpeningError(error, settings.directory);
    }
  }

  async ask(request: WorkerRequest): Promise<unknown> {
    if (this.dead) throw this.dead;
    const id = ++this.lastId;
    const answered = this.pending(id);
    this.worker.postMessage({ ...request, id } satisfies NumberedRequest);
    return answered;
  }

  /** Ends the thread wherever it stands, as a crash would. Closing properly is asking it to close. */
  async kill(): Promise<void> {
    await this.worker.terminate();
  }

  private pending(id: number): Promise<unknown> {
    return new Promise((resolve, reject) => this.open.set(id, { resolve, reject }));
  }

  private settle(answer: WorkerAnswer): void {
    const pending = this.open.get(answer.id);
    this.open.delete(answer.id);
    if ('failure' in answer) pending?.reject(new LogError(answer.failure.code, answer.failure.sentence));
    else pending?.resolve(answer.value);
  }

  private die(why: string): void {
    this.dead ??= new LogError(
      'thread-died',
      `The thread that writes the log has stopped: ${why}. Restart the server.`,
    );
    for (const pending of this.open.values()) pending.reject(this.dead);
    this.open.clear();
  }
}

interface Pending {
  resolve: (value: unknown) => void;
  reject: (error: LogError) => void;
}

function asOpeningError(error: unknown, directory: string): LogError {
  if (error instanceof LogError && error.code === 'directory-in-use') return error;
  return new LogError('cannot-open', `The log in ${directory} can't be opened. ${messageOf(error)}`);
}
