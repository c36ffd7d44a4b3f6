type Where = Pick<RequestError, 'where'>;

/** What is wrong with a request, in the form every answer of this server has: a code that stays and a sentence to act on. */
export class RequestError extends Error {
  readonly status: number;
  readonly code: string;
  /** For what was posted: the row and the field that will not do. */
  readonly where: { row?: number; field?: string };
  constructor(status: number, code: string, sentence: string, options: ErrorOptions & Partial<Where> = {}) {
    const { where = {}, ...cause } = options;
    super(sentence, cause);
    this.where = where;
    this.name = 'RequestError';
    this.status = status;
    this.code = code;
  }
}
