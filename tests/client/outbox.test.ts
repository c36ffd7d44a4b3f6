import { describe, expect, it } from 'vitest';
import { Outbox, type Shelf } from '../../client/link/outbox.ts';
import { wireVersion, type Report } from '../../machines/wire/report.ts';

class MemoryShelf implements Shelf {
  readonly items = new Map<string, string>();
  /** Throws away every write from now on, as a browser that is being closed does. */
  broken = false;
  getItem = (key: string) => this.items.get(key) ?? null;
  setItem = (key: string, value: string) => {
    if (this.broken) throw new Error('no more');
    this.items.set(key, value);
  };
}

const report = (outbox: Outbox): Report => {
  const sequence = outbox.nextSequence();
  return { id: `r${sequence}`, sequence } as unknown as Report;
};

describe('the outbox of a screen', () => {
  it('sends what an older page left behind in the version of today', () => {
    const shelf = new MemoryShelf();
    shelf.setItem('anteroom.outbox.tablet-1', JSON.stringify([{ v: wireVersion - 1, id: 'r1', sequence: 1 }]));
    expect(new Outbox(shelf, 'tablet-1').reports).toEqual([{ v: wireVersion, id: 'r1', sequence: 1 }]);
  });

  it('keeps reports in the order they were made, across a reload, until they are answered', () => {
    const shelf = new MemoryShelf();
    const outbox = new Outbox(shelf, 'tablet-1');
    for (let made = 0; made < 3; made++) outbox.add(report(outbox));
    const reloaded = new Outbox(shelf, 'tablet-1');
    expect(reloaded.reports.map((one) => one.id)).toEqual(['r1', 'r2', 'r3']);
    reloaded.remove('r1');
    expect(new Outbox(shelf, 'tablet-1').reports.map((one) => one.id)).toEqual(['r2', 'r3']);
  });

  it('never uses a sequence number twice, even when the page dies between taking it and adding the report', () => {
    const shelf = new MemoryShelf();
    expect(new Outbox(shelf, 'tablet-1').nextSequence()).toBe(1);
    expect(new Outbox(shelf, 'tablet-1').nextSequence()).toBe(2);
  });

  it('takes no sequence number that it could not write down', () => {
    const shelf = new MemoryShelf();
    const outbox = new Outbox(shelf, 'tablet-1');
    outbox.nextSequence();
    shelf.broken = true;
    expect(() => outbox.nextSequence()).toThrow('no more');
    expect(shelf.items.get('anteroom.outbox.tablet-1.sequence')).toBe('1');
  });

  it('keeps the reports of different devices apart', () => {
    const shelf = new MemoryShelf();
    const one = new Outbox(shelf, 'tablet-1');
    one.add(report(one));
    expect(new Outbox(shelf, 'tablet-2').reports).toEqual([]);
    expect(new Outbox(shelf, 'tablet-2').nextSequence()).toBe(1);
  });

  it('starts empty when what is stored cannot be read', () => {
    const shelf = new MemoryShelf();
    shelf.items.set('anteroom.outbox.tablet-1', '[{"id":');
    expect(new Outbox(shelf, 'tablet-1').reports).toEqual([]);
  });
});
