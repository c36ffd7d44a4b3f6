import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { factData } from '../../machines/wire/fact.ts';
import { dayOf, loadUnit, type LoadOutcome } from '../../server/unit/load-unit.ts';
import { demoFolder, demoUnit } from '../support/demo-unit.ts';

const openedOn = '2026-03-02';
const folders: string[] = [];
afterEach(() => {
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true });
});

/** A copy of the shipped unit that a test may spoil. */
function copy(): string {
  const folder = mkdtempSync(join(tmpdir(), 'anteroom-unit-'));
  folders.push(folder);
  cpSync(join(demoFolder, 'unit.yaml'), join(folder, 'unit.yaml'));
  cpSync(join(demoFolder, 'procedures'), join(folder, 'procedures'), { recursive: true });
  return folder;
}

const gownFile = 'procedures/respirator-gown.yaml';
const loadFrom = (folder: string): LoadOutcome => loadUnit(join(folder, 'unit.yaml'), { openedOn });

/** Puts one text in place of another, which must be there. */
function spoil(folder: string, file: string, from: string, to: string): void {
  const text = readFileSync(join(folder, file), 'utf8');
  expect(text, `"${from}" in ${file}`).toContain(from);
  writeFileSync(
    join(folder, file),
    text.replace(from, () => to),
  );
}

function spoiled(file: string, from: string, to: string): LoadOutcome {
  const folder = copy();
  spoil(folder, file, from, to);
  return loadFrom(folder);
}

const lineOf = (file: string, text: string): number =>
  readFileSync(join(demoFolder, file), 'utf8').slice(0, positionOf(file, text)).split('\n').length;
function positionOf(file: string, text: string): number {
  const position = readFileSync(join(demoFolder, file), 'utf8').indexOf(text);
  expect(position, `"${text}" in ${file}`).toBeGreaterThanOrEqual(0);
  return position;
}

const problemsOf = (outcome: LoadOutcome) => (outcome.ok ? [] : outcome.problems);
const codesOf = (outcome: LoadOutcome) => problemsOf(outcome).map((one) => one.code);

describe('the shipped unit', () => {
  const unit = demoUnit(openedOn);

  it('loads, and its opening is a fact that the log accepts', () => {
    expect(factData['unit-opened'].safeParse(unit.opening).error).toBeUndefined();
    expect(unit.opening.procedures.map((one) => one.id)).toEqual(['respirator-gown', 'powered-coverall']);
  });

  it('keeps names out of the opening, and has one for everybody', () => {
    const written = JSON.stringify(unit.opening);
    for (const { id, name } of unit.settings.people) {
      expect(unit.names[id]).toBe(name);
      expect(written).not.toContain(name);
    }
    expect(unit.opening.roster.map((one) => one.id)).toEqual(unit.settings.people.map((one) => one.id));
  });

  it('has no people and no file names among the rules', () => {
    expect(unit.opening.rules).not.toHaveProperty('people');
    expect(unit.opening.rules).not.toHaveProperty('procedures');
    expect(unit.opening.rules.rest).toEqual(unit.settings.rest);
  });

  it('counts days back from the opening, whichever day that is', () => {
    for (const day of ['2024-02-29', '2026-03-02', '2031-12-31']) {
      const { roster, rules } = demoUnit(day).opening;
      const overdue = roster.filter(
        ({ fitTestOn }) => fitTestOn && daysBetween(fitTestOn, day) > rules.qualification.fitTestDays,
      );
      expect(overdue.map((one) => one.id)).toEqual(['p-07']);
      const workers = roster.filter((one) => one.roles.includes('worker'));
      const untrained = workers.filter((one) => !Object.hasOwn(one.competencyOn, 'powered-coverall'));
      expect(untrained.map((one) => one.id)).toEqual(['p-08']);
      const stale = roster
        .flatMap((one) => Object.values(one.competencyOn))
        .filter((on) => on && daysBetween(on, day) > rules.qualification.competencyDays);
      expect(stale).toEqual([]);
    }
  });
});

const daysBetween = (from: string, to: string): number => (Date.parse(to) - Date.parse(from)) / 86_400_000;

