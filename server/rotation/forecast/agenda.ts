/**
 * What happens next: a binary heap of (time, what) in two typed arrays. At equal times the smaller code comes first, so kinds
 * that set something free are numbered below kinds that take it, and a run never depends on the order of insertion.
 */
export class Agenda {
  /** The time of what was taken last. */
  now = 0;
  private size = 0;
  private readonly times: Float64Array;
  private readonly codes: Int32Array;

  constructor(capacity: number) {
    this.times = new Float64Array(capacity + 1);
    this.codes = new Int32Array(capacity + 1);
  }

  clear(): void {
    this.size = 0;
    this.now = 0;
  }

  add(time: number, code: number): void {
    const { times, codes } = this;
    let at = this.size;
    this.size += 1;
    while (at > 0) {
      const above = (at - 1) >> 1;
      const timeAbove = times[above]!;
      if (timeAbove < time || (timeAbove === time && codes[above]! <= code)) break;
      times[at] = timeAbove;
      codes[at] = codes[above]!;
      at = above;
    }
    times[at] = time;
    codes[at] = code;
  }

  /** The code of the earliest; −1 when nothing is left. */
  take(): number {
    if (this.size === 0) return -1;
    const { times, codes } = this;
    this.now = times[0]!;
    const code = codes[0]!;
    this.size -= 1;
    this.sink(times[this.size]!, codes[this.size]!);
    return code;
  }

  /** Puts the last into the hole at the top and lets it sink to its place. */
  private sink(time: number, code: number): void {
    const { times, codes, size } = this;
    let at = 0;
    for (;;) {
      let below = 2 * at + 1;
      if (below >= size) break;
      const [left, right] = [times[below]!, below + 1 < size ? times[below + 1]! : Infinity];
      if (right < left || (right === left && below + 1 < size && codes[below + 1]! < codes[below]!)) below += 1;
      const timeBelow = times[below]!;
      if (time < timeBelow || (time === timeBelow && code <= codes[below]!)) break;
      times[at] = timeBelow;
      codes[at] = codes[below]!;
      at = below;
    }
    times[at] = time;
    codes[at] = code;
  }
}
