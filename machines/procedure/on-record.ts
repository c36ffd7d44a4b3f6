import type { AdoptionProof, Fact } from '../wire/fact.ts';
import type { PersonId } from '../wire/ids.ts';
import type { Procedure } from './procedure.ts';

/** How a version came into the log: with the unit's files, or adopted on a screen with what the proof said of it. */
export type Arrival =
  | { how: 'files' }
  | { how: 'proved'; by: PersonId | undefined; proof: Extract<AdoptionProof, { verdict: 'proved' }> }
  | {
      how: 'override';
      by: PersonId | undefined;
      proof: Exclude<AdoptionProof, { verdict: 'proved' }>;
      reason: string;
    };

/** One version of a procedure, as the log has it. */
export interface VersionOnRecord {
  procedure: Procedure;
  /** When the log first had it, milliseconds. */
  at: number;
  arrival: Arrival;
}

/** Takes in one fact. Every version ever adopted is in the log, so that any record can be read with the words of its time. */
export function noteVersions(known: readonly VersionOnRecord[], fact: Fact): readonly VersionOnRecord[] {
  switch (fact.kind) {
    case 'unit-opened':
    case 'unit-changed': {
      const fresh = fact.data.procedures.filter((one) => !versionOnRecord(known, one.id, one.version));
      const added = fresh.map((procedure): VersionOnRecord => ({ procedure, at: fact.at, arrival: { how: 'files' } }));
      return added.length === 0 ? known : [...known, ...added];
    }
    case 'procedure-adopted':
      return [...known, { procedure: fact.data.procedure, at: fact.at, arrival: arrivalOf(fact) }];
    default:
      return known;
  }
}

function arrivalOf({ by: author, data }: Extract<Fact, { kind: 'procedure-adopted' }>): Arrival {
  const by = 'person' in author ? author.person : undefined;
  const { proof, overrideReason = '' } = data;
  return proof.verdict === 'proved'
    ? { how: 'proved', by, proof }
    : { how: 'override', by, proof, reason: overrideReason };
}

export const versionOnRecord = (
  known: readonly VersionOnRecord[],
  id: string,
  version: number,
): VersionOnRecord | undefined => known.find(({ procedure }) => procedure.id === id && procedure.version === version);
