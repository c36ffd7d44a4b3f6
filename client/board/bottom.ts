/** Height of what stands below the floor, in root units, so that the floor knows what is left before anything is drawn. */
export const besideFrom = 69;
export const hourShare = 0.62;
export const lineHeight = 1.9;
const head = 2;
/** On a desk there is something to press in the headings. */
const pressedHead = 2.75;
const axis = 1.4;
/** What the forecast says, on a line of its own. */
export const aheadHeight = 1.8;
const pad = 0.6;
export const observerHeight = 2.6;
export const observerLeast = 9;
const gap = 0.4;

export interface BottomContent {
  lines: number;
  observers: number;
  /** Whether a line with those off duty follows. */
  off: boolean;
  wall: boolean;
}

export function bottomHeight(content: BottomContent, width: number): number {
  const hour = hourHeight(content);
  const beside = width >= besideFrom;
  const observers = observersHeight(content, beside ? width * (1 - hourShare) : width);
  return beside ? Math.max(hour, observers) : hour + observers;
}

const hourHeight = ({ lines, wall }: BottomContent): number =>
  (wall ? head : pressedHead) + aheadHeight + axis + lines * lineHeight + pad;

function observersHeight({ observers, off, wall }: BottomContent, width: number): number {
  const columns = Math.max(1, Math.floor((width - 2 * pad + gap) / (observerLeast + gap)));
  const rows = Math.ceil(observers / columns);
  return (wall ? head : pressedHead) + rows * (observerHeight + gap) + (off ? 1.6 : 0) + pad;
}
