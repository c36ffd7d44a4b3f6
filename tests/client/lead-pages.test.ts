import { describe, expect, it } from 'vitest';
import { step, type Procedure, type Step } from '../../machines/procedure/procedure.ts';
import type { StepId } from '../../machines/wire/ids.ts';
import type { Version } from '../../client/lead/ask.ts';
import { arrivalWords, grouped } from '../../client/lead/adoption-words.ts';
import { cardOfPath, cardPath } from '../../client/lead/card-address.ts';
import { compare, inWords, placeWords } from '../../client/lead/compare.ts';
import { needsOf } from '../../client/lead/needs.ts';
import { lineSpan, placeOf, withVersion } from '../../client/lead/text-edit.ts';
import { kindsOf, timeWords } from '../../client/lead/training.ts';
import { demoProcedure } from '../support/demo-unit.ts';
import { words } from '../../client/words/words.ts';
import { smallProcedure } from '../machines/prove-fixture.ts';

/** What the lead's screen makes of versions, texts and lessons before anything is drawn. */
const changed = (change: (steps: Step[]) => Step[]): Procedure => {
  const procedure = smallProcedure();
  return { ...procedure, version: 2, steps: change(procedure.steps) };
};
const withStep = (id: string, change: Partial<Step>) =>
  changed((steps) => steps.map((step) => (step.id === id ? { ...step, ...change } : step)));

describe('comparing two versions', () => {
  const before = smallProcedure();

  it('that say the same, only under another number', () => {
    expect(compare(before, { ...before, version: 2 })).toEqual({ steps: [], outside: [] });
  });

  it('a step that is new and one that is gone', () => {
    const fresh = { ...(before.steps[3] as Step), id: 'fresh' as StepId };
    const now = changed((steps) => [
      ...steps.slice(0, 4),
      fresh,
      ...steps.slice(4).filter((one) => one.id !== 'look-body'),
    ]);
    expect(compare(before, now).steps.map(({ how, step }) => [how, step.id])).toEqual([
      ['added', 'fresh'],
      ['removed', 'look-body'],
    ]);
  });

  it('a step with other words, another order or another contact time: field by field', () => {
    const hygiene = { agent: 'hand rub', contactSeconds: 45, covers: ['hands'] };
    const now = withStep('rub-hands', { words: 'Rub longer.', after: [], hygiene });
    expect(compare(before, now).steps).toMatchObject([
      {
        how: 'changed',
        moved: false,
        fields: [
          { field: 'words', before: 'rub-hands', now: 'Rub longer.' },
          { field: 'after', before: 'look-kit', now: '' },
          { field: 'hygiene, contactSeconds', before: '30', now: '45' },
        ],
      },
    ]);
  });

  it('a step that stands elsewhere in the list', () => {
    const now = changed((steps) => {
      const [mask, outer] = [steps.find((one) => one.id === 'mask-on')!, steps.find((one) => one.id === 'outer-on')!];
      return steps.map((step) => (step.id === 'mask-on' ? outer : step.id === 'outer-on' ? mask : step));
    });
    expect(
      compare(before, now).steps.map(({ step, ...rest }) => [step.id, rest.how, 'moved' in rest && rest.moved]),
    ).toEqual(
      expect.arrayContaining([
        ['outer-on', 'changed', true],
        ['mask-on', 'changed', true],
      ]),
    );
  });

  it('items and everything else outside the steps, each by its name', () => {
    const now = { ...before, title: 'Smaller', limit: { ...before.limit, minutes: 50 } };
    now.ensemble = {
      ...before.ensemble,
      items: before.ensemble.items.map((item) => (item.id === 'mask' ? { ...item, name: 'Another mask' } : item)),
    };
    expect(compare(before, now).outside).toEqual([
      { field: 'title', before: 'Small', now: 'Smaller' },
      { field: 'ensemble, items, mask, name', before: 'mask', now: 'Another mask' },
      { field: 'limit, minutes', before: '60', now: '50' },
    ]);
  });

  it('values that are no text are said in words', () => {
    expect(inWords({ agent: 'rub', covers: ['a', 'b'] })).toBe('with what: rub; on what: a, b');
    expect(inWords(true)).toBe('yes');
    expect(inWords(undefined)).toBe('');
  });

  it('a place in the text is called as a person calls it, and a name the procedure gave stays', () => {
    expect(placeWords('hygiene, contactSeconds')).toBe('hand hygiene, contact time in seconds');
    expect(placeWords('items, rain-cape, name')).toBe('pieces, rain-cape, name');
    expect(placeWords('constructor')).toBe('constructor');
  });

  it('every field of a step has a name', () => {
    const fields = Object.keys(step.shape).filter((field) => field !== 'id');
    expect(fields.filter((field) => !Object.hasOwn(words.lead.compare.places, field))).toEqual([]);
  });
});

