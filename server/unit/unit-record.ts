import { fold, foldAll } from '../../machines/unit/fold.ts';
import { foldVersion, type UnitState } from '../../machines/unit/state.ts';
import type { Fact, NumberedFact } from '../../machines/wire/fact.ts';
import type { UnitId } from '../../machines/wire/ids.ts';
import type { Missing } from '../../machines/wire/messages.ts';
import { genesisHash, sealFact } from '../log/hash-chain.ts';
import type { AppendOutcome, Log, LogHead, Snapshot } from '../log/log.ts';
import { missingMost, RecentFacts } from './recent-facts.ts';

/** A log that must not be built on: it is broken, cut short, or another server writes what this one can't fold. */
export class UnitRecordError extends Error {
  constructor(sentence: string) {
    super(sentence);
    this.name = 'UnitRecordError';
  }
}

const pageOfFacts = 500;

/**
 * What this server knows of a unit's log: the state at its head, and the last facts. It moves forward in two ways only, by
 * facts this server has made durable and by facts it finds in the log; both go through the same fold.
 */
export class UnitRecord {
  readonly unit: UnitId;
  private readonly log: Log;
  private readonly recent = new RecentFacts();
  private folded: UnitState;
  private hash: string;
  private snapshotAt: number;

  private constructor(log: Log, unit: UnitId, folded: UnitState, hash: string, snapshotAt: number) {
    this.log = log;
    this.unit = unit;
    this.folded = folded;
    this.hash = hash;
    this.snapshotAt = snapshotAt;
  }

  /** Reads what is in the log; `opening` is written when there is nothing yet. */
  static async open(log: Log, unit: UnitId, opening: NumberedFact): Promise<UnitRecord> {
    const snapshot = await trustedSnapshot(log, unit);
    if (snapshot) {
      const record = new UnitRecord(log, unit, stateOf(snapshot), snapshot.hash, snapshot.number);
      record.recent.add(await log.read(unit, Math.max(0, snapshot.number - missingMost), missingMost));
      await record.readTail();
      return record;
    }
    const first = await firstFact(log, unit, opening);
    const record = new UnitRecord(log, unit, foldChecked(undefined, genesisHash, [first]), first.hash, 0);
    record.recent.add([first]);
    await record.readTail();
    return record;
  }

  get state(): UnitState {
    return this.folded;
  }

  get head(): LogHead {
    return { number: this.folded.number, hash: this.hash };
  }

  /** Writes facts that were decided and folded on the present state; `next` is the present state only when they are durable. */
  async append(numbered: readonly NumberedFact[], next: UnitState): Promise<{ outcome: AppendOutcome; facts: Fact[] }> {
    const facts = sealAll(numbered, this.hash);
    const outcome = await this.log.append(this.unit, this.folded.number, facts);
    if (outcome.outcome === 'appended') this.moveOn(facts, next);
    return { outcome, facts };
  }

  /** Takes in what is in the log beyond the present state, and returns it. */
  async readTail(): Promise<Fact[]> {
    const found: Fact[] = [];
    for (;;) {
      const facts = await this.log.read(this.unit, this.folded.number, pageOfFacts);
      if (facts.length === 0) return found;
      this.moveOn(facts, foldChecked(this.folded, this.hash, facts));
      found.push(...facts);
    }
  }

  /** What a screen that has folded up to `after` needs to be level with this server. */
  missingAfter(after: number): Missing {
    const head = this.folded.number;
    const facts = this.recent.after(after, head);
    return facts ? { facts, head } : { state: this.folded, head };
  }

  /** The facts since the last snapshot are what the next start has to fold. */
  get factsSinceSnapshot(): number {
    return this.folded.number - this.snapshotAt;
  }

  async saveSnapshot(): Promise<void> {
    const { number, hash } = this.head;
    this.snapshotAt = number;
    await this.log.saveSnapshot(this.unit, { number, hash, foldVersion, state: JSON.stringify(this.folded) });
  }

  private moveOn(facts: readonly Fact[], next: UnitState): void {
    this.folded = next;
    this.hash = facts.at(-1)?.hash ?? this.hash;
    this.recent.add(facts);
  }
}

function sealAll(numbered: readonly NumberedFact[], previousHash: string): Fact[] {
  let hash = previousHash;
  return numbered.map((one) => {
    const fact = sealFact(one, hash);
    hash = fact.hash;
    return fact;
  });
}

/** A snapshot of a longer log than there is means that the log has lost facts, and nothing may be built on what is left. */
async function trustedSnapshot(log: Log, unit: UnitId): Promise<Snapshot | undefined> {
  const snapshot = await log.latestSnapshot(unit, foldVersion);
  if (!snapshot) return undefined;
  const [fact] = await log.read(unit, snapshot.number - 1, 1);
  if (fact?.hash === snapshot.hash) return snapshot;
  throw new UnitRecordError(
    `The log of unit ${unit} does not hold fact ${snapshot.number} as it was when its snapshot was made. Run "anteroom verify" on it and restore it from a copy.`,
  );
}

const stateOf = (snapshot: Snapshot): UnitState => JSON.parse(snapshot.state) as UnitState;

/** The first fact in the log; writes `opening` when the log is empty, unless another server was faster. */
async function firstFact(log: Log, unit: UnitId, opening: NumberedFact): Promise<Fact> {
  const [found] = await log.read(unit, 0, 1);
  if (found) return found;
  const outcome = await log.append(unit, 0, [sealFact(opening, genesisHash)]);
  const [first] = await log.read(unit, 0, 1);
  if (first) return first;
  throw new UnitRecordError(`The log of unit ${unit} could not be opened: ${outcome.outcome}, and yet it is empty.`);
}

/** Folds facts read from the log, after checking that each really follows the one before it and says what was sealed. */
function foldChecked(state: UnitState | undefined, hash: string, facts: readonly Fact[]): UnitState {
  let expected = hash;
  for (const fact of facts) {
    const { hash: sealed, previousHash, ...numbered } = fact;
    if (previousHash !== expected || sealFact(numbered as NumberedFact, previousHash).hash !== sealed)
      throw new UnitRecordError(`The log is broken at fact ${fact.number}: its hash does not fit the facts before it.`);
    expected = sealed;
  }
  const folded = facts.length === 1 && facts[0] ? fold(state, facts[0]) : foldAll(state, facts);
  if (!folded) throw new UnitRecordError('The log is empty.');
  return folded;
}
