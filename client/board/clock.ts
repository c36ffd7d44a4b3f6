import type { Limit } from '../../machines/worker/worker-machine.ts';

/**
 * Times as the board writes them. Every figure is a difference of two server times; nothing here counts, so a page that slept
 * for an hour is right again with its next tick.
 */
export const minuteMs = 60_000;

/** Whole minutes gone by: 62 min 59 s is still 62. */
export const minutesSince = (since: number, now: number): number => Math.max(0, Math.floor((now - since) / minuteMs));

/** Whole minutes to go: while a second is left, it is not 0. */
export const minutesUntil = (until: number, now: number): number => Math.max(0, Math.ceil((until - now) / minuteMs));

/** Minutes and seconds, for the sheet, where there is time to read them. */
export function minutesAndSeconds(from: number, to: number): string {
  const seconds = Math.max(0, Math.floor((to - from) / 1000));
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, '0')}`;
}

const formats = new Map<string, Intl.DateTimeFormat>();

/** Time of day, 00:00 to 23:59, in the screen's own zone unless another is named. */
export function wallClock(at: number, timeZone?: string): string {
  const key = timeZone ?? '';
  const known = formats.get(key);
  const format =
    known ?? new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit', hourCycle: 'h23', timeZone });
  formats.set(key, format);
  return format.format(at);
}

/** The bar of somebody in equipment, each as a share of the limit (0 to 1). It moves by whole minutes, like the figure. */
export interface LimitBar {
  worn: number;
  callOut: number;
  /** Whole minutes past the limit. */
  over: number;
}

export function limitBar(donnedAt: number, limit: Limit, now: number): LimitBar {
  const whole = limit.limitAt - donnedAt;
  const share = (ms: number) => (whole > 0 ? Math.min(1, Math.max(0, ms / whole)) : 1);
  return {
    worn: share(minutesSince(donnedAt, now) * minuteMs),
    callOut: share(limit.callOutAt - donnedAt),
    over: minutesSince(limit.limitAt, now),
  };
}