describe('what a step needs', () => {
  it('names the pieces and who does it', () => {
    const procedure = demoProcedure('powered-coverall');
    const step = procedure.steps.find((one) => one.by === 'assistant' && one.takesOff.length > 0)!;
    const needs = needsOf(procedure, step).join(' · ');
    expect(needs).toContain('the assistant does it');
    expect(needs).toContain(procedure.ensemble.items.find((item) => item.id === step.takesOff[0])!.name);
  });

  it('says the contact time and on what', () => {
    const { steps } = smallProcedure();
    expect(
      needsOf(
        smallProcedure(),
        steps.find((one) => one.id === 'rub-hands')!,
      ),
    ).toEqual(['after look-kit', 'hand rub, 30 s, on hands']);
  });
});

describe('the text that is being edited', () => {
  it('gets its version number into its own line, and nowhere else', () => {
    expect(withVersion('id: a\nversion: 2 # old\nx:\n  version: 7\n', 3)).toBe('id: a\nversion: 3\nx:\n  version: 7\n');
    expect(withVersion('id: a\n', 3)).toBe('version: 3\nid: a\n');
  });

  it('a line is found, and a place is told, also past the end', () => {
    expect(lineSpan('ab\ncde\nf', 2)).toEqual({ start: 3, end: 6 });
    expect(lineSpan('ab', 9)).toEqual({ start: 2, end: 2 });
    expect(placeOf('ab\ncde', 5)).toEqual({ line: 2, column: 3 });
  });
});

describe('how a version was adopted', () => {
  const version = (arrival: Version['arrival']) => ({ arrival }) as Version;
  const nameOf = (person: string) => `name of ${person}`;

  it('says who answers for it, and why, where there was no proof', () => {
    const proof = { verdict: 'not-proved', states: 3, sentence: 'The gown touches the scrubs.' } as const;
    const lines = arrivalWords(
      version({ how: 'override', by: 'p-1' as never, proof, reason: 'The ministry says so' }),
      nameOf,
    );
    expect(lines.join(' ')).toMatch(
      /by name of p-1.*without a proof.*The ministry says so.*The gown touches the scrubs\./,
    );
  });

  it('writes numbers of orders of any length', () => {
    expect(grouped('12345678901234567890123')).toBe('12,345,678,901,234,567,890,123');
    const proof = { verdict: 'proved', states: 85, orders: '19440' } as const;
    expect(arrivalWords(version({ how: 'proved', by: undefined, proof }), nameOf)).toEqual([
      'proved: 19,440 orders, 85 situations',
    ]);
  });
});

describe('the page that a printed card leads to', () => {
  it('is found again from its address', () => {
    expect(cardOfPath(cardPath('a.b:c_d-e', 12))).toEqual({ id: 'a.b:c_d-e', version: 12 });
  });
  it.each(['/', '/lead', '/procedure/a', '/procedure/a/b', '/procedure/%E0%A4%A/1', '/procedure/a/1/2'])(
    '%s is none',
    (path) => {
      expect(cardOfPath(path)).toBeUndefined();
    },
  );
});

describe('lessons in words', () => {
  it('says how many times a figure rests on', () => {
    expect(timeWords({ n: 12, median: 14.25, ninetieth: 19 })).toBe(
      'median 14.3 min, nine in ten within 19 min (n = 12)',
    );
    expect(timeWords({ n: 0, median: null, ninetieth: null })).toBe('no times yet');
  });

  it('lists kinds and people of deviations', () => {
    expect(
      kindsOf({ byKind: { 'too-short': 2 }, byActor: { observer: 2 } } as unknown as Parameters<typeof kindsOf>[0]),
    ).toBe('too short 2, observer 2');
  });
});
