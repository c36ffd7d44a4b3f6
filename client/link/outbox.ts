import { wireVersion, type Report } from '../../machines/wire/report.ts';

/**
 * Reports that the server has not answered yet, oldest first, kept across a reload. A report leaves only when it is answered.
 * The sequence number is written before the report is, so that no number is ever used twice, whatever happens in between.
 */
export interface Shelf {
  getItem(key: string): string | null;
  setItem(key: string, value: string): void;
}

export class Outbox {
  private readonly shelf: Shelf;
  private readonly key: string;
  private waiting: readonly Report[];
  private sequence: number;

  constructor(shelf: Shelf, device: string) {
    this.shelf = shelf;
    this.key = `anteroom.outbox.${device}`;
    // What an older page left here is sent in today's version: stranded for its stamp it would never arrive.
    this.waiting = parse<Report[]>(shelf.getItem(this.key), []).map((report) => ({ ...report, v: wireVersion }));
    this.sequence = parse<number>(shelf.getItem(`${this.key}.sequence`), 0);
  }

  get reports(): readonly Report[] {
    return this.waiting;
  }

  nextSequence(): number {
    this.sequence += 1;
    this.shelf.setItem(`${this.key}.sequence`, JSON.stringify(this.sequence));
    return this.sequence;
  }

  add(report: Report): void {
    this.save([...this.waiting, report]);
  }

  remove(id: string): void {
    this.save(this.waiting.filter((report) => report.id !== id));
  }

  private save(reports: readonly Report[]): void {
    this.waiting = reports;
    this.shelf.setItem(this.key, JSON.stringify(reports));
  }
}

function parse<Value>(text: string | null, otherwise: Value): Value {
  if (text === null) return otherwise;
  try {
    return JSON.parse(text) as Value;
  } catch {
    return otherwise;
  }
}
