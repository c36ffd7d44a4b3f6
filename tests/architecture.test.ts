import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, normalize, relative } from 'node:path';
import ts from 'typescript';
import { describe, expect, it } from 'vitest';

/**
 * The shape of the project, kept true: client → machines ← server, a pure core, one place that picks real parts and one that
 * reads the environment. Each rule is a question about one source file; at the end made-up files prove that each can say no.
 */
interface Source {
  /** From the project's root, with forward slashes. */
  path: string;
  text: string;
}

const root = join(import.meta.dirname, '..');
const notOurs = new Set(['node_modules', 'dist', '.git', 'data', 'coverage']);
const texts = /\.(ts|svelte|mjs|js|json|jsonl|ya?ml|md|html|css|svg|txt)$|^(LICENSE|Dockerfile)/;

function filesUnder(folder: string): string[] {
  return readdirSync(folder, { withFileTypes: true }).flatMap((entry) => {
    const path = join(folder, entry.name);
    if (entry.isDirectory()) return notOurs.has(entry.name) ? [] : filesUnder(path);
    return texts.test(entry.name) && entry.name !== 'package-lock.json' ? [relative(root, path)] : [];
  });
}

const project: Source[] = filesUnder(root).map((path) => ({ path, text: readFileSync(join(root, path), 'utf8') }));
const isCode = ({ path }: Source) => /\.(ts|svelte|mjs|js)$/.test(path);

// ---- reading code ------------------------------------------------------------------------------------------------------

/** The script of a file as a syntax tree: comments and texts are no code. */
function treeOf({ path, text }: Source): ts.SourceFile {
  const script = path.endsWith('.svelte')
    ? [...text.matchAll(/<script[^>]*>([\s\S]*?)<\/script>/g)].map((found) => found[1]).join('\n')
    : text;
  return ts.createSourceFile(path, script, ts.ScriptTarget.Latest, true, ts.ScriptKind.TS);
}

/** Every rule asks for the same trees. */
const nodesKnown = new WeakMap<Source, ts.Node[]>();

function nodesOf(source: Source): ts.Node[] {
  const known = nodesKnown.get(source);
  if (known) return known;
  const all: ts.Node[] = [];
  nodesKnown.set(source, all);
  const visit = (node: ts.Node): void => {
    all.push(node);
    node.forEachChild(visit);
  };
  visit(treeOf(source));
  return all;
}

/** What a file imports: packages by name, own files from the root. Types and dynamic imports count too. */
function importsOf(source: Source): string[] {
  const named = nodesOf(source).flatMap((node) => {
    if (ts.isImportDeclaration(node) || ts.isExportDeclaration(node)) return node.moduleSpecifier ?? [];
    if (ts.isImportTypeNode(node) && ts.isLiteralTypeNode(node.argument)) return node.argument.literal;
    const isDynamic = ts.isCallExpression(node) && node.expression.kind === ts.SyntaxKind.ImportKeyword;
    return isDynamic ? (node.arguments[0] ?? []) : [];
  });
  return named
    .filter((one) => ts.isStringLiteralLike(one))
    .map(({ text }) => (text.startsWith('.') ? normalize(join(dirname(source.path), text)) : text));
}

const reads = (source: Source, object: string, property: string): boolean =>
  nodesOf(source).some(
    (node) =>
      (ts.isPropertyAccessExpression(node) && node.expression.getText() === object && node.name.text === property) ||
      (ts.isElementAccessExpression(node) &&
        node.expression.getText() === object &&
        node.argumentExpression.getText().slice(1, -1) === property) ||
      // const { property } = object
      (ts.isVariableDeclaration(node) &&
        node.initializer?.getText() === object &&
        ts.isObjectBindingPattern(node.name) &&
        node.name.elements.some((one) => (one.propertyName ?? one.name).getText() === property)),
  );

// ---- the rules ---------------------------------------------------------------------------------------------------------

/** Says what is wrong with a file, or nothing. */
type Rule = (source: Source) => string[];

const inFolder = (path: string, ...folders: string[]) => folders.some((folder) => path.startsWith(`${folder}/`));
const importing = (applies: (path: string) => boolean, isWrong: (imported: string) => boolean): Rule => {
  return (source) => (isCode(source) && applies(source.path) ? importsOf(source).filter(isWrong) : []);
};
const isConcrete = (path: string) => /^server\/(log|presence)\/(memory|sqlite|redis)-(log|presence)\.ts$/.test(path);
const picksParts = (path: string) => path === 'server/main.ts' || inFolder(path, 'tests');
const readsEnvironment = (path: string) =>
  path === 'server/config.ts' || inFolder(path, 'tests') || /^vite(st)?\.config\.ts$/.test(path);

/** Words of a workplace that is none of this project's. Put together here, or this file would be the first to name them. */
const foreign = [
  ['..', 'shared'].join('/'),
  ['', 'work', 'shared'].join('/'),
  ['', 'work', 'main'].join('/'),
  ['', 'work', '.library'].join('/'),
  ['seed', 'document'].join(' '),
];

