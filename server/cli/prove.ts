import { InvalidArgumentError, type Command } from 'commander';
import { checkFaults, type FaultResult } from '../../machines/procedure/fault-check.ts';
import { countedProof } from '../../machines/procedure/counted-proof.ts';
import { mendOf, type Mend } from '../../machines/procedure/mend.ts';
import type { Procedure } from '../../machines/procedure/procedure.ts';
import { assumptionNames, type AssumptionName } from '../../machines/procedure/proof-fields.ts';
import { prove, restsOn, type Proof } from '../../machines/procedure/prove.ts';
import { StartError } from '../start-error.ts';
import { loadProcedure, problemsLine } from '../unit/load-procedure.ts';
import type { FileProblem } from '../unit/yaml-text.ts';
import { proofText } from './prove-text.ts';

type Assume = Partial<Record<AssumptionName, boolean>>;

export interface ProveFlags {
  assume: Assume;
  json?: true;
  faults?: true;
}

/** What there is to say about a procedure that could be read. */
export interface ProofReport {
  procedure: Procedure;
  proof: Proof;
  /** Assumptions without which the proof does not hold. */
  restsOn: AssumptionName[];
  mend: Mend | undefined;
  faults: FaultResult[] | undefined;
}

export function addProve(program: Command): void {
  program
    .command('prove')
    .description(
      'prove that no order a procedure allows lets contamination through, or show one that does (docs/procedures.md)',
    )
    .argument('<file>', 'a procedure (.yaml)')
    .option('--assume <name=true|false>', `set an assumption: ${assumptionNames.join(', ')}`, withAssumption, {})
    .option('--json', 'as one JSON object')
    .option('--faults', 'also spoil the procedure in every single way and show what is noticed')
    .action((file: string, flags: ProveFlags) => {
      const { exitCode, output } = proveFile(file, flags);
      process.stdout.write(output);
      process.exitCode = exitCode;
    });
}

function withAssumption(text: string, assume: Assume): Assume {
  const [, name, value] = /^([a-z-]+)=(true|false)$/.exec(text) ?? [];
  const known = assumptionNames.find((one) => one === name);
  if (!known)
    throw new InvalidArgumentError(`Write name=true or name=false, with one of: ${assumptionNames.join(', ')}.`);
  return { ...assume, [known]: value === 'true' };
}

/** Exit code 0: proved; 1: not proved, or not decided, or a file that cannot be put to the proof. */
export function proveFile(file: string, { assume, json, faults }: ProveFlags): { exitCode: 0 | 1; output: string } {
  const loaded = loadProcedure(file);
  if (!loaded.ok) {
    if (json) return { exitCode: 1, output: `${JSON.stringify(badFile(loaded.problems), undefined, 2)}\n` };
    throw new StartError(problemsLine(loaded.problems));
  }
  const report = reportOn(loaded.value, assume, faults ?? false);
  const output = json ? `${JSON.stringify(printable(report), undefined, 2)}\n` : proofText(report);
  return { exitCode: report.proof.verdict === 'proved' ? 0 : 1, output };
}

function reportOn(procedure: Procedure, assume: Assume, withFaults: boolean): ProofReport {
  const proof = prove(procedure, assume);
  const isProved = proof.verdict === 'proved';
  const mend = proof.verdict === 'not-proved' ? mendOf(procedure, assume) : undefined;
  // Of a procedure that does not hold a fault would prove nothing: they are tried on it as it would be mended.
  const sound = isProved ? procedure : mend?.procedure;
  return {
    procedure,
    proof,
    restsOn: isProved ? restsOn(procedure, proof.assumptions) : [],
    mend,
    faults: withFaults && sound ? checkFaults(sound, assume) : undefined,
  };
}

const badFile = (problems: readonly FileProblem[]) => ({ verdict: 'bad-file', problems: problems.slice(0, 100) });

/** The answer of `prove --json`; its shape is part of what people build on. Numbers of orders are strings: they can be huge. */
function printable({ procedure, proof, restsOn: needed, mend, faults }: ProofReport) {
  return {
    procedure: { id: procedure.id, version: procedure.version, title: procedure.title },
    ...countedProof(proof),
    ...(proof.verdict === 'proved' && { restsOn: needed }),
    ...(proof.verdict === 'not-proved' && { mend: mend?.sentences ?? null }),
    ...(faults && { faults: faults.map(printableFault) }),
  };
}

const printableFault = ({ fault, outcome }: FaultResult) => ({
  kind: fault.kind,
  fault: fault.sentence,
  steps: fault.steps,
  ...outcome,
});
