import { spawn, type ChildProcess } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { onTestFinished } from 'vitest';

const program = fileURLToPath(new URL('../../server/cli/anteroom.mjs', import.meta.url));

export interface Ended {
  code: number | null;
  stdout: string;
  stderr: string;
}

/** The command line as a person runs it, in a process of its own; killed when the test is over. */
export class AnteroomProcess {
  private readonly child: ChildProcess;
  stdout = '';
  stderr = '';
  readonly ended: Promise<Ended>;

  constructor(...args: string[]) {
    const env = { PATH: process.env['PATH'], HOME: process.env['HOME'] };
    this.child = spawn(process.execPath, [program, ...args], { env, stdio: ['ignore', 'pipe', 'pipe'] });
    this.child.stdout?.on('data', (data: Buffer) => (this.stdout += data.toString()));
    this.child.stderr?.on('data', (data: Buffer) => (this.stderr += data.toString()));
    this.ended = new Promise((resolve) => {
      this.child.once('close', (code) => resolve({ code, stdout: this.stdout, stderr: this.stderr }));
    });
    onTestFinished(async () => void (await this.stop('SIGKILL')));
  }

  /** Resolves with the address of a server that has started; rejects when it ended instead. */
  async started(): Promise<string> {
    const address = () => /^ +board +(http:\S+)\/board$/m.exec(this.stdout)?.[1];
    const said = new Promise<string>((resolve) => {
      this.child.stdout?.on('data', () => {
        const found = address();
        if (found) resolve(found);
      });
    });
    const endedInstead = this.ended.then(({ stderr }) => {
      throw new Error(`the server ended: ${stderr}`);
    });
    return Promise.race([said, endedInstead]);
  }

  async stop(signal: NodeJS.Signals): Promise<Ended> {
    this.child.kill(signal);
    return this.ended;
  }
}

export const anteroom = (...args: string[]): Promise<Ended> => new AnteroomProcess(...args).ended;
