import type { Procedure } from './procedure.ts';
import { assumptionNames, type AssumptionName } from './proof-fields.ts';

/**
 * What a proof may rest on beyond the steps. Nothing is assumed in silence: an assumption holds only where the procedure file or
 * the person who asks for the proof says so, and every proof lists those it needs.
 */
export type Assumptions = Readonly<Record<AssumptionName, boolean>>;

/** What each says when it holds, in words for an infection-prevention nurse. */
export const assumptionWords: Readonly<Record<AssumptionName, string>> = {
  'barriers-hold':
    'Nothing that is worn tears or leaks in the room: what it covers stays clean there. A tear that is seen is a breach.',
  'kit-starts-clean': 'Every piece is clean inside and outside when it is put on.',
  'lane-starts-clean':
    'The clean chair and the clean floor are clean when the worker arrives: the observer has confirmed it before.',
  'steps-done-as-read':
    'Within one step the hands touch what the step names and nothing else, and what is rolled inside out or lifted away brushes nothing. A slip is a deviation.',
  'rear-straps-clean':
    'Straps, ties and edges behind head and back count as clean for a gloved hand after the stay in the room, unless they were splashed.',
  'covered-parts-clean':
    'A part that another part of the same piece covers, such as a zip under its flap, is still clean when it is opened.',
  'glove-peel-clean':
    'A glove peeled off inside out never lets its outside touch what is below, even when that outside is contaminated.',
  'disinfected-gloves-near-face':
    'Gloves that were contaminated and then disinfected are good enough close to eyes, nose and mouth.',
};

/** @param said on the command line or on the screen; it comes before what the file says */
export function assumptionsOf(procedure: Procedure, said: Partial<Record<AssumptionName, boolean>> = {}): Assumptions {
  const inFile = procedure.assumptions ?? {};
  const held = assumptionNames.map((name) => [name, said[name] ?? inFile[name] ?? false]);
  return Object.fromEntries(held) as Assumptions;
}
