/** A reason not to start, or not to go on, that is nobody's bug: one sentence for whoever gave the command. */
export class StartError extends Error {
  constructor(sentence: string) {
    super(sentence);
    this.name = 'StartError';
  }
}
