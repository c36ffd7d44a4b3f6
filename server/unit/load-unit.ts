import { realpathSync } from 'node:fs';
import { dirname, join, relative, resolve, sep } from 'node:path';
import { z } from 'zod';
import { spokenMax } from '../../machines/procedure/adoption.ts';
import { bareSurfaces, procedureProblems } from '../../machines/procedure/order.ts';
import { procedure as procedureSchema, type Procedure } from '../../machines/procedure/procedure.ts';
import { unitSettings, type Person, type PersonRole, type UnitSettings } from '../../machines/unit/settings.ts';
import type { FactData } from '../../machines/wire/fact.ts';
import type { PersonId } from '../../machines/wire/ids.ts';
import { adjustmentSets, findEnsemble } from '../heat/clothing.ts';
import { readText } from './read-text.ts';
import { checkShape, parseYaml, type FileProblem, type Outcome, type Path, type YamlText } from './yaml-text.ts';

/**
 * A unit from its files: unit.yaml and the procedures it names. Everything that could strand a worker, or let somebody in who
 * should not be, is refused here, before the unit opens; a file with a problem opens nothing.
 */
export interface LoadedUnit {
  settings: UnitSettings;
  procedures: Procedure[];
  /** For screens only: facts name people by id. */
  names: Record<PersonId, string>;
  opening: FactData<'unit-opened'>;
}

export type LoadOutcome = { ok: true; unit: LoadedUnit } | { ok: false; problems: FileProblem[] };

interface Loaded<Value> {
  yaml: YamlText;
  value: Value;
}

/**
 * @param path of unit.yaml; the procedure files it names lie in the same folder or below it
 * @param openedOn the day from which `daysAgo` counts back, as YYYY-MM-DD
 */
export function loadUnit(path: string, { openedOn }: { openedOn: string }): LoadOutcome {
  if (!z.iso.date().safeParse(openedOn).success)
    throw new Error(`openedOn must be a day as YYYY-MM-DD, not "${openedOn}"`);
  const unit = load(path, unitSettings);
  if (!unit.ok) return unit;
  const { yaml, value: settings } = unit.value;

  const files = settings.procedures.map((named, index) => loadProcedure(yaml, path, named, index));
  const loaded = files.flatMap((file) => (file.ok ? [file.value] : []));
  const procedures = loaded.map((one) => one.value);
  const problems = [
    ...unitProblems(yaml, settings, openedOn),
    ...files.flatMap((file) => (file.ok ? [] : file.problems)),
    // A procedure that could not be read would look like an unknown one: first things first.
    ...(loaded.length === files.length ? crossProblems(yaml, settings, procedures) : []),
    ...loaded.flatMap(allProcedureProblems),
    ...loaded.flatMap((one) => adjustmentProblems(settings, one)),
  ];
  if (problems.length > 0) return { ok: false, problems };
  return { ok: true, unit: openUnit(settings, procedures, openedOn) };
}

/** What the log starts with: rules and roster without names, with every date resolved. Pure. */
export function openUnit(settings: UnitSettings, procedures: Procedure[], openedOn: string): LoadedUnit {
  const { people, procedures: _files, forecast: _forecast, ...rules } = settings;
  const names = Object.fromEntries(people.map(({ id, name }) => [id, name])) as Record<PersonId, string>;
  return {
    settings,
    procedures,
    names,
    opening: { rules, roster: people.map((one) => rosterEntry(one, openedOn)), procedures },
  };
}

function rosterEntry(
  { id, roles, fitTest, competency }: Person,
  openedOn: string,
): FactData<'unit-opened'>['roster'][number] {
  const competencyOn = Object.fromEntries(
    Object.entries(competency).flatMap(([procedure, day]) => (day ? [[procedure, dayOf(day, openedOn)]] : [])),
  );
  return { id, roles, ...(fitTest && { fitTestOn: dayOf(fitTest, openedOn) }), competencyOn };
}

