import { adoptionLimits, proveForAdoption } from '../../machines/procedure/adoption.ts';
import { mendOf } from '../../machines/procedure/mend.ts';
import type { Procedure } from '../../machines/procedure/procedure.ts';
import { countedProof, type CountedProof } from '../../machines/procedure/counted-proof.ts';
import { parseProcedure } from '../unit/load-procedure.ts';
import type { FileProblem } from '../unit/yaml-text.ts';
import { procedureYaml } from './procedure-yaml.ts';

/** A problem in a text, at its place; line and column count from 1. */
export interface TextProblem {
  line: number;
  column: number;
  code: string;
  sentence: string;
}

/** What there is to say about a text: what is wrong with it and where, or what the proof says. */
export type ProcedureChecked =
  | { problems: TextProblem[] }
  | { procedure: Procedure; proof: CountedProof; mend: { sentences: string[]; yaml: string } | null };

const problemsMost = 20;
const sentenceMost = 400;

/**
 * Checks a text as adopting it would, with the same limits, and looks for a mend as long as there is time.
 *
 * @param goOn whether there is still time to look for a mend
 */
export function checkProcedure(text: string, goOn: () => boolean): ProcedureChecked {
  const parsed = parseProcedure('procedure', text);
  if (!parsed.ok) return { problems: oncePerPlace(misspeltFirst(parsed.problems)).slice(0, problemsMost).map(placed) };
  const { value: procedure } = parsed;
  const proof = proveForAdoption(procedure);
  const limits = adoptionLimits(procedure);
  const mend = proof.verdict === 'not-proved' ? mendOf(procedure, {}, { limits, goOn }) : undefined;
  return {
    procedure,
    proof: countedProof(proof),
    mend: mend ? { sentences: mend.sentences, yaml: procedureYaml(mend.procedure) } : null,
  };
}

/** A misspelt word leaves another one missing: what is there and wrong is said before what is not there. */
function misspeltFirst(problems: readonly FileProblem[]): FileProblem[] {
  const isMisspelt = ({ code }: FileProblem) => code === 'schema/unknown-key';
  return [...problems.filter(isMisspelt), ...problems.filter((one) => !isMisspelt(one))];
}

/** A line that is wrong in one way is often wrong in ten: the first is the one to mend. */
function oncePerPlace(problems: readonly FileProblem[]): FileProblem[] {
  const places = new Set<string>();
  return problems.filter(({ line, column }) => {
    const place = `${line}:${column}`;
    if (places.has(place)) return false;
    places.add(place);
    return true;
  });
}

/** What concerns the whole text stands at its first line. A huge value is not repeated whole. */
function placed({ line = 1, column = 1, code, sentence }: FileProblem): TextProblem {
  const short = sentence.length > sentenceMost ? `${sentence.slice(0, sentenceMost)}…` : sentence;
  return { line, column, code, sentence: short };
}
