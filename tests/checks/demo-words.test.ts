import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { isScalar, LineCounter, parseDocument, visit } from 'yaml';
import { deviationKinds } from '../../machines/procedure/corrective.ts';
import { demoFolder, demoUnit } from '../support/demo-unit.ts';

// What is read aloud must be short and plain, and every number must say where it comes from: common practice, no source.

const { procedures, settings } = demoUnit();
const files = ['unit.yaml', ...settings.procedures];

const wordCount = (words: string): number => words.split(/\s+/).length;
/** Two capitals in a row are read out as letters, if the listener knows them at all. */
const abbreviation = /\b[A-Z]{2,}\b|\b(?:e\.g|i\.e|min|sec|approx)\b\.?/;

const spoken = [
  ...procedures.flatMap((one) => [
    ...one.steps.map((step) => ({ where: `${one.id} ${step.id}`, words: step.words, most: 25 })),
    ...one.steps.flatMap((step) =>
      step.whenWrong ? [{ where: `${one.id} ${step.id} when wrong`, words: step.whenWrong, most: 30 }] : [],
    ),
    ...[...one.readiness, ...one.laneReadiness].map((point) => ({
      where: `${one.id} ${point.id}`,
      words: point.words,
      most: 25,
    })),
  ]),
  ...procedures.flatMap((one) =>
    (one.emergencyDoffing?.steps ?? []).map(({ words }) => ({ where: `${one.id} for helpers`, words, most: 25 })),
  ),
  ...Object.entries(settings.deviations?.steps ?? {}).flatMap(([kind, steps]) =>
    steps.map(({ words }) => ({ where: `deviation ${kind}`, words, most: 25 })),
  ),
  ...settings.breaches.flatMap((breach) =>
    [...breach.now, ...breach.then].map((words) => ({ where: breach.kind, words, most: 25 })),
  ),
];

describe('words that are read aloud', () => {
  it('are short', () => {
    expect(spoken.length).toBeGreaterThan(150);
    expect(spoken.filter((one) => wordCount(one.words) > one.most)).toEqual([]);
  });

  it('have no abbreviation and end like a sentence', () => {
    expect(spoken.filter((one) => abbreviation.test(one.words))).toEqual([]);
    expect(spoken.filter((one) => !/[.?]$/.test(one.words))).toEqual([]);
  });

  it('say whose turn it is where the assistant helps', () => {
    const byAssistant = procedures.flatMap((one) => one.steps.filter((step) => step.by === 'assistant'));
    expect(byAssistant.length).toBeGreaterThan(5);
    expect(byAssistant.filter((one) => !one.words.includes('ssistant,')).map((one) => one.id)).toEqual([]);
  });

  it('every step names its source, and every step that can be done wrong says what to do', () => {
    for (const step of procedures.flatMap((one) => one.steps)) {
      expect(step.source, step.id).toMatch(/CDC|no source|Mumma/i);
      if (step.critical || step.hygiene) expect(step.whenWrong, step.id).toBeDefined();
    }
  });
});

describe.each(files)('%s', (file) => {
  const text = readFileSync(`${demoFolder}${file}`, 'utf8');
  const lines = text.split('\n');

  it('says at every number where it comes from', () => {
    const counter = new LineCounter();
    const bare: string[] = [];
    let numbers = 0;
    visit(parseDocument(text, { lineCounter: counter }), {
      Pair: (_, { key, value }) => {
        if (!isScalar(value) || typeof value.value !== 'number' || (isScalar(key) && key.value === 'version')) return;
        numbers += 1;
        const line = lines[counter.linePos(value.range?.[0] ?? 0).line - 1] ?? '';
        if (
          !/# .*(no source|from memory|invented|DGUV|CFR|ACGIH|OSHA|responder|hospital decontamination|the same text)/.test(
            line,
          )
        )
          bare.push(line.trim());
      },
    });
    expect(numbers).toBeGreaterThan(10);
    expect(bare).toEqual([]);
  });

  it('says that it is invented', () => {
    expect(lines.slice(0, 6).join(' ')).toMatch(/invented/i);
  });
});

describe('the invented unit', () => {
  it('has the people that its procedures ask for', () => {
    const holding = (role: string) => settings.people.filter((one) => one.roles.some((held) => held === role)).length;
    expect(['worker', 'observer', 'assistant', 'coordinator', 'safety-officer', 'lead'].map(holding)).toEqual([
      12, 4, 4, 2, 2, 1,
    ]);
  });

  it('has steps for every kind of deviation, which begin with stopping, and says who decides', () => {
    const { caution, source, steps } = settings.deviations!;
    expect(Object.keys(steps).sort()).toEqual([...deviationKinds].sort());
    expect(Object.values(steps).filter((list) => !list[0]!.words.startsWith('Stop'))).toEqual([]);
    expect(caution).toMatch(/infection-prevention lead decides/);
    expect(source).toMatch(/no source/);
  });

  it('writes no name into an id', () => {
    expect(settings.people.filter((one) => !/^p-\d\d$/.test(one.id))).toEqual([]);
  });

  it('cautions that it is no adopted procedure and no medical device', () => {
    for (const { cautions, id } of procedures) {
      expect(cautions.join(' '), id).toMatch(/Not an adopted procedure/);
      expect(cautions.join(' '), id).toMatch(/not a medical device/);
    }
  });
});
