import { spawn, type ChildProcess } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const program = fileURLToPath(new URL('../../server/cli/anteroom.mjs', import.meta.url));

/** The real program as a user starts it, on a free port, with a data directory of its own. */
export interface RunningServer {
  url: string;
  data: string;
  process: ChildProcess;
  /** Resolves when a line with these words is printed. */
  said(words: string): Promise<void>;
  /** As a power cut would. */
  kill(): Promise<void>;
  /** As a person would; the data directory goes too, unless it was given. */
  stop(): Promise<void>;
}

export async function runServer(args: readonly string[], data?: string): Promise<RunningServer> {
  const directory = data ?? mkdtempSync(join(tmpdir(), 'anteroom-test-'));
  const [command = 'serve', ...flags] = args;
  const child = spawn(process.execPath, [program, command, '--port', '0', '--data', directory, ...flags], {
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  const output = new Output(child);
  const board = await output.find(/(http:\/\/\S+)\/board/);
  const end = (signal: NodeJS.Signals) =>
    new Promise<void>((resolve) => {
      if (child.exitCode !== null || child.signalCode !== null) return resolve();
      child.once('exit', () => resolve());
      child.kill(signal);
    });
  return {
    url: board[1] ?? '',
    data: directory,
    process: child,
    said: async (words) => void (await output.find(new RegExp(words.replace(/[.*+?^${}()|[\]\\]/g, '\\$&')))),
    kill: () => end('SIGKILL'),
    async stop() {
      await end('SIGTERM');
      if (data === undefined) rmSync(directory, { recursive: true, force: true });
    },
  };
}

/** What a process has printed so far, and a way to wait for more; fails when it ends without having said it. */
class Output {
  private text = '';
  private readonly looking = new Set<() => void>();
  private ended: string | undefined;

  constructor(child: ChildProcess) {
    const take = (chunk: Buffer) => {
      this.text += chunk.toString();
      this.look();
    };
    child.stdout?.on('data', take);
    child.stderr?.on('data', take);
    child.once('exit', (code) => {
      this.ended = `ended with ${code}`;
      this.look();
    });
  }

  find(pattern: RegExp): Promise<RegExpExecArray> {
    return new Promise((resolve, reject) => {
      const look = () => {
        const found = pattern.exec(this.text);
        if (!found && this.ended === undefined) return;
        this.looking.delete(look);
        if (found) resolve(found);
        else reject(new Error(`the server ${this.ended} before it said ${String(pattern)}:\n${this.text}`));
      };
      this.looking.add(look);
      look();
    });
  }

  private look(): void {
    for (const look of this.looking) look();
  }
}