/** A day as YYYY-MM-DD, counted back from the opening where the file says `daysAgo`. */
export function dayOf(day: NonNullable<Person['fitTest']>, openedOn: string): string {
  if ('on' in day) return day.on;
  const date = new Date(`${openedOn}T00:00:00Z`);
  date.setUTCDate(date.getUTCDate() - day.daysAgo);
  return date.toISOString().slice(0, 10);
}

// ---- files ----

function load(file: string, schema: typeof unitSettings): Outcome<Loaded<UnitSettings>>;
function load(file: string, schema: typeof procedureSchema): Outcome<Loaded<Procedure>>;
function load(
  file: string,
  schema: typeof unitSettings | typeof procedureSchema,
): Outcome<Loaded<UnitSettings | Procedure>> {
  const text = readText(file);
  if (!text.ok) return text;
  const yaml = parseYaml(file, text.value);
  if (!yaml.ok) return yaml;
  const shape = checkShape<typeof unitSettings | typeof procedureSchema>(yaml.value, schema);
  return shape.ok ? { ok: true, value: { yaml: yaml.value, value: shape.value } } : shape;
}

function loadProcedure(unit: YamlText, unitFile: string, named: string, index: number): Outcome<Loaded<Procedure>> {
  const folder = dirname(unitFile);
  const file = join(folder, named);
  if (!isInside(resolve(folder), resolve(folder, named)) || !isInside(realPath(folder), realPath(file))) {
    const sentence = `"${named}" lies outside the folder of the unit file. Put the procedure beside it or below it.`;
    return { ok: false, problems: [unit.problem(['procedures', index], 'unit/outside-folder', sentence)] };
  }
  return load(file, procedureSchema);
}

function isInside(folder: string, file: string): boolean {
  const way = relative(folder, file);
  return way !== '' && way !== '..' && !way.startsWith(`..${sep}`) && resolve(folder, way) === file;
}

/** Follows links, so that a link can't lead out of the folder; what isn't there is reported when it is read. */
function realPath(path: string): string {
  try {
    return realpathSync(path);
  } catch {
    return join(realpathSync(dirname(path)), path.slice(dirname(path).length + 1));
  }
}

// ---- what a shape cannot say ----

function unitProblems(yaml: YamlText, settings: UnitSettings, openedOn: string): FileProblem[] {
  const { rooms, lanes, people, breaches } = settings;
  const ids = (list: readonly { id: string }[]) => list.map((one) => one.id);
  const names = (list: readonly { name: string }[]) => list.map((one) => one.name);
  return [
    ...repeated(yaml, 'rooms', 'id', ids(rooms)),
    ...repeated(yaml, 'lanes', 'id', ids(lanes)),
    ...repeated(yaml, 'people', 'id', ids(people)),
    ...repeated(
      yaml,
      'breaches',
      'kind',
      breaches.map((one) => one.kind),
    ),
    ...repeated(yaml, 'rooms', 'name', names(rooms)),
    ...repeated(yaml, 'lanes', 'name', names(lanes)),
    ...repeated(yaml, 'people', 'name', names(people)),
    ...futureDates(yaml, people, openedOn),
    ...breaches.flatMap((breach, index) => tooLong(yaml, ['breaches', index, 'now'], breach.now.join(' '))),
  ];
}

/** Two of the same id would be one to the rules; two of the same name would be one to whoever reads the board. */
function repeated(yaml: YamlText, list: string, key: 'id' | 'kind' | 'name', values: readonly string[]): FileProblem[] {
  const code = key === 'name' ? 'unit/same-name' : 'unit/duplicate-id';
  return values.flatMap((value, index) =>
    values.indexOf(value) === index
      ? []
      : [
          yaml.problem(
            [list, index, key],
            code,
            `${list}: "${value}" is there already. Every ${key} must be different.`,
          ),
        ],
  );
}

