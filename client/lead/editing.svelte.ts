import type { Procedure } from '../../machines/procedure/procedure.ts';
import type { UnitId } from '../../machines/wire/ids.ts';
import { askCheck, AskError, type Checked } from './ask.ts';

/** What is known of a text: nothing yet, on its way, could not be asked, or what the server found. */
export type Check =
  | { what: 'none' | 'checking' }
  | { what: 'failed'; sentence: string }
  | { what: 'problems'; problems: Extract<Checked, { problems: unknown }>['problems'] }
  | { what: 'proof'; procedure: Procedure; proof: Proofed['proof']; mend: Proofed['mend'] };
type Proofed = Extract<Checked, { procedure: unknown }>;

const quietMs = 500;

/** A text that is being edited, and what the server says of it as it stands: half a second after the last change it is asked again. */
export class Editing {
  private readonly unit: UnitId;
  private readonly wait: (run: () => void, ms: number) => () => void;
  #text = $state('');
  #check = $state.raw<Check>({ what: 'none' });
  private cancel: () => void = () => undefined;

  constructor(unit: UnitId, wait: (run: () => void, ms: number) => () => void = waitFor) {
    this.unit = unit;
    this.wait = wait;
  }

  get text(): string {
    return this.#text;
  }

  /** What is said of the text as it is now, never of an older one. */
  get check(): Check {
    return this.#check;
  }

  set text(text: string) {
    if (text === this.#text) return;
    this.#text = text;
    this.cancel();
    this.#check = { what: 'checking' };
    const aborter = new AbortController();
    const stop = this.wait(() => void this.ask(text, aborter.signal), quietMs);
    this.cancel = () => {
      stop();
      aborter.abort();
    };
  }

  stop(): void {
    this.cancel();
  }

  private async ask(text: string, signal: AbortSignal): Promise<void> {
    const check = await this.answer(text, signal);
    if (!signal.aborted && text === this.#text) this.#check = check;
  }

  private async answer(text: string, signal: AbortSignal): Promise<Check> {
    try {
      const checked = await askCheck(this.unit, text, signal);
      return 'problems' in checked
        ? { what: 'problems', problems: checked.problems }
        : { what: 'proof', procedure: checked.procedure, proof: checked.proof, mend: checked.mend };
    } catch (error) {
      return { what: 'failed', sentence: error instanceof AskError ? error.message : 'The server does not answer.' };
    }
  }
}

function waitFor(run: () => void, ms: number): () => void {
  const timer = setTimeout(run, ms);
  return () => clearTimeout(timer);
}
