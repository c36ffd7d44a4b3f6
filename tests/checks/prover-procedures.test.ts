import { readFileSync } from 'node:fs';
import { beforeAll, describe, expect, it } from 'vitest';
import { isScalar, LineCounter, parseDocument, visit } from 'yaml';
import { assumptionNames } from '../../machines/procedure/proof-fields.ts';
import { checkFaults, type FaultResult } from '../../machines/procedure/fault-check.ts';
import { faultKinds, type FaultKind } from '../../machines/procedure/faults.ts';
import { mendOf } from '../../machines/procedure/mend.ts';
import { stepsOf } from '../../machines/procedure/order.ts';
import { phases, type Procedure, type Step } from '../../machines/procedure/procedure.ts';
import { prove, restsOn } from '../../machines/procedure/prove.ts';
import type { StepId } from '../../machines/wire/ids.ts';
import { demoUnit } from '../support/demo-unit.ts';
import { walk } from '../support/partial-order.ts';
import { shippedFile, shippedIds, shippedProcedure } from './prover-files.ts';

// What docs/procedures.md says of the five shipped procedures: which hold, what they rest on, how many orders they allow.

const documented = {
  'respirator-gown': { steps: 51, orders: 19_440n, alsoNeeds: ['rear-straps-clean'] },
  'respirator-coverall': { steps: 54, orders: 931_392n, alsoNeeds: ['rear-straps-clean'] },
  'powered-gown': { steps: 49, orders: 564_480n, alsoNeeds: [] },
  'powered-coverall': { steps: 55, orders: 2_419_200n, alsoNeeds: [] },
} as const;
const always = ['barriers-hold', 'kit-starts-clean', 'lane-starts-clean', 'steps-done-as-read'];
const provedIds = Object.keys(documented) as (keyof typeof documented)[];

describe.each(provedIds)('%s', (id) => {
  const procedure = shippedProcedure(id);

  it('is proved, for as many orders as the docs say, resting on the assumptions that they name', () => {
    const proof = prove(procedure);
    if (proof.verdict !== 'proved') throw new Error(proof.verdict);
    const { steps, orders, alsoNeeds } = documented[id];
    expect([procedure.steps.length, proof.orders]).toEqual([steps, orders]);
    const text = readFileSync(new URL('../../docs/procedures.md', import.meta.url), 'utf8');
    expect(text).toContain(`| \`${id}\` | proved | ${orders.toLocaleString('en')} | ${proof.states} |`);
    expect(restsOn(procedure, proof.assumptions)).toEqual([...always, ...alsoNeeds]);
    expect(proof.assumptions['glove-peel-clean'] || proof.assumptions['disinfected-gloves-near-face']).toBe(false);
  });

  it('is decided in less than 2 s of computing', () => {
    const before = process.cpuUsage();
    prove(procedure);
    const { user, system } = process.cpuUsage(before);
    expect((user + system) / 1e6).toBeLessThan(2);
  });
});

describe('field-gown', () => {
  const procedure = shippedProcedure('field-gown');

  it('does not hold as it is done, and the proof shows where: the tape is on the long gloves when they come off', () => {
    const proof = prove(procedure);
    if (proof.verdict !== 'not-proved') throw new Error(proof.verdict);
    const { steps, chain, rule } = proof.counterExample;
    expect(rule).toBe('inner-layer');
    expect(steps.map((step) => step.id)).toEqual(['slow-down', 'tape-off', 'long-gloves-off']);
    expect(chain.map((one) => one.surface)).toEqual(['tape', 'long-gloves', 'short-gloves']);
  });

  it('holds with the six disinfections and the one order that the docs name', () => {
    const mend = mendOf(procedure);
    expect(mend?.sentences.filter((sentence) => sentence.includes('disinfect'))).toHaveLength(6);
    expect(mend?.sentences.filter((sentence) => sentence.startsWith('Let'))).toHaveLength(1);
    expect(mend && prove(mend.procedure).verdict).toBe('proved');
  });

  it('says in its own file that it does not hold', () => {
    expect(procedure.cautions.join(' ')).toMatch(/proof does not hold/);
    expect(readFileSync(shippedFile('field-gown'), 'utf8').slice(0, 1_500)).toMatch(/does NOT hold/);
  });

  it('is nothing that the unit uses', () => {
    expect(demoUnit().procedures.map((one) => one.id)).toEqual(['respirator-gown', 'powered-coverall']);
  });
});

