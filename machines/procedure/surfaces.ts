/**
 * What contamination can sit on without being worn: the body under the equipment, the place where the equipment comes off, and
 * the gloves of those who help. Pieces of the ensemble add their own surfaces: an outside, an inside, and named parts.
 */
export const bodySurfaces = ['hands', 'eyes', 'mouth', 'head', 'scrubs', 'legs', 'shoes'] as const;
export const placeSurfaces = ['floor', 'clean-floor', 'chair', 'dirty-chair', 'pad'] as const;
export const helperSurfaces = ['assistant-gloves', 'observer-gloves'] as const;

/** Contamination that reaches one of these at any moment ends the proof. */
export const mustStayClean: readonly string[] = ['eyes', 'mouth', 'head', 'scrubs', 'chair', 'clean-floor'];
/** These join them in the room. Before it there is only everyday dirt, which hands and trouser legs may have on them. */
export const mustStayCleanAfterRoom: readonly string[] = ['hands', 'legs'];

const words: Readonly<Record<string, string>> = {
  hands: 'the skin of the hands',
  eyes: 'the eyes',
  mouth: 'nose and mouth',
  head: 'the skin of head and neck',
  scrubs: 'the scrubs',
  legs: 'the trouser legs and ankles',
  shoes: 'the shoes',
  floor: 'the floor of the lane',
  'clean-floor': 'the clean floor',
  chair: 'the clean chair',
  'dirty-chair': 'the dirty chair',
  pad: 'the pad at the door',
  'assistant-gloves': "the assistant's gloves",
  'observer-gloves': "the observer's gloves",
  kit: 'the new piece of kit',
};

/** A surface as it is said: `gown` is its outside, `gown inside` and `gown ties` name the place on it. */
export function surfaceWords(name: string): string {
  const known = words[name];
  if (known) return known;
  const [item = '', part = 'outside'] = name.split(' ');
  return `the ${item.replaceAll('-', ' ')} (${part.replaceAll('-', ' ')})`;
}
