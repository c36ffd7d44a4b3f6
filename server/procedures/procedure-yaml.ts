import { stringify } from 'yaml';
import { identityOf } from '../../machines/procedure/identity.ts';
import {
  procedure as procedureSchema,
  step as stepSchema,
  type Procedure,
  type Step,
} from '../../machines/procedure/procedure.ts';

/**
 * A version as the text that people edit and keep: what the schema would fill in anyway is left out. Reading the text gives the very
 * same version again; comments of the file it once came from are not in the log and so not here.
 */
export function procedureYaml(procedure: Procedure): string {
  const { steps, ...rest } = procedure;
  const heading = [
    `# ${procedure.title}: ${procedure.id}, version ${procedure.version}, mark ${identityOf(procedure)}`,
    '# An aid, not a medical device. An infection-prevention team goes through every step before anybody relies on it.',
  ];
  const text = stringify(
    { ...inOrder(rest), steps: steps.map(stepText) },
    { lineWidth: 120, aliasDuplicateObjects: false },
  );
  return `${heading.map((line) => line.replaceAll(/[\r\n\u2028\u2029]+/g, ' ')).join('\n')}\n${text}`;
}

/** Fields in the order the format describes them, whatever order they came in. */
function inOrder(value: object): Record<string, unknown> {
  const known = Object.keys(procedureSchema.shape);
  return Object.fromEntries(Object.entries(value).sort(([one], [other]) => known.indexOf(one) - known.indexOf(other)));
}

const usual: Readonly<Partial<Record<keyof Step, unknown>>> = {
  by: 'worker',
  verifiedBy: 'observer',
  critical: false,
};

function stepText(step: Step): Record<string, unknown> {
  const known = Object.keys(stepSchema.shape);
  return Object.fromEntries(
    Object.entries(step)
      .filter(([key, value]) => usual[key as keyof Step] !== value && !isFilledIn(key, value))
      .sort(([one], [other]) => known.indexOf(one) - known.indexOf(other)),
  );
}

/** Lists that the schema fills in when they are missing. */
const filledIn = ['after', 'putsOn', 'takesOff', 'touches', 'uses'];
const isFilledIn = (key: string, value: unknown): boolean =>
  filledIn.includes(key) && Array.isArray(value) && value.length === 0;
