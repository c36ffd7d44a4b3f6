import { minuteMs } from './clock.ts';

/** The window of the next hour, or of some: it starts with the whole minute, so that it moves once a minute and not every second. */
export interface HourWindow {
  from: number;
  to: number;
}

export function hourWindow(now: number, hours = 1): HourWindow {
  const from = Math.floor(now / minuteMs) * minuteMs;
  return { from, to: from + hours * 60 * minuteMs };
}

/** Where a time lies in the window, 0 to 1; undefined when it is outside. */
export function shareOf(window: HourWindow, at: number): number | undefined {
  const share = (at - window.from) / (window.to - window.from);
  return share >= 0 && share <= 1 ? share : undefined;
}

/** The part of a span that is inside the window, as start and length; undefined when there is none. */
export function partOf(window: HourWindow, from: number, to: number): { start: number; length: number } | undefined {
  const first = Math.max(from, window.from);
  const last = Math.min(to, window.to);
  if (last <= first) return undefined;
  const whole = window.to - window.from;
  return { start: (first - window.from) / whole, length: (last - first) / whole };
}

/** Marks of the axis: the full ten minutes of the clock inside an hour, fewer where there are more hours. */
export function tenMinuteMarks(window: HourWindow): number[] {
  const hours = (window.to - window.from) / (60 * minuteMs);
  const step = (hours <= 1 ? 10 : hours <= 2 ? 20 : 30) * minuteMs;
  const marks: number[] = [];
  for (let at = Math.ceil(window.from / step) * step; at <= window.to; at += step) marks.push(at);
  return marks;
}
