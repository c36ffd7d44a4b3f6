/** A linear problem to be minimised, filled column by column and row by row. */
export class LinearModel {
  readonly costs: number[] = [];
  readonly columnLowers: number[] = [];
  readonly columnUppers: number[] = [];
  readonly kinds: ColumnKind[] = [];
  readonly rowLowers: number[] = [];
  readonly rowUppers: number[] = [];
  readonly rows: Row[] = [];
  /** Added to the cost of every solution. */
  offset = 0;

  /** Gives the number of the new column. */
  column(cost: number, lower: number, upper: number, kind: ColumnKind): number {
    this.costs.push(cost);
    this.columnLowers.push(lower);
    this.columnUppers.push(upper);
    this.kinds.push(kind);
    return this.costs.length - 1;
  }

  /** Gives the number of the new row, which is empty. */
  row(lower: number, upper: number): number {
    this.rowLowers.push(lower);
    this.rowUppers.push(upper);
    this.rows.push({ columns: [], values: [] });
    return this.rows.length - 1;
  }

  /** A column may be put into a row once. */
  put(row: number, column: number, value: number): void {
    this.rows[row]!.columns.push(column);
    this.rows[row]!.values.push(value);
  }

  get nonzeros(): number {
    return this.rows.reduce((sum, { columns }) => sum + columns.length, 0);
  }
}

interface Row {
  columns: number[];
  values: number[];
}

/** `total`, `count` and `choice` columns are whole numbers: one total, few counts, many choices. */
export type ColumnKind = 'real' | 'total' | 'count' | 'choice';
