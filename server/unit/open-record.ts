import { factVersion, type FactData, type NumberedFact } from '../../machines/wire/fact.ts';
import type { ProcedureId, UnitId } from '../../machines/wire/ids.ts';
import { at, entriesOf, procedureKey, type UnitState } from '../../machines/unit/state.ts';
import { add } from '../../machines/unit/number.ts';
import type { Clock } from '../clock.ts';
import { canonicalJson } from '../log/hash-chain.ts';
import type { Log } from '../log/log.ts';
import { UnitRecord, UnitRecordError } from './unit-record.ts';

/** A unit as its files describe it today. */
export interface UnitOpening {
  id: UnitId;
  opening: FactData<'unit-opened'>;
}

type Opening = FactData<'unit-opened'>;

const attemptsMost = 10;

/**
 * The record of a unit, level with its log and with its files: an empty log is opened, changed files become a fact. Several
 * servers may start at the same moment; whoever loses the race looks again.
 */
export async function openRecord(
  log: Log,
  unit: UnitOpening,
  clock: Clock,
  onKept: (kept: KeptVersion) => void = () => undefined,
): Promise<UnitRecord> {
  const now = clock.now();
  const stamp = { v: factVersion, unit: unit.id, at: now, receivedAt: now, by: { watch: true } } as const;
  const first: NumberedFact = { ...stamp, number: 1, kind: 'unit-opened', data: unit.opening };
  const record = await UnitRecord.open(log, unit.id, first);
  for (let attempt = 1; attempt <= attemptsMost; attempt += 1) {
    const opening = withAdopted(record.state, unit.opening);
    if (isLevel(record.state, unit.opening, opening)) {
      sayKept(record.state, unit.opening, onKept);
      return record;
    }
    const { at, receivedAt, by } = stamp;
    const changed = add(
      { state: record.state, facts: [] },
      { at, receivedAt, by, kind: 'unit-changed', data: opening },
    );
    const { outcome } = await record.append(changed.facts, changed.state);
    if (outcome.outcome !== 'appended') await record.readTail();
  }
  throw new UnitRecordError(`Another server keeps writing to unit ${unit.id}; its files could not be taken in.`);
}

/** A version that goes on counting although the unit's files have an older one, or none. */
export interface KeptVersion {
  procedure: ProcedureId;
  adopted: number;
  inFiles: number | undefined;
}

/**
 * What the files say, with every procedure in the highest version that was ever adopted: a server that starts with yesterday's
 * files must not take back, unseen, what the lead adopted today. To go back, the old words get a new number.
 */
function withAdopted(state: UnitState, opening: Opening): Opening {
  const kept = keptVersions(state, opening);
  const isKept = (id: ProcedureId) => kept.some((one) => one.procedure === id);
  const recorded = kept.flatMap(({ procedure, adopted }) => state.procedures[procedureKey(procedure, adopted)] ?? []);
  if (recorded.length === 0) return opening;
  return { ...opening, procedures: [...opening.procedures.filter((one) => !isKept(one.id)), ...recorded] };
}

function keptVersions(state: UnitState, { procedures }: Opening): KeptVersion[] {
  return entriesOf(state.adopted).flatMap(([procedure, adopted]) => {
    const inFiles = procedures.find((one) => one.id === procedure)?.version;
    const isKept = inFiles === undefined ? at(state.adoptions, procedure) !== undefined : inFiles < adopted;
    return isKept ? [{ procedure, adopted, inFiles }] : [];
  });
}

const sayKept = (state: UnitState, opening: Opening, onKept: (kept: KeptVersion) => void): void =>
  keptVersions(state, opening).forEach(onKept);

/** True when the log says what the files say. Throws when a procedure was changed under a version that is on record. */
function isLevel(state: UnitState, files: Opening, { rules, roster, procedures }: Opening): boolean {
  for (const procedure of files.procedures) {
    const recorded = at(state.procedures, procedureKey(procedure.id, procedure.version));
    if (recorded && !same(recorded, procedure))
      throw new UnitRecordError(
        `Procedure ${procedure.id} was changed, but still says version ${procedure.version}, which is on record with other words. Raise its version.`,
      );
  }
  return (
    same(state.rules, rules) &&
    same(state.roster, Object.fromEntries(roster.map((person) => [person.id, person]))) &&
    same(state.adopted, Object.fromEntries(procedures.map((one) => [one.id, one.version])))
  );
}

const same = (a: unknown, b: unknown): boolean => canonicalJson(a) === canonicalJson(b);
