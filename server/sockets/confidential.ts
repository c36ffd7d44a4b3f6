import type { Fact } from '../../machines/wire/fact.ts';
import type { Missing } from '../../machines/wire/messages.ts';
import type { Role } from '../../machines/wire/rights.ts';

/** Vital values and findings are the safety officer's; everybody else gets the facts without them, and the same hash chain. */
export const seesConfidential = (role: Role): boolean => role === 'safety-officer';

export function openPart(facts: readonly Fact[]): Fact[] {
  return facts.map(({ confidential: _withheld, ...open }) => open as Fact);
}

export function missingFor(role: Role, missing: Missing): Missing {
  return 'facts' in missing && !seesConfidential(role) ? { ...missing, facts: openPart(missing.facts) } : missing;
}