describe('dayOf', () => {
  it.each([
    [{ daysAgo: 0 }, '2026-03-02', '2026-03-02'],
    [{ daysAgo: 2 }, '2026-03-02', '2026-02-28'],
    [{ daysAgo: 1 }, '2024-03-01', '2024-02-29'],
    [{ daysAgo: 365 }, '2026-01-01', '2025-01-01'],
    [{ on: '2025-05-06' }, '2026-03-02', '2025-05-06'],
  ] as const)('%j on %s is %s', (day, opened, expected) => expect(dayOf(day, opened)).toBe(expected));

  it('a day of opening that is no day is a mistake of the caller', () => {
    for (const day of ['', '2026-13-01', '2026-02-30', '2 March', '2026-03-02T10:00:00Z'])
      expect(() => loadUnit(join(demoFolder, 'unit.yaml'), { openedOn: day })).toThrow('YYYY-MM-DD');
  });
});

describe('files', () => {
  it('a unit file that is not there, or a folder, is a problem and no crash', () => {
    expect(codesOf(loadUnit('/nowhere/unit.yaml', { openedOn }))).toEqual(['file/not-found']);
    expect(codesOf(loadUnit(demoFolder, { openedOn }))).toEqual(['file/not-readable']);
  });

  it('a procedure that is not there is named by its file', () => {
    const problems = problemsOf(spoiled('unit.yaml', gownFile, 'procedures/gone.yaml'));
    expect(problems.map((one) => one.code)).toEqual(['file/not-found']);
    expect(problems[0]?.file).toMatch(/procedures\/gone\.yaml$/);
  });

  it.each(['../respirator-gown.yaml', 'procedures/../../respirator-gown.yaml', '/etc/hosts.yaml'])(
    '%s is outside the folder',
    (path) => {
      const [problem, ...others] = problemsOf(spoiled('unit.yaml', gownFile, path));
      expect(others).toEqual([]);
      expect([problem?.code, problem?.line]).toEqual(['unit/outside-folder', lineOf('unit.yaml', gownFile)]);
    },
  );

  it('a link can’t lead out of the folder, neither as a file nor as a folder', () => {
    const folder = copy();
    symlinkSync(join(demoFolder, gownFile), join(folder, 'linked.yaml'));
    spoil(folder, 'unit.yaml', gownFile, 'linked.yaml');
    expect(codesOf(loadFrom(folder))).toEqual(['unit/outside-folder']);

    const other = copy();
    symlinkSync(join(demoFolder, 'procedures'), join(other, 'linked'));
    spoil(other, 'unit.yaml', gownFile, 'linked/respirator-gown.yaml');
    expect(codesOf(loadFrom(other))).toEqual(['unit/outside-folder']);
  });

  it('a folder below the unit file, and a unit file reached through a link, are fine', () => {
    const folder = copy();
    const linked = join(folder, 'through');
    symlinkSync(folder, linked);
    expect(loadFrom(linked).ok).toBe(true);
    mkdirSync(join(folder, 'procedures', 'own'));
    cpSync(join(folder, gownFile), join(folder, 'procedures/own/gown.yml'));
    spoil(folder, 'unit.yaml', gownFile, 'procedures/own/gown.yml');
    expect(loadFrom(folder).ok).toBe(true);
  });

  it('a file above 256 KB is not read', () => {
    const folder = copy();
    writeFileSync(join(folder, gownFile), `# ${'x'.repeat(256 * 1024)}\n`);
    expect(codesOf(loadFrom(folder))).toEqual(['file/too-large']);
  });

  it('a file that is not UTF-8 is refused, not guessed at', () => {
    const folder = copy();
    writeFileSync(join(folder, gownFile), Buffer.from([0x69, 0x64, 0x3a, 0x20, 0xff, 0xfe, 0x0a]));
    expect(codesOf(loadFrom(folder))).toEqual(['file/not-text']);
  });
});

