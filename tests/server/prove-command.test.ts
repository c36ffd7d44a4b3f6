import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Command, CommanderError } from 'commander';
import { describe, expect, it } from 'vitest';
import { assumptionNames } from '../../machines/procedure/proof-fields.ts';
import { addProve, proveFile, type ProveFlags } from '../../server/cli/prove.ts';
import { StartError } from '../../server/start-error.ts';
import { parseProcedure } from '../../server/unit/load-procedure.ts';
import { shippedFile } from '../checks/prover-files.ts';
import { temporaryDirectories } from '../contracts/temporary-directory.ts';
import { anteroom } from '../support/anteroom-process.ts';

const temporary = temporaryDirectories();
const gown = shippedFile('respirator-gown');
const field = shippedFile('field-gown');
const gownText = readFileSync(gown, 'utf8');

function fileOf(text: string | Buffer): string {
  const path = join(temporary(), 'procedure.yaml');
  writeFileSync(path, text);
  return path;
}

/** One text in place of another, which must be there. */
function spoiled(from: string, to: string): string {
  expect(gownText, from).toContain(from);
  return gownText.replace(from, () => to);
}

const lineOf = (text: string): number => gownText.slice(0, gownText.indexOf(text)).split('\n').length;
const asked = (file: string, flags: Partial<ProveFlags> = {}) => proveFile(file, { assume: {}, ...flags });

/** The one message that a file which cannot be put to the proof is answered with. */
function messageFor(file: string): string {
  try {
    asked(file);
  } catch (error) {
    expect(error).toBeInstanceOf(StartError);
    const { message } = error as StartError;
    expect(message).not.toContain('\n');
    expect(message.length).toBeLessThan(700);
    return message;
  }
  throw new Error('it was accepted');
}

const jsonOf = (output: string) => JSON.parse(output) as Record<string, unknown>;

describe('a procedure that holds', () => {
  it('is PROVED with its numbers and every assumption explained', () => {
    const { exitCode, output } = asked(gown);
    expect(exitCode).toBe(0);
    expect(output).toMatch(/^PROVED: 19,440 orders, \d+ states\. No order breaks a rule\.$/m);
    expect(output).toMatch(/^ {2}doffing +29 +36 +\d+$/m);
    expect(output).toMatch(/It rests on these assumptions:\n {2}barriers-hold +Nothing that is worn tears/);
    expect(output).toMatch(/Not assumed:\n.*glove-peel-clean/);
    for (const name of assumptionNames) expect(output).toContain(name);
    expect(output).toContain('not a medical device');
  });

  it('as JSON has the same, orders as text because they can be huge', () => {
    const { exitCode, output } = asked(gown, { json: true });
    expect(exitCode).toBe(0);
    expect(jsonOf(output)).toMatchObject({
      procedure: { id: 'respirator-gown', version: 3 },
      verdict: 'proved',
      orders: '19440',
      phases: [{ phase: 'donning', steps: 17, orders: '180' }, { phase: 'exit' }, { phase: 'doffing', orders: '36' }],
      restsOn: ['barriers-hold', 'kit-starts-clean', 'lane-starts-clean', 'steps-done-as-read', 'rear-straps-clean'],
    });
  });

  it('does not hold when an assumption that it rests on is taken away, and says by which way', () => {
    const { exitCode, output } = asked(gown, { assume: { 'rear-straps-clean': false } });
    expect(exitCode).toBe(1);
    expect(output).toMatch(/^NOT PROVED: .*\(rule: [a-z-]+\)$/m);
    expect(output).toMatch(/^ {2}\d+\. +hood-off +Close your eyes/m);
  });

  it('is tried with every single fault', () => {
    const { exitCode, output } = asked(gown, { faults: true });
    expect(exitCode).toBe(0);
    expect(output).toMatch(/^ +faults +caught +harmless +not decided$/m);
    const [, faults, caught, harmless] = /^ {2}all +(\d+) +(\d+) +(\d+) +0$/m.exec(output) ?? [];
    expect(Number(caught) + Number(harmless)).toBe(Number(faults));
    expect(Number(caught)).toBeGreaterThan(140);
    expect(output).toMatch(/^ {2}"rub-hands-last": hands not disinfected: .*disinfected again/m);
    const { faults: listed } = jsonOf(asked(gown, { faults: true, json: true }).output) as { faults: { is: string }[] };
    expect(listed).toHaveLength(Number(faults));
    expect(listed.filter((one) => one.is === 'caught')).toHaveLength(Number(caught));
  });
});