const checked = new Map<string, FaultResult[]>();
beforeAll(() => {
  for (const id of shippedIds) {
    const procedure = shippedProcedure(id);
    checked.set(id, checkFaults(mendOf(procedure)?.procedure ?? procedure));
  }
});

it('the faults are as many, and as many are caught, as docs/procedures.md says', () => {
  const all = [...checked.values()].flat();
  const text = readFileSync(new URL('../../docs/procedures.md', import.meta.url), 'utf8');
  expect(text).toContain(`${all.length.toLocaleString('en')} faults over the five`);
  for (const [kind, words] of Object.entries(faultKinds)) {
    const of = all.filter(({ fault }) => fault.kind === kind);
    const caught = of.filter(({ outcome }) => outcome.is === 'caught').length;
    expect(text).toContain(`| ${words} | ${of.length} | ${caught} | ${of.length - caught} |`);
  }
});

describe.each(shippedIds)('every single fault in %s', (id) => {
  let results: FaultResult[] = [];
  beforeAll(() => {
    results = checked.get(id) ?? [];
  });
  const of = (kind: FaultKind) => results.filter(({ fault }) => fault.kind === kind);

  it('is tried, of every kind, and is caught or harmless with a reason', () => {
    expect(results.length).toBeGreaterThan(150);
    for (const kind of Object.keys(faultKinds) as FaultKind[]) expect(of(kind).length, kind).toBeGreaterThan(0);
    expect(results.filter(({ outcome }) => outcome.is === 'undecided')).toEqual([]);
    for (const { outcome } of results)
      expect(outcome.is === 'harmless' ? outcome.why : 'x.', outcome.is).toMatch(/.\.$/);
  });

  it('most are caught, among them every pair of gloves left out', () => {
    const caught = results.filter(({ outcome }) => outcome.is === 'caught');
    expect(caught.length / results.length).toBeGreaterThan(0.7);
    expect(of('layer-left-out').every(({ outcome }) => outcome.is === 'caught')).toBe(true);
  });

  it('a disinfection whose absence is harmless is one of these: after it comes another, or it finds nothing to clear', () => {
    const harmless = of('hygiene-left-out').filter(({ outcome }) => outcome.is === 'harmless');
    for (const { outcome, fault } of harmless)
      expect(outcome.is === 'harmless' && outcome.why, fault.sentence).toMatch(
        /clean already|disinfected again|second barrier/,
      );
    const tooShort = of('hygiene-too-short').filter(({ outcome }) => outcome.is === 'harmless');
    expect(tooShort.flatMap(({ fault }) => fault.steps)).toEqual(harmless.flatMap(({ fault }) => fault.steps));
  });
});

// ---- the new files keep to what the others keep to ----

const spokenOf = (procedure: Procedure) => [
  ...procedure.steps.map((step) => ({ where: step.id as string, words: step.words, most: 25 })),
  ...procedure.steps.flatMap((step) =>
    step.whenWrong ? [{ where: `${step.id} when wrong`, words: step.whenWrong, most: 30 }] : [],
  ),
  ...(procedure.emergencyDoffing?.steps ?? []).map(({ words }) => ({ where: 'for helpers', words, most: 25 })),
  ...[...procedure.readiness, ...procedure.laneReadiness].map((point) => ({
    where: point.id as string,
    words: point.words,
    most: 25,
  })),
];