describe('YAML', () => {
  it('anchors and aliases are refused before anything is expanded', () => {
    const bomb = [
      'a: &a [x,x,x,x,x,x,x,x,x]',
      ...'bcdefghij'.split('').map((name, index) => `${name}: &${name} [${`*${'abcdefghij'[index]},`.repeat(9)}]`),
    ];
    const folder = copy();
    writeFileSync(join(folder, 'unit.yaml'), bomb.join('\n'));
    const problems = problemsOf(loadFrom(folder));
    expect(new Set(problems.map((one) => one.code))).toEqual(new Set(['yaml/anchor']));
    expect(problems[0]?.line).toBe(1);
    expect(codesOf(spoiled('unit.yaml', 'name: Drill unit', 'name: &n Drill unit'))).toEqual(['yaml/anchor']);
  });

  it.each([
    ['nested beyond reason', '['.repeat(100_000), 'yaml/broken'],
    ['a quote that never closes', 'id: "drill\nname: Drill', 'yaml/broken'],
    ['a list that never closes', 'rooms: [1, 2\nname: Drill', 'yaml/broken'],
    ['a tab as indent', 'rooms:\n\t- a', 'yaml/broken'],
    ['two documents', 'id: drill\n---\nid: other\n', 'yaml/broken'],
    ['a key twice', 'id: drill\nid: other\n', 'yaml/broken'],
    ['a tag of a programming language', 'id: !!js/function "x"', 'yaml/broken'],
    ['nothing', '', 'yaml/empty'],
    ['only a remark', '# to be written\n', 'yaml/empty'],
  ])('%s is refused', (_, text, code) => {
    const folder = copy();
    writeFileSync(join(folder, 'unit.yaml'), text);
    const problems = problemsOf(loadFrom(folder));
    expect(problems[0]?.code).toBe(code);
    expect(problems[0]?.line).toBeGreaterThanOrEqual(1);
  });

  it('a list, a word or a number in place of the unit is refused', () => {
    for (const text of ['- a\n', 'drill\n', '7\n', '{}\n']) {
      const folder = copy();
      writeFileSync(join(folder, 'unit.yaml'), text);
      expect(problemsOf(loadFrom(folder)).length).toBeGreaterThan(0);
    }
  });

  it('a file cut off anywhere before its last section never opens a unit and never throws', () => {
    const whole = readFileSync(join(demoFolder, 'unit.yaml'), 'utf8');
    const folder = copy();
    const last = whole.indexOf('\nbreaches:');
    for (let length = 0; length < last; length += 211) {
      writeFileSync(join(folder, 'unit.yaml'), whole.slice(0, length));
      const problems = problemsOf(loadFrom(folder));
      expect(problems.length, `cut at ${length}`).toBeGreaterThan(0);
      for (const { code, sentence, line } of problems)
        expect([code.includes('/'), sentence !== '', (line ?? 0) > 0]).toEqual([true, true, true]);
    }
  });

  it('a procedure cut off in its steps never opens a unit: what was put on would never come off', () => {
    const whole = readFileSync(join(demoFolder, gownFile), 'utf8');
    const folder = copy();
    for (let length = whole.indexOf('\nsteps:'); length < whole.indexOf('\ncautions:'); length += 1_499) {
      writeFileSync(join(folder, gownFile), whole.slice(0, length));
      expect(loadFrom(folder).ok, `cut at ${length}`).toBe(false);
    }
  });
});

describe('shape', () => {
  const unitCases: [string, string, string, string, RegExp][] = [
    [
      'an unknown key',
      'turnoverMinutes: 12',
      'turnoverMinutes: 12, speed: 3',
      'schema/unknown-key',
      /lanes, lane-1: "speed"/,
    ],
    [
      'a misspelt key',
      'whileGuidingSeconds: 10',
      'whileGuidingSecond: 10',
      'schema/unknown-key',
      /"whileGuidingSecond"/,
    ],
    [
      'a value below its least',
      'marginMinutes: 5',
      'marginMinutes: -5',
      'schema/wrong-value',
      /callOut, marginMinutes/,
    ],
    ['a word for a number', 'warnBeforeMinutes: 10', 'warnBeforeMinutes: ten', 'schema/wrong-value', /expected number/],
    [
      'an unknown role',
      'roles: [lead, safety-officer]',
      'roles: [lead, boss]',
      'schema/wrong-value',
      /people, p-19, roles/,
    ],
    ['an id with a space', 'id: room-1', 'id: room 1', 'schema/wrong-value', /room id/],
    [
      'a date that is none',
      'fitTest: { daysAgo: 120 }',
      'fitTest: { on: 2026-02-30 }',
      'schema/wrong-value',
      /people, p-01, fitTest/,
    ],
    ['bounds upside down', 'low: 36.1', 'low: 39', 'schema/wrong-value', /low must be below high/],
    [
      'a timetable that runs backwards',
      'safetyOfficerAfterSeconds: 60',
      'safetyOfficerAfterSeconds: 5',
      'schema/wrong-value',
      /backwards/,
    ],
  ];
  it.each(unitCases)('%s in unit.yaml is shown at its line', (_, from, to, code, says) => {
    const problems = problemsOf(spoiled('unit.yaml', from, to));
    const found = problems.find((one) => one.code === code && says.test(one.sentence));
    expect(found, JSON.stringify(problems)).toBeDefined();
    const line = lineOf('unit.yaml', from);
    // A rule about a whole section (bounds, a timetable) is shown at the head of the section.
    expect(found?.line).toBeLessThanOrEqual(line);
    expect(found?.line).toBeGreaterThanOrEqual(line - 3);
    expect(found?.column).toBeGreaterThanOrEqual(1);
  });

  it('a key that is missing is named, at the thing it is missing from', () => {
    const [problem, ...others] = problemsOf(spoiled('unit.yaml', '    name: Dunja\n', ''));
    expect(others).toEqual([]);
    expect([problem?.code, problem?.line]).toEqual(['schema/missing', lineOf('unit.yaml', '- id: p-04')]);
    expect(problem?.sentence).toBe('people, p-04, name: this is missing.');
  });

  it('a procedure is checked as strictly, and every problem of a file is told at once', () => {
    const folder = copy();
    spoil(folder, gownFile, 'after: [rub-hands-first]', 'after: rub-hands-first');
    spoil(folder, gownFile, 'critical: true', 'important: true');
    const problems = problemsOf(loadFrom(folder));
    expect(problems.map((one) => [one.code, one.line])).toEqual(
      expect.arrayContaining([
        ['schema/wrong-value', lineOf(gownFile, 'after: [rub-hands-first]')],
        ['schema/unknown-key', lineOf(gownFile, 'critical: true')],
      ]),
    );
    expect(problems.every((one) => one.file.endsWith(gownFile))).toBe(true);
  });

  it('a key that names the innards of an object is an unknown key', () => {
    expect(codesOf(spoiled('unit.yaml', 'name: Drill unit', '__proto__: { a: 1 }\nname: Drill unit'))).toEqual([
      'schema/unknown-key',
    ]);
  });
});

