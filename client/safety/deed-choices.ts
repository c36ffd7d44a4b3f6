import type { UnitRules } from '../../machines/unit/state.ts';
import { words } from '../words/words.ts';
import type { Deed } from './deeds.ts';

/** What has to be chosen before a deed can be sent: one of the steps open now, or what kind of breach it was. */
export interface DeedChoice {
  id: string;
  name: string;
  remark: string;
}

export function choicesOf(deed: Deed, rules: UnitRules): DeedChoice[] {
  if (deed.kind === 'override-step')
    return deed.steps.map(({ id, words: name, critical }) => ({
      id,
      name,
      remark: critical ? words.safety.critical : '',
    }));
  if (deed.kind === 'declare-breach')
    return rules.breaches.map((rule) => ({
      id: rule.kind,
      name: rule.name,
      remark: words.safety.happened.breachClass[rule.class] ?? '',
    }));
  return [];
}
