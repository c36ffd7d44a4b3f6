import type { CountedProof } from '../../machines/procedure/counted-proof.ts';
import type { Published } from '../../machines/procedure/hot-spots.ts';
import type { Lessons } from '../../machines/procedure/lessons.ts';
import type { Arrival } from '../../machines/procedure/on-record.ts';
import type { Procedure } from '../../machines/procedure/procedure.ts';
import type { ProcedureId, UnitId } from '../../machines/wire/ids.ts';

/** What the lead's screen asks over HTTP: the record of versions, what was learned, and a check of a text. */
export interface Version {
  id: ProcedureId;
  version: number;
  title: string;
  mark: string;
  at: number;
  adopted: boolean;
  arrival: Arrival;
}

export interface Learned {
  lessons: Lessons[];
  published: Published[];
  publishedOverall: Omit<Published, 'hotSpot'>[];
}

export interface TextProblem {
  line: number;
  column: number;
  code: string;
  sentence: string;
}

export type Checked =
  | { problems: TextProblem[] }
  | { procedure: Procedure; proof: CountedProof; mend: { sentences: string[]; yaml: string } | null };

/** An answer that is no answer, in the server's own sentence. */
export class AskError extends Error {}

async function ask(path: string, init?: RequestInit): Promise<Response> {
  const response = await fetch(path, init);
  if (response.ok) return response;
  const { sentence } = (await response.json().catch(() => ({}))) as { sentence?: string };
  throw new AskError(sentence ?? `the server answered ${response.status}`);
}

const at = (unit: UnitId, path: string): string => `/api/units/${encodeURIComponent(unit)}/${path}`;
const fileOf = (id: string, version: number, ending: string): string =>
  `procedures/${encodeURIComponent(id)}/${version}.${ending}`;

export async function askVersions(unit: UnitId): Promise<Version[]> {
  return ((await (await ask(at(unit, 'procedures'))).json()) as { versions: Version[] }).versions;
}

export async function askProcedure(unit: UnitId, id: string, version: number): Promise<Procedure> {
  return (await (await ask(at(unit, fileOf(id, version, 'json')))).json()) as Procedure;
}

export const yamlAddress = (unit: UnitId, id: string, version: number): string => at(unit, fileOf(id, version, 'yaml'));

export async function askYaml(unit: UnitId, id: string, version: number): Promise<string> {
  return (await ask(yamlAddress(unit, id, version))).text();
}

export async function askLearned(unit: UnitId): Promise<Learned> {
  return (await (await ask(at(unit, 'learning'))).json()) as Learned;
}

export async function askCheck(unit: UnitId, text: string, signal: AbortSignal): Promise<Checked> {
  const init = { method: 'POST', headers: { 'Content-Type': 'text/yaml' }, body: text, signal };
  return (await (await ask(at(unit, 'procedures/check'), init)).json()) as Checked;
}
