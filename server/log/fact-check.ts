import { fact as factSchema, factKinds, type Fact } from '../../machines/wire/fact.ts';

/**
 * Is this value, read from a file or a database, a fact? The answer is the value itself, not what the schema makes of it:
 * the schema trims and fills in defaults, and then the hash would no longer be the hash of what was written.
 */
export type FactCheck = { ok: true; fact: Fact } | { ok: false; reason: string };

export function checkFact(value: unknown): FactCheck {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) return no('it is not a JSON object');
  const { kind } = value as { kind?: unknown };
  if (!factKinds.some((known) => known === kind)) return no(`${quote(kind)} is not a known kind of fact`);
  const parsed = factSchema.safeParse(value);
  if (parsed.success) return { ok: true, fact: value as Fact };
  const issue = parsed.error.issues[0];
  const where = issue?.path.join('.');
  return no(`it is not a valid ${String(kind)}: ${where ? `${where}: ` : ''}${issue?.message ?? 'unknown problem'}`);
}

const no = (reason: string): FactCheck => ({ ok: false, reason });

const quote = (kind: unknown) => (typeof kind === 'string' ? `"${kind.slice(0, 60)}"` : 'a missing kind');