const rules: Record<string, Rule> = {
  'machines import only xstate, zod and themselves': importing(
    (path) => inFolder(path, 'machines'),
    (imported) => !inFolder(imported, 'machines') && !['xstate', 'zod'].includes(imported),
  ),
  'the client imports nothing of the server': importing(
    (path) => inFolder(path, 'client'),
    (imported) => inFolder(imported, 'server'),
  ),
  'the server imports nothing of the client': importing(
    (path) => inFolder(path, 'server'),
    (imported) => inFolder(imported, 'client'),
  ),
  'nothing imports tests but tests': importing(
    (path) => !inFolder(path, 'tests'),
    (imported) => inFolder(imported, 'tests'),
  ),
  'only main.ts and tests name a concrete log or presence': importing((path) => !picksParts(path), isConcrete),
  'only config.ts, the build and tests read the environment': (source) =>
    isCode(source) && !readsEnvironment(source.path) && reads(source, 'process', 'env') ? ['process.env'] : [],
  'no clock and no chance in machines': (source) => {
    if (!inFolder(source.path, 'machines')) return [];
    const asksNow = nodesOf(source).some(
      (node) => ts.isNewExpression(node) && node.expression.getText() === 'Date' && !node.arguments?.length,
    );
    return [
      ...(reads(source, 'Date', 'now') ? ['Date.now'] : []),
      ...(reads(source, 'Math', 'random') ? ['Math.random'] : []),
      ...(reads(source, 'performance', 'now') ? ['performance.now'] : []),
      ...(asksNow ? ['new Date()'] : []),
    ];
  },
  'no timers in machines: what falls due is a fact of the watch': (source) => {
    if (!inFolder(source.path, 'machines')) return [];
    return nodesOf(source)
      .filter((node) => ts.isPropertyAssignment(node) && node.name.getText() === 'after')
      .filter((node) => ts.isObjectLiteralExpression((node as ts.PropertyAssignment).initializer))
      .map((node) => node.getText());
  },
  'no file speaks of a workplace that is not part of the project': ({ path, text }) =>
    foreign.filter((word) => text.includes(word) || path.includes(word)),
};

describe('the shape of the project', () => {
  it.each(Object.entries(rules))('%s', (_, rule) => {
    const broken = project.flatMap((source) => rule(source).map((what) => `${source.path}: ${what}`));
    expect(broken).toEqual([]);
  });

  it('is looked at as a whole: every folder, code and words', () => {
    for (const folder of ['machines', 'server', 'client', 'tests', 'demo-data', 'docs'])
      expect([folder, project.some(({ path }) => inFolder(path, folder))]).toEqual([folder, true]);
    expect(project.filter(isCode).length).toBeGreaterThan(100);
    expect(project.flatMap((source) => (isCode(source) ? importsOf(source) : [])).length).toBeGreaterThan(500);
  });
});

describe('the rules can say no', () => {
  const broken: Record<keyof typeof rules, Source[]> = {
    'machines import only xstate, zod and themselves': [
      { path: 'machines/unit/fold.ts', text: `import { readFileSync } from 'node:fs';` },
      { path: 'machines/unit/fold.ts', text: `import type { Log } from '../../server/log/log.ts';` },
      { path: 'machines/unit/fold.ts', text: `export { word } from '../../client/words/words.ts';` },
    ],
    'the client imports nothing of the server': [
      {
        path: 'client/board/Board.svelte',
        text: `<script lang="ts">import { app } from '../../server/app.ts';</script>`,
      },
      { path: 'client/main.ts', text: `const late = await import('../server/app.ts');` },
      { path: 'client/main.ts', text: `type App = import('../server/app.ts').App;` },
    ],
    'the server imports nothing of the client': [
      { path: 'server/http/pages.ts', text: `import { words } from '../../client/words/words.ts';` },
    ],
    'nothing imports tests but tests': [
      { path: 'server/app.ts', text: `import { gown } from '../tests/support/unit-fixture.ts';` },
    ],
    'only main.ts and tests name a concrete log or presence': [
      { path: 'server/app.ts', text: `import { MemoryLog } from './log/memory-log.ts';` },
      { path: 'server/drill/drill.ts', text: `import type { SqliteLog } from '../log/sqlite-log.ts';` },
      { path: 'server/watch/watch.ts', text: `import { openRedisPresence } from '../presence/redis-presence.ts';` },
    ],
    'only config.ts, the build and tests read the environment': [
      { path: 'server/main.ts', text: `const port = process.env.PORT;` },
      { path: 'server/cli/anteroom.mjs', text: `const { PORT } = process['env'];` },
      { path: 'server/http/http.ts', text: `const { env } = process;` },
    ],
    'no clock and no chance in machines': [
      { path: 'machines/pure.ts', text: `export const now = () => Date.now();` },
      { path: 'machines/pure.ts', text: `export const now = () => new Date();` },
      { path: 'machines/pure.ts', text: `export const chance = Math.random;` },
    ],
    'no timers in machines: what falls due is a fact of the watch': [
      {
        path: 'machines/lane/lane-machine.ts',
        text: `createMachine({ states: { turnover: { after: { 1000: 'free' } } } });`,
      },
    ],
    'no file speaks of a workplace that is not part of the project': foreign.map((word) => ({
      path: 'docs/notes.md',
      text: `see ${word} for more`,
    })),
  };

  it.each(Object.entries(rules))('%s', (name, rule) => {
    for (const source of broken[name]!) expect([source.text, rule(source).length]).toEqual([source.text, 1]);
  });

  it('and say nothing about what is only spoken of', () => {
    const spoken = `// Date.now() and process.env are not read here; after: { 5: 'x' }\nexport const text = "import x from '../server/app.ts'";`;
    for (const rule of Object.values(rules)) expect(rule({ path: 'machines/pure.ts', text: spoken })).toEqual([]);
    const step = { path: 'machines/procedure/order.ts', text: `const step = { after: ['rub-hands'] };` };
    for (const rule of Object.values(rules)) expect(rule(step)).toEqual([]);
  });
});
