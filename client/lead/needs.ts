import type { Procedure, Step } from '../../machines/procedure/procedure.ts';
import { words } from '../words/words.ts';

/** What one step needs and does, each as a short phrase in the order in which it is asked. */
export function needsOf({ ensemble }: Procedure, step: Step): string[] {
  const text = words.lead.needs;
  const named = (items: readonly string[]) =>
    items.map((id) => ensemble.items.find((item) => item.id === id)?.name ?? id.replaceAll('-', ' ')).join(', ');
  const { after, by, verifiedBy, putsOn, takesOff, hygiene, goesTo } = step;
  return [
    after.length === 0 ? text.first : text.after(after.join(', ')),
    ...(by === 'worker' ? [] : [text.by[by]]),
    ...(verifiedBy === 'observer' ? [] : [text.verifiedBy[verifiedBy]]),
    ...(putsOn.length > 0 ? [text.putsOn(named(putsOn))] : []),
    ...(takesOff.length > 0 ? [text.takesOff(named(takesOff))] : []),
    ...(hygiene ? [text.hygiene(hygiene.agent, hygiene.contactSeconds, named(hygiene.covers))] : []),
    ...(goesTo === undefined ? [] : [text.goesTo(goesTo)]),
  ];
}
