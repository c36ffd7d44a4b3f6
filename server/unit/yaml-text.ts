import { isAlias, isMap, isScalar, isSeq, LineCounter, parseDocument, visit, type Document } from 'yaml';
import type { z } from 'zod';

/**
 * YAML as people write it by hand: every complaint says in which line, because a file that decides over limits and order is
 * corrected by somebody in a hurry. Pure: text in, value or problems out.
 */
export interface FileProblem {
  file: string;
  /** Counted from 1, as editors do. */
  line?: number;
  column?: number;
  code: string;
  sentence: string;
}

export type Path = readonly PropertyKey[];
export type Outcome<Value> = { ok: true; value: Value } | { ok: false; problems: FileProblem[] };

export class YamlText {
  readonly file: string;
  readonly value: unknown;
  private readonly document: Document;
  private readonly lines: LineCounter;

  constructor(file: string, document: Document, lines: LineCounter) {
    this.file = file;
    this.document = document;
    this.lines = lines;
    this.value = document.toJS();
  }

  has(path: Path): boolean {
    return walk(this.document.contents, path).reached === path.length;
  }

  /** A problem at a place of the file; where the path leads nowhere, at the nearest thing around it that is there. */
  problem(path: Path, code: string, sentence: string): FileProblem {
    return { file: this.file, ...placeAt(this.lines, walk(this.document.contents, path).offset), code, sentence };
  }

  /** The path in words, naming list members by their id: "people, p-04, roles". */
  words(path: Path): string {
    return path.map((part, depth) => memberName(this.value, path.slice(0, depth + 1)) ?? String(part)).join(', ');
  }
}

/** Reads one document. Anchors and aliases are refused: a few lines of them can grow into gigabytes. */
export function parseYaml(file: string, text: string): Outcome<YamlText> {
  const lines = new LineCounter();
  const document = parseDocument(text, { lineCounter: lines, prettyErrors: false, schema: 'core', logLevel: 'error' });
  const faults = [...document.errors, ...document.warnings].map((fault) => ({
    file,
    ...placeAt(lines, fault.pos[0]),
    code: 'yaml/broken',
    sentence: `This is not whole YAML: ${fault.message}.`,
  }));
  const problems = faults.length > 0 ? faults.slice(0, 10) : anchorProblems(file, document, lines);
  if (problems.length > 0) return { ok: false, problems };
  if (document.contents === null)
    return { ok: false, problems: [{ file, line: 1, code: 'yaml/empty', sentence: 'The file is empty.' }] };
  return { ok: true, value: new YamlText(file, document, lines) };
}

/** Checks the value against a schema; each issue becomes a problem at its line. */
export function checkShape<Schema extends z.ZodType>(yaml: YamlText, schema: Schema): Outcome<z.output<Schema>> {
  const parsed = schema.safeParse(yaml.value);
  if (parsed.success) return { ok: true, value: parsed.data };
  return { ok: false, problems: parsed.error.issues.flatMap((issue) => issueProblems(yaml, issue)) };
}

function issueProblems(yaml: YamlText, issue: z.core.$ZodIssue): FileProblem[] {
  const where = issue.path.length > 0 ? `${yaml.words(issue.path)}: ` : '';
  if (issue.code === 'unrecognized_keys')
    return issue.keys.map((key) =>
      yaml.problem([...issue.path, key], 'schema/unknown-key', `${where}"${key}" is not known here. Is it misspelt?`),
    );
  if (!yaml.has(issue.path)) return [yaml.problem(issue.path, 'schema/missing', `${where}this is missing.`)];
  return [yaml.problem(issue.path, 'schema/wrong-value', `${where}${issueMessage(issue)}.`)];
}

/** A union fails with one list of issues per branch: all of what it might have been is said, once each. */
function issueMessage(issue: z.core.$ZodIssue): string {
  const nested =
    issue.code === 'invalid_union' ? issue.errors.flat() : issue.code === 'invalid_key' ? issue.issues : [];
  return nested.length > 0 ? [...new Set(nested.map(issueMessage))].join('; or ') : issue.message;
}

function anchorProblems(file: string, document: Document, lines: LineCounter): FileProblem[] {
  const offsets: (number | undefined)[] = [];
  visit(document, {
    Node: (_, node) => {
      if (isAlias(node) || node.anchor) offsets.push(node.range?.[0]);
    },
  });
  const sentence = 'Anchors and aliases (& and *) are not accepted here. Write the value out.';
  return offsets.slice(0, 10).map((offset) => ({ file, ...placeAt(lines, offset), code: 'yaml/anchor', sentence }));
}

function placeAt(lines: LineCounter, offset: number | undefined): { line?: number; column?: number } {
  if (offset === undefined) return {};
  const { line, col } = lines.linePos(offset);
  return line > 0 ? { line, column: col } : {};
}

/** Follows a path as far as it goes: how many parts it reached, and where the last of them starts in the text. */
function walk(root: unknown, path: Path): { reached: number; offset?: number } {
  let node: unknown = root;
  let offset = startOf(root);
  for (const [reached, part] of path.entries()) {
    const pair = isMap(node)
      ? node.items.find(({ key }) => isScalar(key) && String(key.value) === String(part))
      : undefined;
    const next: unknown = pair ? pair.value : isSeq(node) ? node.items[Number(part)] : undefined;
    if (!pair && next === undefined) return { reached, offset };
    // A member of a list has no key: it starts where it stands. A value is shown at its key, which is never far away.
    offset = startOf(pair ? pair.key : next) ?? offset;
    node = next;
  }
  return { reached: path.length, offset };
}

function startOf(node: unknown): number | undefined {
  return (node as { range?: [number, number, number] | null } | null | undefined)?.range?.[0];
}

function memberName(root: unknown, path: Path): string | undefined {
  if (typeof path.at(-1) !== 'number') return undefined;
  const member = path.reduce<unknown>(
    (value, part) => (value as Record<PropertyKey, unknown> | undefined)?.[part],
    root,
  );
  const { id, kind } = (typeof member === 'object' && member !== null ? member : {}) as Record<string, unknown>;
  return [id, kind].find((name) => typeof name === 'string') ?? `number ${Number(path.at(-1)) + 1}`;
}
