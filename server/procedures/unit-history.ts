import { learn, nothingLearned, type Learning } from '../../machines/procedure/learning.ts';
import { noteVersions, type VersionOnRecord } from '../../machines/procedure/on-record.ts';
import type { UnitId } from '../../machines/wire/ids.ts';
import type { Log } from '../log/log.ts';

/** What a unit's whole log says about its procedures. */
export interface History {
  /** Number of the last fact it knows. */
  number: number;
  versions: readonly VersionOnRecord[];
  learning: Learning;
}

const pageOfFacts = 500;

/**
 * Reads the log of a unit once, from its start, and from then on only what is new: the fold keeps no more than a shift needs.
 * Page by page, so that nobody waits for a long log but whoever asked.
 */
export class UnitHistory {
  private readonly log: Log;
  private readonly unit: UnitId;
  private known: History = { number: 0, versions: [], learning: nothingLearned };
  private reading: Promise<unknown> = Promise.resolve();

  constructor(log: Log, unit: UnitId) {
    this.log = log;
    this.unit = unit;
  }

  /** Everything up to the end of the log. Two who ask at once read it once. */
  async read(): Promise<History> {
    const turn = this.reading.then(() => this.readOn());
    this.reading = turn.catch(() => undefined);
    return turn;
  }

  private async readOn(): Promise<History> {
    for (;;) {
      const facts = await this.log.read(this.unit, this.known.number, pageOfFacts);
      if (facts.length === 0) return this.known;
      this.known = facts.reduce<History>(
        (known, fact) => ({
          number: fact.number,
          versions: noteVersions(known.versions, fact),
          learning: learn(known.learning, fact),
        }),
        this.known,
      );
    }
  }
}
