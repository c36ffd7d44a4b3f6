import { z } from 'zod';

/**
 * Text sized for the eye that reads it. A figure must subtend 20 minutes of arc (published ergonomics guidance for display
 * characters prefers 20 to 22 and allows no less than 16; ISO 9241-303, from memory): height = distance × tan(20′), which is
 * 5.8 mm per metre. Everything on the board is drawn in units of the root size, so this one number sizes all of it.
 */
export const readingMetres = [1, 3, 5, 8] as const;
export type ReadingMetres = (typeof readingMetres)[number];

export interface Reading {
  metres: ReadingMetres;
  /** Width of the picture on the glass, measured with a tape. Without it a pixel counts as 1/96 inch, as in CSS. */
  pictureCm?: number;
}

export const figureArcMinutes = 20;
/** Height of the lowest digit of the figures' face (B612 bold), as a share of its type size; measured from the font. */
export const digitHeight = 0.75;
/** Type size of the minutes, in root units. Kept in step with --figure in BoardPage.svelte. */
export const figureRem = 1.84;
export const rootPxLeast = 16;
const mmPerPxNominal = 25.4 / 96;

/** Height of a digit on the glass, in millimetres. */
export const figureMm = (metres: number): number => metres * 1000 * Math.tan((figureArcMinutes / 60) * (Math.PI / 180));

/** @param viewportPx width of the page in CSS pixels, which the picture's width is spread over */
export function rootPx(reading: Reading, viewportPx: number): number {
  const mmPerPx = reading.pictureCm ? (reading.pictureCm * 10) / Math.max(1, viewportPx) : mmPerPxNominal;
  const typePx = figureMm(reading.metres) / mmPerPx / digitHeight;
  return Math.max(rootPxLeast, Math.round((typePx / figureRem) * 10) / 10);
}

const kept = z.object({
  metres: z.literal([...readingMetres]),
  pictureCm: z.number().min(5).max(2000).optional(),
});

/** A wall picture of 43 inch across its diagonal is 95 cm wide: the smallest that is usual. A desk screen is as CSS says. */
export const defaultReading = (wall: boolean): Reading => (wall ? { metres: 3, pictureCm: 95 } : { metres: 1 });

/** What was set on this screen before; `?distance=5&picture=121` in the address sets a wall that nobody can press. */
export function readReading(stored: string | null, search: URLSearchParams, wall: boolean): Reading {
  const before = parse(stored) ?? defaultReading(wall);
  const picture = search.get('picture');
  const asked = kept.safeParse({
    metres: search.has('distance') ? Number(search.get('distance')) : before.metres,
    pictureCm: picture ? Number(picture) : before.pictureCm,
  });
  return asked.success ? asked.data : before;
}

function parse(stored: string | null): Reading | undefined {
  if (stored === null) return undefined;
  try {
    const read = kept.safeParse(JSON.parse(stored));
    return read.success ? read.data : undefined;
  } catch {
    return undefined;
  }
}
