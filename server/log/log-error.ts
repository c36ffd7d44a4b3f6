/**
 * What a log can fail with. Losing a race is no failure (that is an `AppendOutcome`); these are the cases in which a person
 * or the process manager has to do something, so each has a stable code and a sentence that can be shown as it is.
 */
export type LogErrorCode =
  /** Another server holds the data directory. */
  | 'directory-in-use'
  /** The log could not be opened at all. */
  | 'cannot-open'
  | 'closed'
  /** The database or Redis refused; for an append the outcome is unknown. */
  | 'store-failed'
  /** The thread that owns the database has died; only a restart helps. */
  | 'thread-died'
  /** Nothing was heard in time; for an append the outcome is unknown. */
  | 'no-answer'
  /**
   * The facts were decided on another history: the log has another hash at their number. A Redis that failed over lost its
   * end and grew anew, for instance. Nothing was written; whoever decided must fold the log again from its start.
   */
  | 'diverged'
  /** A mistake in the program: facts that don't follow each other. */
  | 'broken-batch';

export class LogError extends Error {
  readonly code: LogErrorCode;
  constructor(code: LogErrorCode, sentence: string) {
    super(sentence);
    this.name = 'LogError';
    this.code = code;
  }
}

export const closedError = () => new LogError('closed', 'The log is closed.');

export const messageOf = (error: unknown): string => (error instanceof Error ? error.message : String(error));