describe('a procedure that does not hold', () => {
  it('is shown with the shortest order, the chain of surfaces, and what mends it', () => {
    const { exitCode, output } = asked(field);
    expect(exitCode).toBe(1);
    expect(output).toMatch(/^NOT PROVED: "short gloves" is relied on as clean/m);
    expect(output).toMatch(/in 3 steps, from in the lane/);
    expect(output).toMatch(
      /the tape \(outside\) +contaminated from the start\n +→ +the long gloves \(outside\) +in "tape-off"\n +→ +the short gloves \(outside\) +in "long-gloves-off"/,
    );
    expect(output).toMatch(/Changes that mend it; none of them can be left out:\n( {2}- .+\n){7}/);
  });

  it('as JSON too; the faults are then those of the mended one', () => {
    const { exitCode, output } = asked(field, { json: true, faults: true });
    expect(exitCode).toBe(1);
    const answer = jsonOf(output) as {
      counterExample: { chain: { surface: string }[] };
      mend: string[];
      faults: unknown[];
    };
    expect(answer.counterExample.chain.map((one) => one.surface)).toEqual(['tape', 'long-gloves', 'short-gloves']);
    expect(answer.mend).toHaveLength(7);
    expect(answer.faults.length).toBeGreaterThan(150);
  });

  it('with one hole is mended by one change', () => {
    const file = fileOf(spoiled('after: [apron-look, rub-outer-again]', 'after: [apron-look]'));
    expect(asked(file).output).toContain(
      'The smallest change that mends it:\n  - Let "outer-gloves-off" come after "rub-outer-again".',
    );
  });
});

describe('--assume', () => {
  function program(): Command {
    const anteroomProgram = new Command().exitOverride().configureOutput({ writeErr: () => undefined });
    addProve(anteroomProgram);
    for (const command of anteroomProgram.commands)
      command.exitOverride().configureOutput({ writeErr: () => undefined });
    return anteroomProgram;
  }

  it.each([
    'rear-straps-clean',
    'rear-straps-clean=maybe',
    'rear-straps=true',
    '=true',
    'toString=true',
    'barriers-hold=TRUE',
  ])('refuses %s and names what there is', (text) => {
    const parse = () => program().parse(['prove', gown, '--assume', text], { from: 'user' });
    expect(parse).toThrow(CommanderError);
    expect(parse).toThrow(/glove-peel-clean/);
  });
});

describe('the program', () => {
  it('ends with 0, 1 and 2', async () => {
    const [proved, notProved, missing, usage, twice] = await Promise.all([
      anteroom('prove', gown, '--assume', 'glove-peel-clean=true', '--assume', 'covered-parts-clean=true', '--json'),
      anteroom('prove', field),
      anteroom('prove', '/nowhere/procedure.yaml'),
      anteroom('prove', gown, '--assume', 'nonsense=true'),
      anteroom('prove'),
    ]);
    expect([proved.code, notProved.code, missing.code, usage.code, twice.code]).toEqual([0, 1, 1, 2, 2]);
    expect(jsonOf(proved.stdout)).toMatchObject({
      assumptions: { 'glove-peel-clean': true, 'covered-parts-clean': true },
    });
    expect([proved.stderr, notProved.stderr]).toEqual(['', '']);
    expect(missing.stderr).toBe('anteroom: /nowhere/procedure.yaml: There is no such file.\n');
    expect(usage.stderr).toMatch(/^anteroom: .*nonsense=true.*\n$/);
  });
});

