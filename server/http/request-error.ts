/** What is wrong with a request, in the form every answer of this server has: a code that stays and a sentence to act on. */
export class RequestError extends Error {
  readonly status: number;
  readonly code: string;
  constructor(status: number, code: string, sentence: string, options?: ErrorOptions) {
    super(sentence, options);
    this.name = 'RequestError';
    this.status = status;
    this.code = code;
  }
}
