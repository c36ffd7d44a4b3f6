import type { Fact } from '../../machines/wire/fact.ts';
import type { UnitId } from '../../machines/wire/ids.ts';
import { MemoryLog } from '../../server/log/memory-log.ts';
import type { AppendOutcome } from '../../server/log/log.ts';

type Mood =
  /** Appends wait until `release`. */
  | 'held'
  /** The next append fails and nothing is written. */
  | 'loses'
  /** The next append is written, and yet fails: the answer got lost. */
  | 'writes-and-fails'
  /** Nothing can be reached. */
  | 'gone';

/** A memory log whose disk can be slow, broken or away, as the test wants it. */
export class MoodyLog extends MemoryLog {
  mood: Mood | undefined;
  appends = 0;
  private waiting: (() => void)[] = [];

  override async append(unit: UnitId, expected: number, facts: readonly Fact[]): Promise<AppendOutcome> {
    this.appends += 1;
    if (this.mood === 'held') await new Promise<void>((go) => this.waiting.push(go));
    this.failWhenGone();
    if (this.mood === 'loses') this.fail();
    const outcome = await super.append(unit, expected, facts);
    if (this.mood === 'writes-and-fails') this.fail();
    return outcome;
  }

  override async read(unit: UnitId, after: number, limit: number): Promise<Fact[]> {
    this.failWhenGone();
    return super.read(unit, after, limit);
  }

  /** Lets everything that waits go on, and what comes later pass. */
  release(): void {
    this.mood = undefined;
    for (const go of this.waiting.splice(0)) go();
  }

  private fail(): never {
    this.mood = undefined;
    throw new Error('the disk failed');
  }

  private failWhenGone(): void {
    if (this.mood === 'gone') throw new Error('the log is away');
  }
}
