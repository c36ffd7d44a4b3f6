import { pathToFileURL } from 'node:url';
import Database from 'libsql';

/**
 * Reads a database without being its server: opened read-only and without the server's lock, so that a log can be checked
 * while it is being written. In pages, each read to its end: an open cursor would keep the server's WAL file from shrinking.
 */
export interface StoredRow {
  unit: string;
  number: number;
  hash: string;
  fact: string;
}

export class SqliteReader {
  private readonly database: Database.Database;

  constructor(file: string) {
    // libsql ignores the `readonly` option; SQLite's own URI does it.
    this.database = new Database(`${pathToFileURL(file).href}?mode=ro`, { timeout: 2000 });
  }

  units(): string[] {
    const rows = this.database.prepare('SELECT DISTINCT unit FROM facts ORDER BY unit').all() as { unit: string }[];
    return rows.map(({ unit }) => unit);
  }

  *rows(unit: string): Generator<StoredRow> {
    const next = this.database.prepare(
      'SELECT unit, number, hash, fact FROM facts WHERE unit = ? AND number > ? ORDER BY number LIMIT 500',
    );
    let page = next.all(unit, Number.MIN_SAFE_INTEGER) as StoredRow[];
    while (page.length > 0) {
      yield* page;
      page = next.all(unit, page.at(-1)?.number ?? 0) as StoredRow[];
    }
  }

  close(): void {
    this.database.close();
  }
}
