/** Small changes to a text that is being edited, each a text from a text. */

/** Puts a version number into the one line at the top level that holds it; adds it before everything else where there is none. */
export function withVersion(text: string, version: number): string {
  const line = /^version:.*$/m;
  return line.test(text) ? text.replace(line, `version: ${version}`) : `version: ${version}\n${text}`;
}

/** Where a line starts and ends, as offsets into the text; line counts from 1. Past the end: the end. */
export function lineSpan(text: string, line: number): { start: number; end: number } {
  const lines = text.split('\n');
  const start = lines.slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0);
  const from = Math.min(start, text.length);
  return { start: from, end: Math.min(text.length, from + (lines[line - 1]?.length ?? 0)) };
}

/** Line and column of an offset, both from 1. */
export function placeOf(text: string, offset: number): { line: number; column: number } {
  const before = text.slice(0, offset).split('\n');
  return { line: before.length, column: (before.at(-1)?.length ?? 0) + 1 };
}
