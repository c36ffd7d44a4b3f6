import { closeSync, fsyncSync, mkdirSync, openSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { parentPort, workerData } from 'node:worker_threads';
import Database from 'libsql';
import type { Batch } from './batch.ts';
import { LogError } from './log-error.ts';
import type { Snapshot } from './log.ts';
import { failureOf, SqliteStore, type StoreFailure } from './sqlite-store.ts';

/**
 * The thread that owns the database, so that a slow disk stops this thread and not the server's event loop: heartbeats go
 * on, and further appends gather for the next transaction.
 */
export interface WorkerSettings {
  directory: string;
  busyTimeoutMs: number;
}

export type WorkerRequest =
  | { kind: 'append-group'; batches: Batch[] }
  | { kind: 'read'; unit: string; after: number; limit: number }
  | { kind: 'head'; unit: string }
  | { kind: 'find-report'; unit: string; report: string }
  | { kind: 'save-snapshot'; unit: string; snapshot: Snapshot }
  | { kind: 'latest-snapshot'; unit: string; foldVersion: number }
  | { kind: 'close' };

export type NumberedRequest = WorkerRequest & { id: number };
/** `id` 0 answers the opening itself. */
export type WorkerAnswer = { id: number } & ({ value: unknown } | { failure: StoreFailure });

const port = parentPort;
if (!port) throw new Error('sqlite-worker.ts is a worker thread, not a program');

function open({ directory, busyTimeoutMs }: WorkerSettings) {
  makeDirectory(directory);
  const lock = takeLock(directory);
  const store = new SqliteStore(join(directory, 'anteroom.db'), busyTimeoutMs);
  return { lock, store };
}

/** Health data of the staff lies in here: nobody but the server's own account reads it. */
function makeDirectory(directory: string): void {
  const firstMade = mkdirSync(directory, { recursive: true, mode: 0o700 });
  if (firstMade === undefined || process.platform === 'win32') return;
  // A new directory is on disk only when the one it stands in is; without that, a power cut could take the log with it.
  for (let path = directory; path !== dirname(firstMade); path = dirname(path)) syncDirectory(dirname(path));
}

function syncDirectory(path: string): void {
  const descriptor = openSync(path, 'r');
  fsyncSync(descriptor);
  closeSync(descriptor);
}

/**
 * One server per data directory: two would each believe that what they folded is all there is. The lock is SQLite's own, on a
 * file of its own, held by an open transaction: the operating system releases it when the process dies, however it dies,
 * and there is no pid file to go stale. (It needs a local disk: network file systems lie about locks.)
 */
function takeLock(directory: string): Database.Database {
  const lock = new Database(join(directory, 'anteroom.lock'), { timeout: 0 });
  try {
    lock.exec('BEGIN EXCLUSIVE');
    return lock;
  } catch (error) {
    if ((error as { code?: string }).code !== 'SQLITE_BUSY') throw error;
    throw new LogError('directory-in-use', `Another Anteroom server is running on the data directory ${directory}.`);
  }
}

type Opened = ReturnType<typeof open>;

function answer({ store, lock }: Opened, request: WorkerRequest): unknown {
  switch (request.kind) {
    case 'append-group':
      return store.appendGroup(request.batches);
    case 'read':
      return store.read(request.unit, request.after, request.limit);
    case 'head':
      return store.head(request.unit);
    case 'find-report':
      return store.findReport(request.unit, request.report);
    case 'save-snapshot':
      return store.saveSnapshot(request.unit, request.snapshot);
    case 'latest-snapshot':
      return store.latestSnapshot(request.unit, request.foldVersion);
    case 'close':
      store.close();
      lock.exec('ROLLBACK');
      return lock.close();
    default:
      return request satisfies never;
  }
}

function attempt(id: number, work: () => unknown): WorkerAnswer {
  try {
    return { id, value: work() };
  } catch (error) {
    return { id, failure: failureOf(error) };
  }
}

const tell = (answered: WorkerAnswer) => port.postMessage(answered);

let opened: Opened | undefined;
tell(attempt(0, () => void (opened = open(workerData as WorkerSettings))));
port.on('message', (request: NumberedRequest) => {
  if (!opened) return;
  const here = opened;
  tell(attempt(request.id, () => answer(here, request)));
  // With nobody listening the thread ends, and the last of SQLite's handles with it.
  if (request.kind === 'close') port.close();
});
if (!opened) port.close();