describe('a bad file', () => {
  it.each([
    [
      'a file cut off in a step',
      gownText.slice(0, gownText.indexOf('    goesTo: waste container')),
      /procedure\.yaml:\d+:\d+: .+/,
    ],
    ['a quote that never closes', 'id: "respirator\nversion: 1\n', /procedure\.yaml:\d+:\d+: This is not whole YAML/],
    ['a list that never closes', 'steps: [\n', /procedure\.yaml:\d+:\d+: This is not whole YAML/],
    ['nothing', '', /procedure\.yaml:1: The file is empty/],
    ['a word', 'procedure\n', /procedure\.yaml:1:1: .+/],
    ['brackets without end', '['.repeat(100_000), /procedure\.yaml:\d+:\d+: This is not whole YAML/],
    ['an anchor', spoiled('id: respirator-gown', 'id: &a respirator-gown'), /Anchors and aliases/],
  ])('%s is answered with one message and its place', (_, text, message) => {
    expect(messageFor(fileOf(text))).toMatch(message);
  });

  it.each([
    ['two steps with one id', '- id: hood-on', '- id: gown-on', 'Two steps are called "gown-on"', '- id: hood-on'],
    [
      'a circle',
      'after: [stop-word, look-over-kit]',
      'after: [look-over-kit, inner-gloves-on]',
      'These steps wait for each other and can never start: rub-hands-first, inner-gloves-on.',
      '- id: rub-hands-first',
    ],
    [
      'an unknown step',
      'after: [seal-check, gown-on]',
      'after: [seal-chek, gown-on]',
      '"seal-chek", which no step is called',
      '- id: hood-on',
    ],
    ['an unknown item', 'putsOn: [apron]', 'putsOn: [aprn]', '"aprn", which is not in the ensemble', '- id: apron-on'],
    [
      'an unknown thing touched',
      'touches: [boot-covers, shoes]',
      'touches: [boots, shoes]',
      'touches "boots"',
      'touches: [boot-covers, shoes]',
    ],
    [
      'an item that is never removed',
      'takesOff: [apron]',
      'takesOff: []',
      '"apron" is put on and never taken off',
      'putsOn: [apron]',
    ],
    [
      'an item that is removed twice',
      'takesOff: [face-shield]',
      'takesOff: [face-shield, hood]',
      '"hood" is taken off more often',
      'takesOff: [hood]',
    ],
    [
      'a verifier who is nobody',
      'takesOff: [hood]',
      'verifiedBy: nobody\n    takesOff: [hood]',
      'steps, hood-off, verifiedBy',
      'takesOff: [hood]',
    ],
    [
      'an unknown assumption',
      'rear-straps-clean: true\n',
      'rear-straps-clean: true\n  luck: true\n',
      '"luck" is not known here',
      '',
    ],
    [
      'an unknown part',
      'touchesAt: { hood: [back] }',
      'touchesAt: { hood: [neck] }',
      '"hood" has no part "neck"',
      'touchesAt: { hood: [back] }',
    ],
    [
      'a layer over something unknown',
      'over: [hood]\n      parts',
      'over: [helmet]\n      parts',
      'The layer of "face-shield" names "helmet"',
      '- item: face-shield',
    ],
    [
      'layers in a circle',
      'covers: [scrubs], over: [inner-gloves]',
      'covers: [scrubs], over: [outer-gloves]',
      'lie over each other in a circle: gown, outer-gloves',
      '- { item: gown',
    ],
    [
      'an agent that is not described',
      'agent: soap and water',
      'agent: holy water',
      '"holy water", which `agents` does not describe',
      'hygiene:\n      agent: soap and water',
    ],
    [
      'a place that is not described',
      'goesTo: waste container',
      'goesTo: the corner',
      '"the corner", which `places` does not describe',
      'goesTo: waste container',
    ],
    [
      'something that goes nowhere',
      '    goesTo: waste container\n',
      '',
      'does not say where it goes',
      'takesOff: [apron]',
    ],
    [
      'nobody who watches',
      'engages: [observer]\n    source: CDC PPE training 2014, powered',
      'source: CDC PPE training 2014, powered',
      'No doffing step engages the observer',
      'steps:\n',
    ],
    [
      'no door',
      'entersLane: true',
      'entersLane: false',
      'No exit step says that the worker enters the lane',
      'steps:\n',
    ],
    [
      'no layers told',
      '- { item: fresh-gloves, wornOn: hands, covers: [hands] }',
      '- { item: apron, wornOn: body, covers: [gown] }',
      'must be told how "fresh-gloves" lies',
      '- { id: fresh-gloves',
    ],
  ])('%s is named at its line', (_, from, to, says, at) => {
    const message = messageFor(fileOf(spoiled(from, to)));
    expect(message).toContain(says);
    if (at) expect(Number(/procedure\.yaml:(\d+)/.exec(message)?.[1]), message).toBeGreaterThanOrEqual(lineOf(at));
    if (at) expect(Number(/procedure\.yaml:(\d+)/.exec(message)?.[1]), message).toBeLessThanOrEqual(lineOf(at) + 2);
  });

  it('an item put on a second time is named where it is: a second pair has a name of its own', () => {
    const twice = spoiled('putsOn: [fresh-gloves]', 'putsOn: [inner-gloves]').replace(
      'takesOff: [fresh-gloves]',
      'takesOff: [inner-gloves]',
    );
    const message = messageFor(fileOf(twice));
    expect(message).toContain('"inner-gloves" is put on a second time');
    expect(message).toContain(`procedure.yaml:${lineOf('putsOn: [fresh-gloves]')}:`);
  });

  it('with 5,000 steps, wherever they come from, is refused soon', () => {
    const many = (count: number) =>
      gownText.replace(
        /^emergencyDoffing:/m,
        (next) =>
          `${Array.from({ length: count }, (_, index) => `  - { id: s${index}, phase: doffing, words: x }\n`).join('')}${next}`,
      );
    const before = process.cpuUsage();
    expect(messageFor(fileOf(many(5_000)))).toMatch(
      /procedure\.yaml:\d+:\d+: steps: .*400|procedure\.yaml: The file has \d+ bytes/,
    );
    expect(messageFor(fileOf(many(4_000)))).toMatch(/procedure\.yaml:\d+:\d+: steps: .*400/);
    const { user } = process.cpuUsage(before);
    expect(user / 1e6).toBeLessThan(5);
  });

  it('with huge strings is refused without repeating them', () => {
    const huge = 'x'.repeat(200_000);
    for (const [from, to] of [
      ['id: hood-on', `id: ${huge}`],
      ['title: Respirator, hood, shield and gown', `title: ${huge}`],
      ['words: Undo the apron', `words: ${huge}`],
      ['after: [seal-check, gown-on]', `after: [${huge}]`],
      ['covers: [head]', `covers: [${huge}]`],
      ['rear-straps-clean: true\n', `${huge}: true\n`],
    ] as const)
      expect(messageFor(fileOf(spoiled(from, to)))).toMatch(/procedure\.yaml:\d+:\d+: /);
    expect(messageFor(fileOf(`# ${'x'.repeat(300_000)}\n`))).toMatch(/procedure\.yaml: The file has \d+ bytes/);
  });

  it('that is no text, or no file, is said so', () => {
    expect(messageFor(fileOf(Buffer.from([0x69, 0xff, 0xfe])))).toMatch(/not UTF-8/);
    expect(messageFor(temporary())).toMatch(/not a file/);
  });

  it('as JSON lists its problems with their lines', () => {
    const { exitCode, output } = asked(fileOf(spoiled('- id: hood-on', '- id: gown-on')), { json: true });
    expect(exitCode).toBe(1);
    const { verdict, problems } = jsonOf(output) as { verdict: string; problems: { line: number; code: string }[] };
    expect([verdict, problems[0]?.code]).toEqual(['bad-file', 'procedure/duplicate-step']);
    expect(problems[0]?.line).toBe(lineOf('- id: hood-on'));
  });

  it('cut off anywhere never holds and never throws', () => {
    for (let length = 0; length < gownText.indexOf('cautions:'); length += 997) {
      const outcome = parseProcedure('cut.yaml', gownText.slice(0, length));
      expect(outcome.ok, `cut at ${length}`).toBe(false);
      if (!outcome.ok)
        for (const problem of outcome.problems) expect(problem.line, problem.sentence).toBeGreaterThan(0);
    }
  });
});
