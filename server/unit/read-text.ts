import { readFileSync, statSync } from 'node:fs';
import type { Outcome } from './yaml-text.ts';

const bytesMax = 256 * 1024;

/** A file as text: not a folder, not endless, UTF-8. */
export function readText(file: string): Outcome<string> {
  const no = (code: string, sentence: string): Outcome<string> => ({ ok: false, problems: [{ file, code, sentence }] });
  try {
    const about = statSync(file);
    if (!about.isFile()) return no('file/not-readable', 'This is not a file.');
    if (about.size > bytesMax)
      return no('file/too-large', `The file has ${about.size} bytes; at most ${bytesMax} are read.`);
    return { ok: true, value: new TextDecoder('utf-8', { fatal: true }).decode(readFileSync(file)) };
  } catch (error) {
    if (error instanceof TypeError) return no('file/not-text', 'The file is not UTF-8 text. Save it as UTF-8.');
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT') return no('file/not-found', 'There is no such file.');
    return no('file/not-readable', `The file cannot be read (${code ?? 'unknown error'}).`);
  }
}
