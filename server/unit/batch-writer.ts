import type { Logger } from 'pino';
import { FoldError } from '../../machines/unit/fold-parts.ts';
import type { UnitState } from '../../machines/unit/state.ts';
import type { Fact, NumberedFact } from '../../machines/wire/fact.ts';
import type { ReportId } from '../../machines/wire/ids.ts';
import type { ReportAnswer } from '../../machines/wire/messages.ts';
import type { Log } from '../log/log.ts';
import { decideInput, type Decided } from './decide-input.ts';
import { earlierAnswer } from './earlier-reports.ts';
import type { Input } from './input.ts';
import { serverMistake, type TurnedAway } from './turned-away.ts';
import { UnitRecordError, type UnitRecord } from './unit-record.ts';

/** What became of a batch: an answer for each input and the facts that are now durable, or why it was not taken at all. */
export type BatchOutcome = { answers: ReportAnswer[]; facts: readonly Fact[] } | { turnedAway: TurnedAway };

/** What shared one wait for the disk. */
export interface BatchMeasure {
  inputs: number;
  reports: number;
  facts: number;
  appendMs: number;
}

export interface BatchWriterParts {
  log: Log;
  logger: Logger;
  onBatch?: (batch: BatchMeasure) => void;
}

const attemptsMost = 8;
const failuresMost = 2;

/**
 * Decides a batch of inputs and makes what follows durable, all of it or nothing. When another server was faster, what it
 * wrote is read and the batch is decided again. When an append fails nobody knows whether it was done; the log is asked, and
 * a report that is found there gets the answer it would have had.
 */
export class BatchWriter {
  private readonly record: UnitRecord;
  private readonly parts: BatchWriterParts;
  private readonly onTail: (facts: readonly Fact[]) => void;
  /** Why this server can no longer follow the log; undefined while all is well. */
  fault: string | undefined;

  /** `onTail` is told of facts that others have written, once they are folded. */
  constructor(record: UnitRecord, parts: BatchWriterParts, onTail: (facts: readonly Fact[]) => void) {
    this.record = record;
    this.parts = parts;
    this.onTail = onTail;
  }

  async write(inputs: readonly Input[]): Promise<BatchOutcome> {
    const suspects = new Set<ReportId>();
    let failures = 0;
    for (let attempt = 1; attempt <= attemptsMost; attempt += 1) {
      try {
        const written = await this.attempt(inputs, suspects);
        if (written) return written;
        await this.readTail();
      } catch (error) {
        failures += 1;
        this.noteTrouble(error, 'appending');
        if (failures >= failuresMost || !(await this.canReadTail())) return { turnedAway: 'log-unavailable' };
      }
    }
    return { turnedAway: 'busy' };
  }

  /** Takes in what is in the log beyond the state this server has. */
  async readTail(): Promise<void> {
    const facts = await this.record.readTail();
    if (facts.length > 0) this.onTail(facts);
  }

  /** The same where failing is an answer and not an error. */
  async canReadTail(): Promise<boolean> {
    if (this.fault) return false;
    try {
      await this.readTail();
      return true;
    } catch (error) {
      this.noteTrouble(error, 'reading');
      return false;
    }
  }

  /** Undefined when the log says that the batch was not decided on the present state. */
  private async attempt(inputs: readonly Input[], suspects: Set<ReportId>): Promise<BatchOutcome | undefined> {
    const decided = await this.decideAll(inputs, suspects);
    const answers = decided.map(({ answer }) => answer);
    const numbered = decided.flatMap(({ facts }) => facts);
    if (numbered.length === 0) return { answers, facts: [] };
    const facts = await this.append(inputs, numbered, decided.at(-1)?.state ?? this.record.state, suspects);
    return facts && { answers, facts };
  }

  private async decideAll(inputs: readonly Input[], suspects: ReadonlySet<ReportId>): Promise<Decided[]> {
    const earlier = await Promise.all(inputs.map((input) => this.earlier(input, suspects)));
    let { state } = this.record;
    return inputs.map((input, index) => {
      const decided = this.decideOne(state, input, earlier[index]);
      state = decided.state;
      return decided;
    });
  }

  private async earlier(input: Input, suspects: ReadonlySet<ReportId>): Promise<ReportAnswer | undefined> {
    if (input.what !== 'report') return undefined;
    return earlierAnswer(this.parts.log, this.record.state, input.report, suspects);
  }

  /** One input that trips over a bug must not take the others of its batch with it, nor the server. */
  private decideOne(state: UnitState, input: Input, earlier: ReportAnswer | undefined): Decided {
    try {
      return decideInput(state, input, earlier);
    } catch (error) {
      const about = input.what === 'report' ? { report: input.report.id, kind: input.report.kind } : {};
      this.parts.logger.error({ err: error, unit: state.unit, what: input.what, ...about }, 'a bug: not decided');
      return { facts: [], state, answer: serverMistake };
    }
  }

  private async append(
    inputs: readonly Input[],
    numbered: readonly NumberedFact[],
    next: UnitState,
    suspects: Set<ReportId>,
  ): Promise<readonly Fact[] | undefined> {
    const startedAt = performance.now();
    const { outcome, facts } = await this.record.append(numbered, next);
    switch (outcome.outcome) {
      case 'appended':
        this.parts.onBatch?.(measure(inputs, facts, performance.now() - startedAt));
        return facts;
      case 'known-report':
        suspects.add(outcome.report);
        return undefined;
      case 'moved':
        return undefined;
      default:
        return outcome satisfies never;
    }
  }

  private noteTrouble(error: unknown, doing: string): void {
    const forGood = error instanceof FoldError || error instanceof UnitRecordError;
    if (forGood) this.fault = error.message;
    this.parts.logger[forGood ? 'fatal' : 'error'](
      { err: error, unit: this.record.unit, doing },
      'trouble with the log',
    );
  }
}

function measure(inputs: readonly Input[], facts: readonly Fact[], appendMs: number): BatchMeasure {
  const reports = inputs.filter(({ what }) => what === 'report').length;
  return { inputs: inputs.length, reports, facts: facts.length, appendMs };
}
