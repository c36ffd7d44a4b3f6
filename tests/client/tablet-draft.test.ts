import { describe, expect, it } from 'vitest';
import { DraftShelf, type Drawer } from '../../client/observer/draft-shelf.svelte.ts';

function drawer(): Drawer & { content: Map<string, string> } {
  const content = new Map<string, string>();
  return {
    content,
    getItem: (key) => content.get(key) ?? null,
    setItem: (key, value) => void content.set(key, value),
    removeItem: (key) => void content.delete(key),
  };
}

describe('answers that are not sent yet', () => {
  it('are there again after a reload of the same tab', () => {
    const kept = drawer();
    new DraftShelf(kept).write('E7/step/3', { wetAt: 1_000 });
    expect(new DraftShelf(kept).read('E7/step/3', {})).toEqual({ wetAt: 1_000 });
  });

  it('belong to one page only: another one starts empty, and takes the drawer when it writes', () => {
    const shelf = new DraftShelf(drawer());
    shelf.write('E7/step/3', { wetAt: 1_000 });
    expect(shelf.read('E7/step/4', { wetAt: undefined })).toEqual({ wetAt: undefined });
    shelf.write('E7/step/4', { wetAt: 2_000 });
    expect(shelf.read('E7/step/3', 'nothing')).toBe('nothing');
  });

  it('leave nothing behind once they are sent', () => {
    const kept = drawer();
    const shelf = new DraftShelf(kept);
    shelf.write('E7/pre-check', { vitals: { pulsePerMin: 72 } });
    shelf.clear();
    expect([...kept.content.values()].join()).not.toContain('72');
    expect(shelf.read('E7/pre-check', 'nothing')).toBe('nothing');
  });

  it('are forgotten, and not fatal, when the drawer holds something else', () => {
    const kept = drawer();
    kept.content.set('anteroom.tablet.draft', '{"key":');
    expect(new DraftShelf(kept).read('E7/pre-check', 'nothing')).toBe('nothing');
  });
});
