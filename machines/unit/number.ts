import type { DraftFact, NumberedFact } from '../wire/fact.ts';
import { factVersion } from '../wire/fact.ts';
import { fold } from './fold.ts';
import type { UnitState } from './state.ts';

/** Facts being gathered, each folded in before the next is decided, so that a decision always sees what came just before. */
export interface Gathering {
  state: UnitState;
  facts: NumberedFact[];
}

export const nextNumber = (state: UnitState): number => state.number + 1;

export function add(gathering: Gathering, draft: DraftFact): Gathering {
  const fact = {
    ...draft,
    v: factVersion,
    unit: gathering.state.unit,
    number: nextNumber(gathering.state),
  } as NumberedFact;
  return { state: fold(gathering.state, fact), facts: [...gathering.facts, fact] };
}