/** A date that is still to come is a slip of the pen that would let somebody in for years. */
function futureDates(yaml: YamlText, people: readonly Person[], openedOn: string): FileProblem[] {
  return people.flatMap((one, index) => {
    const fitTest: [Path, Person['fitTest']] = [['people', index, 'fitTest'], one.fitTest];
    const competency = Object.entries(one.competency).map(([procedure, day]): [Path, Person['fitTest']] => [
      ['people', index, 'competency', procedure],
      day,
    ]);
    return [fitTest, ...competency].flatMap(([path, day]) => {
      const date = day && dayOf(day, openedOn);
      if (!date || date <= openedOn) return [];
      return [
        yaml.problem(
          path,
          'unit/date-in-future',
          `${yaml.words(path)}: ${date} is after the day of opening, ${openedOn}.`,
        ),
      ];
    });
  });
}

function crossProblems(yaml: YamlText, { people }: UnitSettings, procedures: readonly Procedure[]): FileProblem[] {
  const known = procedures.map((one) => one.id as string);
  const twice = known.flatMap((id, index) =>
    known.indexOf(id) === index
      ? []
      : [
          yaml.problem(
            ['procedures', index],
            'unit/duplicate-id',
            `procedures: two files hold a procedure called "${id}".`,
          ),
        ],
  );
  const unknown = people.flatMap(({ id, competency }, index) =>
    Object.keys(competency)
      .filter((one) => !known.includes(one))
      .map((one) => {
        const sentence = `people, ${id}: competency names "${one}", and no procedure here is called that.`;
        return yaml.problem(['people', index, 'competency', one], 'unit/unknown-procedure', sentence);
      }),
  );
  return [...twice, ...unknown, ...missingRoles(yaml, people, procedures)];
}

function missingRoles(yaml: YamlText, people: readonly Person[], procedures: readonly Procedure[]): FileProblem[] {
  const assistant: PersonRole[] = procedures.some((one) => one.doffingAssistant) ? ['assistant'] : [];
  const needed: PersonRole[] = ['worker', 'observer', 'coordinator', 'safety-officer', ...assistant];
  return needed
    .filter((role) => !people.some((one) => one.roles.includes(role)))
    .map((role) =>
      yaml.problem(['people'], 'unit/role-missing', `people: nobody has the role "${role}", and the unit needs one.`),
    );
}

function allProcedureProblems({ yaml, value: procedure }: Loaded<Procedure>): FileProblem[] {
  const lastOf = (id: string) => procedure.steps.findLastIndex((step) => step.id === id);
  const structural = procedureProblems(procedure).map(({ step, code, sentence }) =>
    yaml.problem(step === undefined ? ['steps'] : ['steps', lastOf(step), 'id'], code, sentence),
  );
  const items = new Set<string>([...procedure.ensemble.items.map((item) => item.id), ...bareSurfaces]);
  const touches = procedure.steps.flatMap((step, index) =>
    step.touches
      .filter((touched) => !items.has(touched))
      .map((touched) => {
        const sentence = `Step "${step.id}" touches "${touched}", which is neither in the ensemble nor a surface.`;
        return yaml.problem(['steps', index, 'touches'], 'procedure/unknown-item', sentence);
      }),
  );
  const spoken = procedure.steps.flatMap((step, index) =>
    tooLong(yaml, ['steps', index, 'whenWrong'], step.whenWrong ?? ''),
  );
  return [...structural, ...touches, ...spoken];
}

/** A clothing adjustment that the unit's table does not have would silently add nothing to the screening. */
function adjustmentProblems({ heat }: UnitSettings, { yaml, value: procedure }: Loaded<Procedure>): FileProblem[] {
  const named = procedure.heat?.adjustment;
  if (!heat || named === undefined) return [];
  const table = adjustmentSets[heat.screening];
  if (findEnsemble(table, named)) return [];
  const known = table.ensembles.map((one) => one.id).join(', ');
  const sentence = `heat, adjustment: "${named}" is not in ${table.name}, which this unit screens by. It has: ${known}.`;
  return [yaml.problem(['heat', 'adjustment'], 'unit/unknown-adjustment', sentence)];
}

function tooLong(yaml: YamlText, path: Path, words: string): FileProblem[] {
  if (words.length <= spokenMax) return [];
  const sentence = `${yaml.words(path)}: ${words.length} characters are too long to be read out in an alert; ${spokenMax} fit.`;
  return [yaml.problem(path, 'unit/too-long-to-say', sentence)];
}
