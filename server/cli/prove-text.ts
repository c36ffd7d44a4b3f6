import { assumptionWords, type Assumptions } from '../../machines/procedure/assumptions.ts';
import type { CounterExample } from '../../machines/procedure/counter-example.ts';
import type { FaultResult } from '../../machines/procedure/fault-check.ts';
import { faultKinds, type FaultKind } from '../../machines/procedure/faults.ts';
import type { Mend } from '../../machines/procedure/mend.ts';
import { assumptionNames, type AssumptionName } from '../../machines/procedure/proof-fields.ts';
import type { Proof } from '../../machines/procedure/prove.ts';
import type { ProofReport } from './prove.ts';

const caution =
  'A proof speaks about the file, not about the people who follow it. An aid, not a medical device; local rules come first.';

/** The proof for a person at a terminal. */
export function proofText({ procedure, proof, restsOn, mend, faults }: ProofReport): string {
  const title = `${procedure.title} (${procedure.id}, version ${procedure.version})`;
  const lines = [
    title,
    ...verdictLines(proof, restsOn, mend),
    ...(faults ? faultLines(faults, mend) : []),
    '',
    caution,
  ];
  return lines.map((line) => `${line}\n`).join('');
}

function verdictLines(proof: Proof, restsOn: readonly AssumptionName[], mend: Mend | undefined): string[] {
  switch (proof.verdict) {
    case 'proved':
      return provedLines(proof, restsOn);
    case 'not-proved':
      return [...brokenLines(proof.counterExample), '', ...mendLines(mend), ...assumedLines(proof.assumptions)];
    case 'undecided':
      return [`NOT DECIDED: ${proof.sentence}`];
    case 'unfit':
      return proof.problems.map((problem) => `NOT PROVED: ${problem.sentence}`);
    default:
      return proof satisfies never;
  }
}

function provedLines(proof: Extract<Proof, { verdict: 'proved' }>, restsOn: readonly AssumptionName[]): string[] {
  const rows = proof.phases.map(({ phase, steps, orders, states }) => [
    phase,
    grouped(steps),
    grouped(orders),
    grouped(states),
  ]);
  return [
    `PROVED: ${grouped(proof.orders)} orders, ${grouped(proof.states)} states. No order breaks a rule.`,
    '',
    ...table([['', 'steps', 'orders', 'states'], ...rows]),
    ...assumedLines(proof.assumptions, restsOn),
  ];
}

/** @param needed those the proof rests on, where it is a proof */
function assumedLines(assumptions: Assumptions, needed?: readonly AssumptionName[]): string[] {
  const held = assumptionNames.filter((name) => assumptions[name]);
  const idle = needed ? held.filter((name) => !needed.includes(name)) : [];
  const explained = (names: readonly AssumptionName[]) => table(names.map((name) => [name, assumptionWords[name]]));
  const not = assumptionNames.filter((name) => !assumptions[name]);
  return [
    ...section(needed ? 'It rests on these assumptions:' : 'Assumed:', explained(needed ?? held)),
    ...section('Assumed as well, but it holds without:', explained(idle)),
    ...section('Not assumed:', not.length > 0 ? [`  ${not.join(', ')}`] : []),
  ];
}

const section = (title: string, lines: readonly string[]): string[] => (lines.length > 0 ? ['', title, ...lines] : []);

const startWords: Readonly<Record<CounterExample['starts'], string>> = {
  donning: 'before donning',
  'at-the-door': 'in the room, at the door',
  'in-the-lane': 'in the lane, after the exit steps',
  'in-the-lane-after-emergency': 'in the lane, after an emergency exit without the exit steps',
};

function brokenLines({ rule, sentence, starts, steps, inRoom, earlier, chain }: CounterExample): string[] {
  const where = inRoom ? 'in the room, after donning' : `in ${steps.length} ${steps.length === 1 ? 'step' : 'steps'}`;
  const numbered = steps.map((step, index) => [`${index + 1}.`, step.id, step.words]);
  return [
    `NOT PROVED: ${sentence} (rule: ${rule})`,
    '',
    `A shortest order that leads there, ${where}, from ${startWords[starts]}:`,
    ...(earlier.length > 0 ? [`  exit steps in this order: ${earlier.join(', ')}`] : []),
    ...table(numbered),
    ...(chain.length > 0 ? ['', 'How the contamination got there:', ...chainLines({ chain, starts })] : []),
  ];
}

function chainLines({ chain, starts }: Pick<CounterExample, 'chain' | 'starts'>): string[] {
  const atStart = starts === 'donning' ? 'everyday dirt from the start' : 'contaminated from the start';
  return table(chain.map(({ words, step }, index) => [index === 0 ? '' : '→', words, step ? `in "${step}"` : atStart]));
}

function mendLines(mend: Mend | undefined): string[] {
  if (!mend) return ['No small change that mends it was found.'];
  const title =
    mend.sentences.length === 1
      ? 'The smallest change that mends it:'
      : 'Changes that mend it; none of them can be left out:';
  return [title, ...mend.sentences.map((sentence) => `  - ${sentence}`)];
}

function faultLines(results: readonly FaultResult[], mend: Mend | undefined): string[] {
  const kinds = Object.keys(faultKinds) as FaultKind[];
  const of = (kind: FaultKind | undefined, is: FaultResult['outcome']['is']) =>
    String(results.filter(({ fault, outcome }) => (!kind || fault.kind === kind) && outcome.is === is).length);
  const row = (title: string, kind?: FaultKind) => [
    title,
    String(results.filter(({ fault }) => !kind || fault.kind === kind).length),
    of(kind, 'caught'),
    of(kind, 'harmless'),
    of(kind, 'undecided'),
  ];
  return [
    '',
    `Every single fault${mend ? ' of the procedure as mended above' : ''}, and whether the proof notices it:`,
    ...table([
      ['', 'faults', 'caught', 'harmless', 'not decided'],
      ...kinds.map((kind) => row(faultKinds[kind], kind)),
      row('all'),
    ]),
    ...kinds.flatMap((kind) => harmlessLines(kind, results)),
  ];
}

function harmlessLines(kind: FaultKind, results: readonly FaultResult[]): string[] {
  const harmless = results.flatMap(({ fault, outcome }) =>
    fault.kind === kind && outcome.is !== 'caught'
      ? [`  ${fault.sentence}: ${outcome.is === 'harmless' ? outcome.why : outcome.sentence}`]
      : [],
  );
  return harmless.length > 0 ? ['', `Not caught, ${faultKinds[kind]}:`, ...harmless] : [];
}

const grouped = (count: number | bigint): string => count.toLocaleString('en');

/** Columns as wide as their widest cell; the last one runs free. */
function table(rows: readonly (readonly string[])[]): string[] {
  const widths = rows.reduce<number[]>(
    (most, row) => row.slice(0, -1).map((cell, column) => Math.max(most[column] ?? 0, cell.length)),
    [],
  );
  return rows.map((row) => `  ${row.map((cell, column) => cell.padEnd(widths[column] ?? 0)).join('  ')}`.trimEnd());
}