describe.each(shippedIds)('the file of %s', (id) => {
  const procedure = shippedProcedure(id);
  const text = readFileSync(shippedFile(id), 'utf8');

  it('is read aloud in short sentences without abbreviations', () => {
    const spoken = spokenOf(procedure);
    expect(spoken.filter((one) => one.words.split(/\s+/).length > one.most)).toEqual([]);
    expect(spoken.filter((one) => /\b[A-Z]{2,}\b|\b(?:e\.g|i\.e|min|sec|approx)\b\.?/.test(one.words))).toEqual([]);
    expect(spoken.filter((one) => !/[.?]$/.test(one.words))).toEqual([]);
  });

  it('says whose turn it is where the assistant helps', () => {
    const byAssistant = procedure.steps.filter((step) => step.by === 'assistant');
    expect(byAssistant.filter((step) => !step.words.includes('ssistant,'))).toEqual([]);
    expect(byAssistant.length > 0).toBe(procedure.doffingAssistant);
  });

  it('tells helpers to protect themselves first, to cover the hands, to cut, and to leave the breathing protection for last', () => {
    const { steps, source } = procedure.emergencyDoffing!;
    const at = (words: RegExp) => steps.findIndex((step) => words.test(step.words));
    const tight = procedure.ensemble.respirator === 'tight-fitting';
    const order = [at(/own protection first/), at(/outer gloves/), at(/cover the hands/), at(/Cut, do not pull/)];
    const last = at(tight ? /respirator comes last/ : /hood comes last/);
    expect([...order, last]).toEqual([...order, last].sort((a, b) => a - b));
    expect(order[0]).toBe(0);
    expect(steps[0]!.by).not.toBe('worker');
    // After it only hands are cleaned and people handed over: nothing else comes off.
    expect(steps.slice(last + 1).filter((step) => /\b(cut|roll|lift)\b/i.test(step.words))).toEqual([]);
    expect(steps.filter((step) => step.by === 'assistant' && !step.words.startsWith('Assistant,'))).toEqual([]);
    expect(source).toMatch(/no source; needs the unit physician/);
  });

  it('names a source for every step, and what to do where it can go wrong', () => {
    for (const step of procedure.steps) {
      expect(step.source, step.id).toMatch(/CDC|no source|Mumma/i);
      if (step.critical || step.hygiene) expect(step.whenWrong, step.id).toBeDefined();
    }
  });

  it('says at every number where it comes from, and that all is invented', () => {
    const [lines, counter] = [text.split('\n'), new LineCounter()];
    const bare: string[] = [];
    visit(parseDocument(text, { lineCounter: counter }), {
      Pair: (_, { key, value }) => {
        if (!isScalar(value) || typeof value.value !== 'number' || (isScalar(key) && key.value === 'version')) return;
        const line = lines[counter.linePos(value.range?.[0] ?? 0).line - 1] ?? '';
        if (!/# .*(no source|from memory|invented|DGUV)/.test(line)) bare.push(line.trim());
      },
    });
    expect(bare).toEqual([]);
    expect(lines.slice(0, 8).join(' ')).toMatch(/invented/i);
    expect(procedure.cautions.join(' ')).toMatch(/Not an adopted procedure.*not a medical device/s);
  });

  it('lists its steps in an allowed order, with `after` inside a phase', () => {
    for (const phase of phases) {
      const listed = stepsOf(procedure, phase).map((step) => step.id);
      expect(walk(procedure, phase, (open) => open[0])).toEqual(listed);
      for (const step of stepsOf(procedure, phase))
        expect(step.after.filter((before) => !listed.includes(before))).toEqual([]);
    }
  });

  it('keeps the contact times inside the expected doffing time, and the limit above it', () => {
    const seconds = stepsOf(procedure, 'doffing').reduce((sum, step) => sum + (step.hygiene?.contactSeconds ?? 0), 0);
    expect(seconds / 60).toBeLessThan(procedure.expected.doffingMinutes);
    expect(procedure.limit.minutes).toBeGreaterThan(procedure.expected.doffingMinutes);
  });

  it('has one stream for waste', () => {
    const waste = stepsOf(procedure, 'doffing').flatMap((step) =>
      step.goesTo && !step.goesTo.includes('decontamination') ? [step.goesTo] : [],
    );
    expect(new Set(waste).size).toBe(1);
  });
});

describe('the place of the boot covers is for the unit to decide', () => {
  /** Off before apron and outer gloves, in the way of 2014, on the chair that is named. */
  function early(chair: string): Procedure {
    const procedure = shippedProcedure('respirator-gown');
    const id = (name: string) => procedure.steps.find((step) => step.id === name)?.id as StepId;
    const fields: Record<string, Partial<Step>> = {
      'boot-covers-off': { after: [id('arrive-look'), id('rub-outer-first')], sitsOn: chair },
      'apron-off': { after: [id('boot-covers-off')] },
      'rub-inner-after-boots': { after: [id('rub-inner-after-gown')] },
    };
    return { ...procedure, steps: procedure.steps.map((step) => ({ ...step, ...fields[step.id] })) };
  }

  it('before the gown it needs a second, dirty chair', () => {
    expect(prove(early('dirty-chair')).verdict).toBe('proved');
  });

  it('because the gown would soil the clean one', () => {
    const proof = prove(early('chair'));
    if (proof.verdict !== 'not-proved') throw new Error(proof.verdict);
    expect(proof.counterExample.chain.map((one) => one.surface)).toEqual(['gown', 'chair']);
  });
});

it('assumes nothing that it does not name: without its list no shipped procedure is proved', () => {
  for (const id of shippedIds) {
    const { assumptions: _, ...bare } = shippedProcedure(id);
    expect(prove(bare).verdict, id).toBe('not-proved');
  }
  expect(assumptionNames.length).toBe(8);
});
