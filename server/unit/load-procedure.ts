import { procedure as procedureSchema, type Procedure } from '../../machines/procedure/procedure.ts';
import { adoptionProblems } from '../../machines/procedure/adoption.ts';
import { readText } from './read-text.ts';
import { checkShape, parseYaml, type FileProblem, type Outcome } from './yaml-text.ts';

/** One procedure from its file, ready for the proof; or every problem with its line. */
export function loadProcedure(file: string): Outcome<Procedure> {
  const text = readText(file);
  return text.ok ? parseProcedure(file, text.value) : text;
}

/** @param file only names the text in problems */
export function parseProcedure(file: string, text: string): Outcome<Procedure> {
  const yaml = parseYaml(file, text);
  if (!yaml.ok) return yaml;
  const shape = checkShape(yaml.value, procedureSchema);
  if (!shape.ok) return shape;
  const problems = adoptionProblems(shape.value).map(({ path, code, sentence }) =>
    yaml.value.problem(path, code, sentence),
  );
  return problems.length > 0 ? { ok: false, problems } : shape;
}

const sentenceMost = 400;

/** The first problem in one line, with its place, and how many more there are. A huge value in the file is not repeated whole. */
export function problemsLine(problems: readonly FileProblem[]): string {
  const [first, ...more] = problems;
  if (!first) return '';
  const place = [first.file, first.line, first.column].filter((part) => part !== undefined).join(':');
  const text = first.sentence.replaceAll(/\s+/g, ' ');
  const sentence = text.length > sentenceMost ? `${text.slice(0, sentenceMost)}…` : text;
  return `${place}: ${sentence}${more.length > 0 ? ` (and ${more.length} more)` : ''}`;
}
