import { afterEach, describe, expect, it, vi } from 'vitest';
import type { UnitId } from '../../machines/wire/ids.ts';
import { Editing } from '../../client/lead/editing.svelte.ts';

/** A text is asked about once it rests, and only what is said of the text as it stands is ever shown. */
const unit = 'small' as UnitId;

interface Asked {
  text: string;
  signal: AbortSignal;
  answer: (json: object, status?: number) => void;
  fail: () => void;
}

function setUp() {
  const waiting: (() => void)[] = [];
  const asked: Asked[] = [];
  vi.stubGlobal('fetch', (_path: string, init: { body: string; signal: AbortSignal }) => {
    return new Promise<Response>((resolve, reject) =>
      asked.push({
        text: init.body,
        signal: init.signal,
        answer: (json, status = 200) => resolve(new Response(JSON.stringify(json), { status })),
        fail: () => reject(new TypeError('no network')),
      }),
    );
  });
  const editing = new Editing(unit, (run) => {
    waiting.push(run);
    return () => void waiting.splice(waiting.indexOf(run), 1);
  });
  const rests = () => waiting.splice(0).forEach((run) => run());
  return { editing, asked, waiting, rests };
}
const settled = async () => {
  for (let turn = 0; turn < 10; turn += 1) await Promise.resolve();
};
const problem = { line: 3, column: 1, code: 'yaml/broken', sentence: 'This is not whole YAML.' };

afterEach(() => vi.unstubAllGlobals());

describe('while somebody writes', () => {
  it('nobody is asked before the text rests, and then once', async () => {
    const { editing, asked, waiting, rests } = setUp();
    for (const text of ['a', 'ab', 'abc']) editing.text = text;
    expect([asked.length, waiting.length, editing.check.what]).toEqual([0, 1, 'checking']);
    rests();
    expect(asked.map((one) => one.text)).toEqual(['abc']);
    asked[0]?.answer({ problems: [problem] });
    await vi.waitFor(() => expect(editing.check).toEqual({ what: 'problems', problems: [problem] }));
  });

  it('an answer about an older text is thrown away', async () => {
    const { editing, asked, rests } = setUp();
    editing.text = 'old';
    rests();
    editing.text = 'new';
    expect(asked[0]?.signal.aborted).toBe(true);
    asked[0]?.answer({ problems: [problem] });
    await settled();
    expect(editing.check.what).toBe('checking');
    rests();
    asked[1]?.answer({ problems: [] });
    await vi.waitFor(() => expect(editing.check).toEqual({ what: 'problems', problems: [] }));
  });

  it('putting the same text again asks nobody', () => {
    const { editing, rests, asked } = setUp();
    editing.text = 'a';
    rests();
    editing.text = 'a';
    rests();
    expect(asked.length).toBe(1);
  });
});

describe('when no answer comes', () => {
  it('the server’s own sentence is shown', async () => {
    const { editing, asked, rests } = setUp();
    editing.text = 'a';
    rests();
    asked[0]?.answer({ code: 'check/busy', sentence: 'Too many are being checked.' }, 503);
    await vi.waitFor(() => expect(editing.check).toEqual({ what: 'failed', sentence: 'Too many are being checked.' }));
  });

  it('without a network it says so', async () => {
    const { editing, asked, rests } = setUp();
    editing.text = 'a';
    rests();
    asked[0]?.fail();
    await vi.waitFor(() => expect(editing.check).toMatchObject({ what: 'failed' }));
  });
});
