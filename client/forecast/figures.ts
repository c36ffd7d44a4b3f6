import { words } from '../words/words.ts';

/**
 * Figures as a person reads them: chances to five points, waits to whole minutes. What is closer than that is chance, and a figure
 * that flickers is believed less than one that stands.
 */
const step = 5;

export function aboutPercent(chance: number): string {
  const { forecast } = words;
  const points = Math.round((chance * 100) / step) * step;
  if (points < step) return forecast.under(step);
  return points > 100 - step ? forecast.over(100 - step) : forecast.about(points);
}

/** The same without "about": where two stand beside each other. */
export function percent(chance: number): string {
  const points = Math.round((chance * 100) / step) * step;
  if (points < step) return `<${step} %`;
  return points > 100 - step ? `>${100 - step} %` : `${points} %`;
}

export const wholeMinutes = (minutes: number): number => Math.max(0, Math.round(minutes));

/** Sampling error in whole points, rounded up: it is never said to be smaller than it is. */
export const errorPoints = (halfWidth: number): number => Math.max(1, Math.ceil(halfWidth * 100 - 1e-9));

/** Of a hundred exits, how many do not wait longer than what is told. */
export const ofHundred = (quantile: number): number => Math.round(quantile * 100);