describe('what a shape cannot say', () => {
  it.each([
    ['rooms', 'id: room-2', 'id: room-1', 'unit/duplicate-id'],
    ['lanes', 'id: lane-2', 'id: lane-1', 'unit/duplicate-id'],
    ['people', 'id: p-12', 'id: p-11', 'unit/duplicate-id'],
    ['breach kinds', 'kind: splash-on-skin', 'kind: splash-on-shield', 'unit/duplicate-id'],
    ['names of people', 'name: Lior', 'name: Katla', 'unit/same-name'],
    ['names of lanes', 'name: Lane 2', 'name: Lane 1', 'unit/same-name'],
  ])('two of the same among the %s', (_, from, to, code) => {
    const problems = problemsOf(spoiled('unit.yaml', from, to));
    expect(problems.map((one) => [one.code, one.line])).toEqual([[code, lineOf('unit.yaml', from)]]);
  });

  it('two files with the same procedure', () => {
    const folder = copy();
    cpSync(join(folder, gownFile), join(folder, 'procedures/again.yaml'));
    spoil(
      folder,
      'unit.yaml',
      '  - procedures/powered-coverall.yaml',
      '  - procedures/powered-coverall.yaml\n  - procedures/again.yaml',
    );
    const problems = problemsOf(loadFrom(folder));
    expect(problems.map((one) => [one.code, one.line])).toEqual([
      ['unit/duplicate-id', lineOf('unit.yaml', '  - procedures/powered-coverall.yaml') + 1],
    ]);
  });

  it('a competency in a procedure that is not there, at its line', () => {
    const problems = problemsOf(
      spoiled('unit.yaml', 'powered-coverall: { daysAgo: 34 }', 'powered-suit: { daysAgo: 34 }'),
    );
    expect(problems.map((one) => [one.code, one.line])).toEqual([
      ['unit/unknown-procedure', lineOf('unit.yaml', 'powered-coverall: { daysAgo: 34 }')],
    ]);
  });

  it("a clothing adjustment that the unit's table does not have, at its line; without a heat section nobody asks", () => {
    const [from, to] = [
      'adjustment: vapour-barrier coverall with hood',
      'adjustment: limited-use vapour-barrier coverall',
    ];
    const file = 'procedures/powered-coverall.yaml';
    const [problem, ...others] = problemsOf(spoiled(file, from, to));
    expect(problem).toMatchObject({ code: 'unit/unknown-adjustment', line: lineOf(file, from) });
    expect(problem?.sentence).toContain('ISO 7243:2017');
    expect(others).toEqual([]);
    const folder = copy();
    spoil(folder, file, from, to);
    const unit = readFileSync(join(folder, 'unit.yaml'), 'utf8');
    writeFileSync(join(folder, 'unit.yaml'), unit.replace(/^heat:\n( .*\n)+/m, ''));
    expect(problemsOf(loadFrom(folder))).toEqual([]);
  });

  it('a date still to come: a slip in the year would let somebody in for years', () => {
    const problems = problemsOf(spoiled('unit.yaml', 'fitTest: { daysAgo: 120 }', 'fitTest: { on: 2062-01-15 }'));
    expect(problems.map((one) => [one.code, one.line])).toEqual([
      ['unit/date-in-future', lineOf('unit.yaml', 'fitTest: { daysAgo: 120 }')],
    ]);
    expect(spoiled('unit.yaml', 'fitTest: { daysAgo: 120 }', `fitTest: { on: ${openedOn} }`).ok).toBe(true);
  });

  it.each([
    ['worker', 'worker'],
    ['observer', 'observer'],
    ['coordinator', 'coordinator'],
    ['safety-officer', 'safety-officer'],
    ['assistant', 'assistant'],
  ])('nobody with the role %s', (role) => {
    const folder = copy();
    const file = join(folder, 'unit.yaml');
    const withoutRole = (roles: string) =>
      roles
        .split(', ')
        .filter((one) => one !== role)
        .join(', ') || 'lead';
    const text = readFileSync(file, 'utf8').replace(
      /roles: \[(.*)\]/g,
      (_, roles: string) => `roles: [${withoutRole(roles)}]`,
    );
    writeFileSync(file, text);
    const problems = problemsOf(loadFrom(folder));
    expect(problems.map((one) => one.code)).toEqual(['unit/role-missing']);
    expect(problems[0]?.sentence).toContain(`"${role}"`);
    expect(problems[0]?.line).toBe(lineOf('unit.yaml', 'people:'));
  });

  it('no assistant is needed where no procedure asks for one', () => {
    const folder = copy();
    const file = join(folder, 'unit.yaml');
    const text = readFileSync(file, 'utf8');
    writeFileSync(
      file,
      text
        .replaceAll(', assistant]', ']')
        .replace('  - procedures/powered-coverall.yaml\n', '')
        .replaceAll(/^ +powered-coverall: .*\n/gm, ''),
    );
    expect(problemsOf(loadFrom(folder))).toEqual([]);
  });

  const procedureCases: [string, string, string, string][] = [
    ['procedure/unknown-step', 'after: [seal-check, gown-on]', 'after: [seal-chek, gown-on]', 'id: hood-on'],
    [
      'procedure/cycle',
      'after: [stop-word, look-over-kit]',
      'after: [look-over-kit, inner-gloves-on]',
      'id: rub-hands-first',
    ],
    ['procedure/later-phase', 'after: [exit-look]', 'after: [arrive-look]', 'id: exit-wipe'],
    ['procedure/duplicate-step', '- id: hood-on', '- id: gown-on', '- id: hood-on'],
    ['procedure/never-removed', 'takesOff: [apron]', 'takesOff: []', 'steps:'],
    ['procedure/unknown-item', 'putsOn: [apron]', 'putsOn: [aprn]', 'id: apron-on'],
    [
      'procedure/unknown-item',
      'touches: [boot-covers, shoes]',
      'touches: [boots, shoes]',
      'touches: [boot-covers, shoes]',
    ],
    ['procedure/duplicate-point', 'id: kit-hood', 'id: kit-gown', 'steps:'],
    ['procedure/duplicate-item', 'id: hood, name', 'id: gown, name', 'steps:'],
    ['procedure/no-assistant', 'after: [slow-down]', 'by: assistant\n    after: [slow-down]', 'id: arrive-look'],
    [
      'unit/too-long-to-say',
      'whenWrong: Undo it and tie it again.',
      `whenWrong: ${'again '.repeat(90)}`,
      'whenWrong: Undo it',
    ],
  ];
  it.each(procedureCases)('%s: %s', (code, from, to, at) => {
    const problems = problemsOf(spoiled(gownFile, from, to));
    expect(problems.map((one) => [one.code, one.line])).toContainEqual([code, lineOf(gownFile, at)]);
    expect(problems.every((one) => one.file.endsWith(gownFile))).toBe(true);
  });

  it('breach steps that would not fit into an alert', () => {
    const from = 'Step back from the patient and touch nothing.';
    const problems = problemsOf(spoiled('unit.yaml', from, 'Step back. '.repeat(40)));
    expect(problems.map((one) => [one.code, one.line])).toEqual([
      ['unit/too-long-to-say', lineOf('unit.yaml', from) - 1],
    ]);
  });
});
