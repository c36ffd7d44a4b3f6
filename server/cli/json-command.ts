import { createReadStream } from 'node:fs';
import type { Readable } from 'node:stream';

/** What `limits`, `forecast` and `rotation` share: JSON from a file or standard input, JSON or one line of refusal back. */

/** Exit codes: 0 answered, 2 not understood or refused (nothing on standard output then), 3 the input cannot be read. */
export interface CommandOutcome {
  exitCode: 0 | 2 | 3;
  stdout: string;
  stderr: string;
}

export interface CommandStreams {
  open: (path: string) => Readable;
  stdin: Readable;
  write: (outcome: CommandOutcome) => void;
}

export const realStreams: CommandStreams = {
  open: (path) => createReadStream(path),
  stdin: process.stdin,
  write: ({ stdout, stderr, exitCode }) => {
    process.stdout.write(stdout);
    process.stderr.write(stderr);
    process.exitCode = exitCode;
  },
};

export const refusedWith = (command: string, message: string): CommandOutcome => ({
  exitCode: 2,
  stdout: '',
  stderr: `${command}: ${message}\n`,
});

export const answeredWith = (printed: unknown): CommandOutcome => ({
  exitCode: 0,
  stdout: `${JSON.stringify(printed, undefined, 2)}\n`,
  stderr: '',
});

export const tooLargeMessage = (bytesMax: number): string => `the input is larger than ${bytesMax} bytes`;

/** The JSON of a text, or why it is none, in words fit for one line. */
export function parseJson(text: string): { value: unknown } | { message: string } {
  try {
    return { value: JSON.parse(text.replace(/^\uFEFF/, '')) as unknown };
  } catch (error) {
    const because = (error as Error).message.replaceAll(/[^\x20-\x7e]+/g, ' ').slice(0, 160);
    return { message: `the input is not complete JSON (${because})` };
  }
}

/** Stops reading as soon as it is too much, so that an endless input ends. */
export async function readInput(
  command: string,
  input: string,
  { stdin, open }: CommandStreams,
  bytesMax: number,
  tooLarge: CommandOutcome = refusedWith(command, tooLargeMessage(bytesMax)),
): Promise<string | CommandOutcome> {
  try {
    const parts: Buffer[] = [];
    let bytes = 0;
    for await (const part of input === '-' ? stdin : open(input)) {
      const buffer = Buffer.from(part as Uint8Array | string);
      bytes += buffer.length;
      if (bytes > bytesMax) return tooLarge;
      parts.push(buffer);
    }
    return Buffer.concat(parts).toString('utf8');
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    return { exitCode: 3, stdout: '', stderr: `${command}: cannot read ${input} (${code ?? 'unknown error'})\n` };
  }
}
